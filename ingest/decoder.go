package ingest

import (
	"fmt"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/source"
)

// Sources decode messages by the first source whose filter takes the topic.
type Sources []source.Source

// Decode implements [Decoder].
func (all Sources) Decode(topic string, payload []byte, arrived reading.Instant) (record.Line, error) {
	s, ok := source.Pick(all, topic)
	if !ok {
		return record.Line{}, &reading.Refusal{Reason: reading.BadTopic, Detail: fmt.Sprintf("no source takes %.200q", topic)}
	}
	l, err := decode(s, topic, payload, arrived)
	if err != nil {
		node, _ := s.NodeOf(topic) // empty where the topic does not tell it
		return record.Line{Refused: &record.Refused{Node: node}}, err
	}
	return l, nil
}

func decode(s source.Source, topic string, payload []byte, arrived reading.Instant) (record.Line, error) {
	if s.Format == source.Status {
		status, err := s.DecodeStatus(topic, payload)
		return record.Line{Status: &status}, err
	}
	pack, err := s.Decode(topic, payload, arrived)
	return record.Line{Pack: &pack}, err
}
