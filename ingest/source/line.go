package source

import (
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/topic"
)

// Sources reads every message by the first source whose filter takes its
// topic.
type Sources []Source

// Pick gives the first source whose filter takes the topic.
func (all Sources) Pick(name string) (Source, bool) {
	for i := range all {
		if topic.Match(all[i].Filter, name) {
			return all[i], true
		}
	}
	return Source{}, false
}

// Decode makes a line of the log from a message. Its error is a
// *reading.Refusal; the line then names the node where the topic told it.
func (all Sources) Decode(name string, payload []byte, arrived reading.Instant) (record.Line, error) {
	l := record.Line{At: arrived}
	s, ok := all.Pick(name)
	if !ok {
		return l, reading.Refuse(reading.BadTopic, "found the topic %q, allowed: a topic of the configured sources", name)
	}
	err := s.read(&l, name, payload, arrived)
	if err != nil {
		node, _ := s.NodeOf(name)
		l.Refused = &record.Refused{Topic: name, Node: node}
	}
	return l, err
}

func (s Source) read(l *record.Line, name string, payload []byte, arrived reading.Instant) error {
	if s.Format == Answers {
		a, err := decodeAnswer(name, payload)
		l.Answer = a
		return err
	}
	if s.Format == Status {
		word, err := s.DecodeStatus(name, payload)
		if err == nil {
			l.Status = &word
		}
		return err
	}
	pack, err := s.Decode(name, payload, arrived)
	if err == nil {
		l.Pack = &pack
	}
	return err
}

// SiteOf gives the site that a topic tells; empty where it tells none.
func (all Sources) SiteOf(name string) string {
	s, ok := all.Pick(name)
	if !ok || s.Site == 0 {
		return ""
	}
	site, _ := topic.Level(name, s.Site)
	return site
}
