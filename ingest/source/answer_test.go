package source_test

import (
	"strings"
	"testing"

	"heaterd/ingest/record"
	"heaterd/ingest/source"
)

func TestAcknowledgementsNameAlarmAndPerson(t *testing.T) {
	all := source.Sources{source.Acknowledgements()}
	l, err := all.Decode("heaterd/alarms/quay.hall.co-ceiling.1/acknowledge", []byte("Ann\n"), 1)
	if err != nil || l.Answer == nil {
		t.Fatal(l, err)
	}
	want := record.Answer{Act: record.Acknowledge, Alarm: "quay.hall.co-ceiling.1", By: "Ann", Role: "technician", From: "mqtt"}
	if *l.Answer != want {
		t.Errorf("%+v, want %+v", *l.Answer, want)
	}
	for _, payload := range []string{"", " ", "a\x00b", strings.Repeat("x", 81), "\xff"} {
		if l, err := all.Decode("heaterd/alarms/a.1/acknowledge", []byte(payload), 1); err == nil {
			t.Errorf("%q gives %+v", payload, l.Answer)
		}
	}
	if err := source.Acknowledgements().Check(); err != nil {
		t.Error(err)
	}
}
