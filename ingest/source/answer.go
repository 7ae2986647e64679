package source

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/topic"
)

// Answers is the format of acknowledgements: the topic names the alarm, the
// payload the person. Who may publish them is the broker's access list to say.
const Answers Format = "answers"

// Acknowledgements is the source of acknowledgements over MQTT.
func Acknowledgements() Source {
	return Source{Filter: "heaterd/alarms/+/acknowledge", Format: Answers}
}

const (
	alarmLevel = 3   // of the topic
	maxPerson  = 80  // bytes
	maxAlarmID = 256 // bytes
)

// decodeAnswer reads who acknowledges which alarm.
func decodeAnswer(name string, payload []byte) (*record.Answer, error) {
	id, ok := topic.Level(name, alarmLevel)
	if !ok || id == "" || len(id) > maxAlarmID {
		return nil, reading.Refuse(reading.BadTopic, "found no alarm id at topic level %d of %q", alarmLevel, name)
	}
	person := strings.TrimSpace(string(payload))
	odd := func(r rune) bool { return unicode.IsControl(r) }
	if person == "" || len(person) > maxPerson || !utf8.ValidString(person) || strings.ContainsFunc(person, odd) {
		return nil, reading.Refuse(reading.BadField, "the payload is the name of whoever acknowledges, up to %d bytes", maxPerson)
	}
	return &record.Answer{Act: record.Acknowledge, Alarm: id, By: person, Role: "technician", From: "mqtt"}, nil
}
