package metrics

import "heaterd/ingest"

// daemon writes how the daemon itself is doing.
func (p *page) daemon(o *Options) {
	if o.Connected != nil {
		p.add(mqttConnected, nil, truth(o.Connected()))
	}
	if o.Dropped != nil {
		p.add(droppedTotal, nil, float64(o.Dropped()))
	}
	if o.Unclean != nil {
		p.add(uncleanStart, nil, truth(o.Unclean()))
	}
	if o.Ingest != nil {
		p.ingest(o.Ingest())
	}
	if o.Alerts != nil {
		p.alerts(o.Alerts())
	}
	if o.Outbox != nil {
		p.outbox(o.Outbox())
	}
	if o.Sinks != nil {
		for _, s := range o.Sinks() {
			p.onSink(s)
		}
	}
}

func (p *page) ingest(s ingest.Stats) {
	p.add(messagesTotal, nil, float64(s.Messages))
	p.add(duplicatesTotal, nil, float64(s.Duplicates))
	p.add(samplesTotal, nil, float64(s.Samples))
	p.add(ignoredTotal, nil, float64(s.Ignored))
	for _, r := range reasons {
		p.add(refusedTotal, p.fixed.refused[r], float64(s.Refused[r]))
	}
	p.add(queueMessages, nil, float64(s.Waiting))
	p.add(commitsTotal, nil, float64(s.Commits))
	p.add(linesTotal, nil, float64(s.Lines))
	p.add(commitFailures, nil, float64(s.Failures))
}

func (p *page) alerts(a Alerts) {
	p.add(alertLag, nil, float64(a.LagRows))
	p.add(alertFaults, nil, float64(a.Faults))
	if !a.Turned.IsZero() {
		p.add(alertTurn, nil, float64(a.Turned.UnixMilli())/1e3)
	}
}

func (p *page) outbox(o Outbox) {
	p.add(outboxMessages, p.fixed.pending, float64(o.Pending))
	p.add(outboxMessages, p.fixed.dead, float64(o.Dead))
	p.add(outboxOldest, nil, max(0, o.Overdue.Seconds()))
}

func (p *page) onSink(s Sink) {
	l := p.sink(s.Name)
	p.add(sinkUp, l, truth(s.Up))
	p.add(sinkLag, l, float64(s.LagRows))
	p.add(sinkOldest, l, max(0, s.Oldest.Seconds()))
	p.add(sinkRejected, l, float64(s.Rejected))
}
