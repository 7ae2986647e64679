package notify

import (
	"cmp"
	"slices"

	"heaterd/alerts/ledger"
	"heaterd/alerts/wording"
	"heaterd/ingest/reading"
)

// earlier lists who was told of the change that a message is about, the reader
// of this one too, the first one first. all are the messages about its alarm. Those told in the same
// moment are left out: they had no time to answer.
func (p *Planner) earlier(j ledger.Job, all []ledger.Job, now reading.Instant) []wording.Earlier {
	var out []wording.Earlier
	at := map[string]int{}
	got := reached(all, j.Seq)
	for _, o := range all {
		m, err := ReadMessage(o.Body)
		if err != nil || m.Kind != Raised || o.Seq != j.Seq || o.Person == "" || !p.tried(o, now) {
			continue
		}
		reader := o.Person == j.Person
		if reader && o.State != ledger.Sent {
			continue
		}
		if o.State != ledger.Sent && got[o.Person] {
			continue
		}
		i, seen := at[o.Person]
		if !seen {
			i, at[o.Person] = len(out), len(out)
			out = append(out, wording.Earlier{Reader: reader, Name: cmp.Or(m.Name, o.Person), Answers: p.knows(o.Person)})
		}
		if told := &out[i].At; o.State == ledger.Sent && (*told == 0 || o.DeliveredAt < *told) {
			*told = o.DeliveredAt
		}
	}
	slices.SortStableFunc(out, func(a, b wording.Earlier) int { return cmp.Compare(a.At, b.At) })
	return out
}

// reached are those whom a message about a change got to by any channel, if only
// in this moment.
func reached(all []ledger.Job, seq int) map[string]bool {
	got := map[string]bool{}
	for _, j := range all {
		if j.Seq == seq && j.State == ledger.Sent {
			got[j.Person] = true
		}
	}
	return got
}

// tried reports whether a message was handed over a while ago, or failed to
// get through to somebody who still is to be told.
func (p *Planner) tried(j ledger.Job, now reading.Instant) bool {
	if j.State == ledger.Sent {
		return now.Sub(j.DeliveredAt) >= fresh
	}
	return j.State != ledger.Cancelled && j.LastError != "" && p.knows(j.Person)
}
