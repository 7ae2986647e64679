package ingest

import (
	"errors"
	"strings"

	"heaterd/ingest/mqtt"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// message decodes one message into the batch.
func (in *Ingest) message(m mqtt.Message) {
	in.stats.messages.Add(1)
	if m.Duplicate {
		in.stats.duplicates.Add(1)
	}
	in.batch.acks = append(in.batch.acks, m.Ack)
	l, err := in.opts.Decoder.Decode(m.Topic, m.Payload, m.Arrived)
	if err != nil {
		in.refuse(m, l, err)
		return
	}
	if l.Answer == nil && !in.listed(l.Node()) {
		in.strange(m, l.Node())
		return
	}
	if in.opts.Elsewhere != nil && in.opts.Elsewhere(m.Topic, l.Node()) {
		in.astray(m, l.Node())
		return
	}
	if ok, note := in.budgets.spend(payer(l), m.Arrived); !ok {
		in.overspent(m, l.Node(), note)
		return
	}
	l.At, l.Retained = m.Arrived, m.Retained
	if l.Pack != nil {
		in.stats.samples.Add(int64(len(l.Pack.Samples)))
		in.stats.ignored.Add(int64(l.Pack.Ignored))
		in.spoilt(m, l.Pack)
	}
	in.add(l)
}

// answering has the budget of what people answer: no node's name, so that no
// flood of anything else keeps an acknowledgement out.
const answering = reading.NodeID("/answers")

func payer(l record.Line) reading.NodeID {
	if l.Answer != nil {
		return answering
	}
	return l.Node()
}

// spoilt counts a message of which a value could not be taken, and keeps the
// first of a node's in the hour in the quarantine: a probe that came off sends
// nonsense with every message.
func (in *Ingest) spoilt(m mqtt.Message, p *reading.Pack) {
	if p.Spoilt == nil {
		return
	}
	in.stats.refuse(p.Spoilt.Reason)
	if !in.spoils.note(p.Node, m.Arrived) {
		return
	}
	why := refusedFor(p.Node, p.Spoilt)
	why.Topic = strings.ToValidUTF8(m.Topic, "\uFFFD")
	why.Detail += "; the rest of the message was taken"
	in.batch.Quarantined = append(in.batch.Quarantined, store.Quarantined{At: m.Arrived, Refused: why, Payload: m.Payload})
}

// refuse counts a message that cannot be read and keeps it in the quarantine.
// What names no node, or none that is listed, shares one budget.
func (in *Ingest) refuse(m mqtt.Message, l record.Line, err error) {
	why := refusedFor(l.Node(), err)
	by := why.Node
	if !in.listed(by) {
		by = ""
	}
	if ok, note := in.budgets.spend(by, m.Arrived); !ok {
		in.overspent(m, why.Node, note)
		return
	}
	in.stats.refuse(why.Reason)
	in.quarantine(m, why)
}

func refusedFor(node reading.NodeID, err error) record.Refused {
	why := record.Refused{Node: node, Reason: reading.BadSyntax, Detail: err.Error()}
	if r, ok := errors.AsType[*reading.Refusal](err); ok {
		why.Reason, why.Detail = r.Reason, strings.TrimPrefix(r.Error(), string(r.Reason))
		why.Detail = strings.TrimLeft(why.Detail, ": ")
	}
	why.Detail = strings.ToValidUTF8(why.Detail, "\uFFFD")
	return why
}

func (in *Ingest) listed(id reading.NodeID) bool { return in.opts.Listed == nil || in.opts.Listed(id) }

// strange refuses a message of a node that is not listed. The first of the
// hour is written down, for a person who wants to add the node, until there
// are too many such nodes: names can be invented.
func (in *Ingest) strange(m mqtt.Message, node reading.NodeID) {
	in.stats.refuse(reading.NotListed)
	if in.strangers.note(node, m.Arrived) {
		in.quarantine(m, record.Refused{Node: node, Reason: reading.NotListed,
			Detail: "readable, but the configuration lists no heater with this node"})
	}
}

// astray refuses a message in a node's name under another site's topic. It
// costs that node nothing: it may not be the sender.
func (in *Ingest) astray(m mqtt.Message, node reading.NodeID) {
	in.stats.refuse(reading.BadTopic)
	if ok, _ := in.budgets.spend("", m.Arrived); ok {
		in.quarantine(m, record.Refused{Node: node, Reason: reading.BadTopic,
			Detail: "the topic is another site's than that of the heater with this node"})
	}
}

// overspent refuses a message over the budget; only if note is it written
// down, for a flood must not become a flood of lines.
func (in *Ingest) overspent(m mqtt.Message, node reading.NodeID, note bool) {
	in.stats.refuse(reading.OverBudget)
	if note {
		in.quarantine(m, record.Refused{Node: node, Reason: reading.OverBudget,
			Detail: "more messages than the node's budget; this is one of them"})
	}
}

func (in *Ingest) quarantine(m mqtt.Message, why record.Refused) {
	why.Topic = strings.ToValidUTF8(m.Topic, "\uFFFD")
	in.add(record.Line{At: m.Arrived, Refused: &why, Retained: m.Retained})
	in.batch.Quarantined = append(in.batch.Quarantined, store.Quarantined{At: m.Arrived, Refused: why, Payload: m.Payload})
}
