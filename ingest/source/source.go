package source

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"heaterd/ingest/fields"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/senml"
	"heaterd/ingest/topic"
)

// Format is what is published at a source.
type Format string

// The formats.
const (
	SenML  Format = "senml"
	Fields Format = "fields"
	Status Format = "status" // "online" or "offline"
)

// NodeFrom says where the name of the node stands: a topic level counted from
// 1, or FromPack.
type NodeFrom int

// FromPack takes the name from the SenML names in the pack.
const FromPack NodeFrom = 0

// Source is one subscription and how to read it.
type Source struct {
	Filter  string // MQTT topic filter
	Format  Format
	Node    NodeFrom
	Site    int             // topic level of the site's id, from 1; 0: the topic tells none
	Mapping *fields.Mapping // of Fields, compiled; else nil
}

// Defaults gives the topics of the telemetry contract.
func Defaults() Sources {
	return Sources{
		{Filter: "sites/+/nodes/+/telemetry", Format: SenML, Node: 4, Site: 2},
		{Filter: "sites/+/nodes/+/status", Format: Status, Node: 4, Site: 2},
	}
}

// Check says what is wrong with the source, nil if nothing.
func (s Source) Check() error {
	if err := topic.ValidFilter(s.Filter); err != nil {
		return err
	}
	switch s.Format {
	case SenML:
	case Fields:
		if s.Mapping == nil {
			return errors.New("the format fields needs a mapping")
		}
	case Status:
	case Answers:
		return nil
	default:
		return fmt.Errorf("the format is %q, allowed: %s, %s, %s", s.Format, SenML, Fields, Status)
	}
	return s.checkNode()
}

func (s Source) checkNode() error {
	levels := topic.Levels(s.Filter)
	switch {
	case s.Node == FromPack && s.Format != SenML:
		return fmt.Errorf("the format %s does not tell the node, so node must be topic:N", s.Format)
	case s.Node < 0:
		return fmt.Errorf("the node's topic level is %d, allowed: from 1", int(s.Node))
	case int(s.Node) > levels && !strings.HasSuffix(s.Filter, "#"):
		return fmt.Errorf("the node's topic level is %d, but the filter %s has %d", int(s.Node), s.Filter, levels)
	}
	return nil
}

// Decode reads telemetry published at the topic. Every error is a
// *reading.Refusal; the Pack always has a node.
func (s Source) Decode(name string, payload []byte, arrived reading.Instant) (reading.Pack, error) {
	node, err := s.NodeOf(name)
	if err != nil {
		return reading.Pack{}, err
	}
	pack, err := s.decode(payload, node, arrived)
	if err != nil {
		return reading.Pack{}, err
	}
	if pack.Node == "" {
		return reading.Pack{}, reading.Refuse(reading.BadName, "found no node in the names of the pack, allowed: names such as n-07/co")
	}
	return pack, nil
}

func (s Source) decode(payload []byte, node reading.NodeID, arrived reading.Instant) (reading.Pack, error) {
	switch s.Format {
	case SenML:
		return senml.Decode(payload, senml.Options{Arrived: arrived, Node: node})
	case Fields:
		return s.Mapping.Decode(payload, fields.Options{Arrived: arrived, Node: node})
	}
	return reading.Pack{}, reading.Refuse(reading.BadSyntax, "found telemetry for a source of the format %q, allowed: %s, %s", s.Format, SenML, Fields)
}

// NodeOf gives the node a topic tells; empty where only the pack does.
// Refused with BadTopic.
func (s Source) NodeOf(name string) (reading.NodeID, error) {
	if s.Node == FromPack {
		return "", nil
	}
	where := "topic level " + strconv.Itoa(int(s.Node))
	level, ok := topic.Level(name, int(s.Node))
	if !ok {
		return "", &reading.Refusal{Reason: reading.BadTopic, Where: where, Detail: fmt.Sprintf("found %d levels in %q", topic.Levels(name), name)}
	}
	if err := topic.ValidNode(level); err != nil {
		return "", &reading.Refusal{Reason: reading.BadTopic, Where: where, Detail: err.Error()}
	}
	return reading.NodeID(level), nil
}

// DecodeStatus reads a node's own word about itself. Every error is a
// *reading.Refusal.
func (s Source) DecodeStatus(name string, payload []byte) (record.Status, error) {
	node, err := s.NodeOf(name)
	if err != nil {
		return record.Status{}, err
	}
	switch string(bytes.TrimSpace(payload)) {
	case "online":
		return record.Status{Node: node, Online: true}, nil
	case "offline":
		return record.Status{Node: node}, nil
	case "":
		return record.Status{}, reading.Refuse(reading.NothingIn, "found an empty status, allowed: online, offline")
	}
	return record.Status{}, reading.Refuse(reading.BadField, "found the status %.40q, allowed: online, offline", payload)
}
