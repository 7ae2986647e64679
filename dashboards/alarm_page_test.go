package dashboards_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/dashboards"
)

// TestEachMessageSaysWhatItIs looks at messages that have no person, no
// channel or no step.
func TestEachMessageSaysWhatItIs(t *testing.T) {
	const id = "quay.hall.co-short-term.1"
	row := func(step int, m notify.Message) ledger.Job {
		body, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		return ledger.Job{ID: string(m.Kind) + m.Person + m.Channel, Alarm: id, Channel: m.Channel, Person: m.Person, Step: step, Body: body, Created: instant(0)}
	}
	w := newWorld(t, func(o *dashboards.Options) {
		err := o.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 2, Jobs: []ledger.Job{
			row(1, notify.Message{Kind: notify.Raised, Person: "jo", Name: "Jo", Channel: "text"}),
			row(0, notify.Message{Kind: notify.Raised, Channel: "office"}),
			row(0, notify.Message{Kind: notify.Ended, Person: "jo", Name: "Jo", Channel: "mail"}),
			row(0, notify.Message{Kind: notify.State, Channel: "sounder"}),
			row(0, notify.Message{Kind: notify.Farewell}),
		}})
		if err != nil {
			t.Fatal(err)
		}
	})
	has(t, w.page(t, "/alarms/"+id), "<b>Kim by text, step 1</b>", "<b>Jo by text, step 2</b>", "<b>All who listen by office</b>", "<b>Jo by mail, that it ended</b>",
		"<b>The state of its place by sounder, for whatever listens there</b>", "<b>That it ended, to everybody who was told of it: each has a message of their own</b>")
}

// TestEachMessageSaysWhatCameOfIt looks at a message in every state there is.
func TestEachMessageSaysWhatCameOfIt(t *testing.T) {
	const id = "quay.hall.co-short-term.1"
	w := newWorld(t, func(o *dashboards.Options) {
		var jobs []ledger.Job
		for i, person := range []string{"waits", "failed", "dead", "sent"} {
			body, err := json.Marshal(notify.Message{Kind: notify.Raised, Person: person})
			if err != nil {
				t.Fatal(err)
			}
			jobs = append(jobs, ledger.Job{ID: person, Alarm: id, Seq: 2, Person: person, Step: i, Body: body, Created: instant(-3 * time.Minute), NextAttempt: instant(6 * time.Minute)})
		}
		l := o.Ledger
		for _, err := range []error{
			l.Commit(t.Context(), ledger.Batch{Cursor: 2, Jobs: jobs}),
			l.MarkFailed(t.Context(), "failed", instant(-2*time.Minute), instant(time.Minute), errors.New("no route")),
			l.MarkDead(t.Context(), "dead", instant(-2*time.Minute), errors.New("no such number")),
			l.MarkFailed(t.Context(), "sent", instant(-2*time.Minute), instant(0), errors.New("busy")),
			l.MarkFailed(t.Context(), "sent", instant(-90*time.Second), instant(0), errors.New("no answer")),
			l.MarkFailed(t.Context(), "sent", instant(-time.Minute), instant(0), errors.New("busy")),
			l.MarkSent(t.Context(), "sent", instant(-time.Minute)),
		} {
			if err != nil {
				t.Fatal(err)
			}
		}
	})
	page := w.page(t, "/alarms/"+id)
	before(t, page, "<summary>1 more planned, the first for Wed 14 Jan 2026, 15:10 GMT</summary>", "<b>waits, step 1</b>; planned for Wed 14 Jan 2026, 15:10 GMT</li>", "</details>")
	has(t, page,
		"<b>failed, step 2</b>; not handed over yet, next try Wed 14 Jan 2026, 15:05 GMT\n<ul><li>Wed 14 Jan 2026, 15:02 GMT: failed: no route</li></ul>",
		"<b>dead, step 3</b>; given up, planned Wed 14 Jan 2026, 15:01 GMT\n<ul><li>Wed 14 Jan 2026, 15:02 GMT: failed: no such number</li></ul>",
		"<b>sent, step 4</b>; handed over Wed 14 Jan 2026, 15:03 GMT\n<ul><li>Wed 14 Jan 2026, 15:02 GMT to Wed 14 Jan 2026, 15:03 GMT: failed 2 times: busy</li><li>Wed 14 Jan 2026, 15:02 GMT: failed: no answer</li></ul>")
	if n := strings.Count(page, "handed over Wed 14 Jan 2026, 15:03"); n != 1 {
		t.Errorf("it is said %d times that one message was handed over", n)
	}
}

// TestAChangeSaysByWhatWayItCame looks at who is named for an answer by each
// of the ways there are, and for what nobody answered.
func TestAChangeSaysByWhatWayItCame(t *testing.T) {
	for from, want := range map[string]string{
		"engine":         "heaterd by itself",
		"mqtt":           "Kim Byrne, by a name published over MQTT",
		"link 192.0.2.7": "Kim Byrne, by the link in a message to them, 192.0.2.7",
		"page 192.0.2.7": "Kim Byrne (technician), page 192.0.2.7",
	} {
		a := fixedAlarms()[0]
		a.Seq, a.State, a.AckedBy = 2, alarm.Acknowledged, "kim"
		w := newWorld(t, func(o *dashboards.Options) {
			err := o.Ledger.Commit(t.Context(), ledger.Batch{Cursor: 2, Transitions: []alarm.Transition{{
				At: instant(-time.Minute), Alarm: a, From: alarm.Unacknowledged, To: alarm.Acknowledged,
				Event: alarm.Acknowledge, By: "kim", Role: alarm.Technician, Where: from,
			}}})
			if err != nil {
				t.Fatal(err)
			}
		})
		_, cell, _ := strings.Cut(w.page(t, "/alarms/"+a.ID), `data-l="Change">acknowledged<`)
		has(t, cell[:min(len(cell), 200)], `data-l="By">`+want+"</td>")
	}
}

// TestTheAPIGivesTheTextAsSentAndAsOfNow looks at an alarm whose figure has
// changed since people were told.
func TestTheAPIGivesTheTextAsSentAndAsOfNow(t *testing.T) {
	v := fixedView()
	sent := v.Alarms[3].Text
	v.Alarms[3].Value = 151
	w := newWorld(t, viewing(v))
	for _, path := range []string{"/api/v1/alarms", "/api/v1/alarms/" + v.Alarms[3].ID} {
		has(t, w.do("GET", path, nil).Body.String(), `"text": "`+sent+`"`, "15-minute average 151 ppm, limit 100 ppm, since Wed 14 Jan 15:00 GMT")
	}
}

// TestAShelvedAlarmIsToldOnce: its page said the same a second time below, for the
// sake of who shelved it.
func TestAShelvedAlarmIsToldOnce(t *testing.T) {
	page := newWorld(t).page(t, "/alarms/mill.site-silent.1")
	if n := strings.Count(page, "Shelved until"); n != 1 || strings.Contains(page, "What is known") {
		t.Errorf("it says %d times until when it is shelved, want once", n)
	}
}

// TestTheTextOfNowSaysAllOfIt: a program reads one text, in which who shelved the
// alarm, or the site's own procedure, must not be missing.
func TestTheTextOfNowSaysAllOfIt(t *testing.T) {
	w := newWorld(t)
	for id, wants := range map[string][]string{
		"mill.site-silent.1":        {"Shelved until ", " by Kim: generator change."},
		"quay.hall.co-short-term.1": {"Site's procedure: ", "People out and fresh air; then the heater."},
	} {
		_, now, _ := strings.Cut(w.do("GET", "/api/v1/alarms/"+id, nil).Body.String(), `"text_now": "`)
		now, _, _ = strings.Cut(now, "\n")
		has(t, now, wants...)
	}
}

// A heater that was taken out of service says so on its own page, and who did
// it and why.
func TestAHeaterOutOfServiceSaysWhoTookItOut(t *testing.T) {
	v := fixedView()
	v.Alarms = append(v.Alarms, alarm.Alarm{
		ID: "H-07.heater-out-of-service.1", Key: alarm.Key{Kind: alarm.HeaterOutOfService, Heater: "H-07"}, N: 1,
		State: alarm.OutOfService, Priority: alarm.Low, HeldBy: "Kim", Why: "cracked chamber",
	})
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/heaters/H-07"), "Heater H-07 is out of service.", "<b>Out of service</b> by Kim: cracked chamber")
}

// A silent site of many heaters does not bury what happened lately.
func TestManyAlarmsSetAsideAreFolded(t *testing.T) {
	v := fixedView()
	for i := range 30 {
		id := fmt.Sprintf("B-%02d", i)
		v.Alarms = append(v.Alarms, alarm.Alarm{ID: id + ".node-silent.1", Key: alarm.Key{Kind: alarm.NodeSilent, Site: "mill", Node: id}, N: 1,
			State: alarm.Suppressed, Priority: alarm.Medium, Cause: "mill.site-silent.1", Active: true})
	}
	w := newWorld(t, viewing(v))
	has(t, w.page(t, "/alarms"), `<details id="further"><summary>21 more</summary>`, "B-29")
}

// TestAProcedureKeepsItsOwnNumbers checks that "see step 3" means the site's
// third step and not the page's third line, and that each says whose it is.
func TestAProcedureKeepsItsOwnNumbers(t *testing.T) {
	for text, want := range map[string]string{
		"Everyone out.\nCount heads.":                            `<ol dir="auto"><li>Everyone out.</li>`,
		"In doubt:\n1. Everyone out,\n   doors open.\n2) Heads.": `<ol dir="auto" class="own"><li>In doubt:</li><li>1. Everyone out,</li><li>doors open.</li>`,
		"- Everyone out.":                                        `<ol dir="auto" class="own"><li`,
		"3 people count heads.\nA gate.":                         `<ol dir="auto"><li>3 people`,
	} {
		v := fixedView()
		v.Sites[0].Procedure = text
		w := newWorld(t, viewing(v))
		for _, path := range []string{"/", "/alarms", "/sites/quay", "/service", "/alarms/quay.hall.co-short-term.1"} {
			has(t, w.page(t, path), want)
		}
		has(t, w.page(t, "/"), `The site's procedure, first <span class="soft">Quay Street hall</span>`)
	}
}

// TestFiguresStayBehindANameFromRightToLeft checks that a figure is not drawn
// into the name before it, and that a name stays text.
func TestFiguresStayBehindANameFromRightToLeft(t *testing.T) {
	v := fixedView()
	v.Sites[0].Name, v.Sites[0].Spaces[0].Name, v.Sites[0].Site.Spaces[0].Name = "سوق <b>", "قاعة كبيرة", "قاعة كبيرة"
	w := newWorld(t, viewing(v))
	for _, path := range []string{"/", "/alarms", "/alarms/quay.hall.co-short-term.1"} {
		has(t, w.page(t, path), "\u2068قاعة كبيرة\u2069, \u2068سوق &lt;b&gt;\u2069: ")
	}
	has(t, w.page(t, "/reports"), "\u2068سوق &lt;b&gt;\u2069, \u2068قاعة كبيرة\u2069: today")
	has(t, w.page(t, "/heaters/H-07"), `<span class="soft">`+"\u2068سوق &lt;b&gt;\u2069, \u2068قاعة كبيرة\u2069</span>")
	flat := strings.ReplaceAll(w.page(t, "/service.ics"), "\r\n ", "")
	has(t, flat, "LOCATION:\u2068قاعة كبيرة\u2069\\, \u2068سوق <b>\u2069\r\n")
	if sheet := w.page(t, "/reports/service?format=csv"); strings.ContainsRune(sheet, '\u2068') {
		t.Error("a cell, which has nothing beside it, holds more than the name")
	}
}
