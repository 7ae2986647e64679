package dashboards_test

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/notify/answerlink"
	"heaterd/dashboards"
	"heaterd/ingest/record"
)

func TestALinkActsOnlyByItsButton(t *testing.T) {
	w := newWorld(t, withUsers(t))
	link := "/a/" + answerlink.Sign(w.opts.LinkSecret, "quay.hall.co-short-term.1", "kim", at.Add(time.Hour))
	page := w.page(t, link)
	if w.count() > 0 {
		t.Fatal("opening the link acted")
	}
	before(t, page, "CO over the short-term limit", "Everyone out by the north door.", "Acknowledging says that Kim Byrne has seen this", "Acknowledge as Kim Byrne",
		"This link is for Kim Byrne and this one alarm, and works until Wed 14 Jan 2026, 16:04 GMT.")
	if rec := w.do("POST", link, url.Values{}); rec.Code != http.StatusSeeOther {
		t.Fatalf("the button gives %d", rec.Code)
	}
	a := w.last(t).Answer
	if a == nil || a.Act != record.Acknowledge || a.Alarm != "quay.hall.co-short-term.1" || a.By != "kim" || !strings.HasPrefix(a.From, "link ") {
		t.Errorf("written %+v", a)
	}
}

// TestALinkSaysWhatTheMessageSaid checks what the woken person reads, and in
// which order: the procedure, people, whom to call, only then the heater.
func TestALinkSaysWhatTheMessageSaid(t *testing.T) {
	w := newWorld(t, withUsers(t))
	open := func(id string) string {
		return w.page(t, "/a/"+answerlink.Sign(w.opts.LinkSecret, id, "kim", at.Add(time.Hour)))
	}
	const call = `href="tel:&#43;35315550100"`
	before(t, open("quay.hall.co-short-term.1"), "CO over the short-term limit", "Main hall, Quay Street hall", "since Wed 14 Jan 2026, 15:00 GMT (4 min ago)",
		"Everyone out by the north door.", "People out, fresh air", call, "Acknowledge as Kim Byrne", "Then the heater", "First checks")
	before(t, open("H-08.shutdown-unexplained.5"), "Heater stopped, no known reason", "Main hall, Quay Street hall", "heater H-08", "with no reason known",
		"Acknowledge as Kim Byrne", "Everyone out by the north door.", call, "First checks")
}

// TestWhoAnsweredIsNamed looks at an alarm that its link has acknowledged.
func TestWhoAnsweredIsNamed(t *testing.T) {
	v := fixedView()
	for i := range v.Alarms {
		v.Alarms[i].State, v.Alarms[i].Acked, v.Alarms[i].AckedBy, v.Alarms[i].AckedAt = alarm.Acknowledged, true, "kim", instant(-time.Minute)
	}
	w := newWorld(t, withUsers(t), viewing(v))
	has(t, w.page(t, "/a/"+answerlink.Sign(w.opts.LinkSecret, "quay.hall.co-short-term.1", "jo", at.Add(time.Hour))),
		"Nothing is left to acknowledge. Acknowledged by Kim Byrne.", "This link is for jo")
	w = newWorld(t, viewing(v))
	for _, page := range []string{"/alarms", "/alarms/quay.hall.co-short-term.1"} {
		has(t, w.page(t, page), "<b>Acknowledged</b> by Kim Byrne,")
	}
}

// TestTwoAcknowledgeAtOnce: whoever came second, by however little, does not
// read that it is theirs.
func TestTwoAcknowledgeAtOnce(t *testing.T) {
	const id = "quay.hall.co-short-term.1"
	for by, word := range map[string]string{"kim": "said=acknowledge", "jo": "said=acknowledge-late"} {
		v := fixedView()
		w := newWorld(t, withUsers(t), func(o *dashboards.Options) {
			o.View = func() fold.View { return v } // as it is by then
			keep := o.Record
			o.Record = func(ctx context.Context, l record.Line) (int64, error) {
				v.Alarms = slices.Clone(v.Alarms)
				for i := range v.Alarms {
					v.Alarms[i].State, v.Alarms[i].Acked, v.Alarms[i].AckedBy = alarm.Acknowledged, true, "kim"
				}
				return keep(ctx, l)
			}
		})
		link := "/a/" + answerlink.Sign(w.opts.LinkSecret, id, by, at.Add(time.Hour))
		rec := w.do("POST", link, url.Values{})
		if got := rec.Header().Get("Location"); rec.Code != http.StatusSeeOther || !strings.HasSuffix(got, "?"+word) {
			t.Errorf("%s is sent with %d to %q", by, rec.Code, got)
		}
	}
	has(t, newWorld(t).page(t, "/alarms/"+id+"?said=acknowledge-late"), "Somebody else acknowledged it a moment before you")
}

// TestAcknowledgedTooLate: whoever presses after the alarm was over reads that it
// was, and not that there is no such page.
func TestAcknowledgedTooLate(t *testing.T) {
	const id = "quay.hall.co-short-term.1"
	v := fixedView()
	v.Alarms = nil
	w := newWorld(t, viewing(v))
	for path, to := range map[string]string{
		"/a/" + answerlink.Sign(w.opts.LinkSecret, id, "kim", at.Add(time.Hour)): "", "/alarms/" + id + "/acknowledge": "/alarms/" + id,
	} {
		rec := w.do("POST", path, url.Values{"by": {"Kim"}})
		if to == "" {
			to = path
		}
		if got := rec.Header().Get("Location"); rec.Code != http.StatusSeeOther || got != to+"?said=acknowledge-over" {
			t.Errorf("%s: %d, to %q", path, rec.Code, got)
		}
		has(t, w.page(t, to+"?said=acknowledge-over"), "It was over already")
	}
	if rec := w.do("POST", "/alarms/none.1/acknowledge", url.Values{"by": {"Kim"}}); rec.Code != http.StatusNotFound {
		t.Errorf("an alarm that never was: %d", rec.Code)
	}
	if w.count() > 0 {
		t.Error("a line was written")
	}
}

func TestALinkOpensNothingElse(t *testing.T) {
	w := newWorld(t, withUsers(t))
	secret := w.opts.LinkSecret
	good := "/a/" + answerlink.Sign(secret, "quay.hall.co-short-term.1", "kim", at.Add(time.Hour))
	for name, c := range map[string]struct {
		link string
		want int
	}{
		"expired":        {"/a/" + answerlink.Sign(secret, "quay.hall.co-short-term.1", "kim", at), http.StatusGone},
		"another secret": {"/a/" + answerlink.Sign([]byte("other"), "quay.hall.co-short-term.1", "kim", at.Add(time.Hour)), http.StatusNotFound},
		"cut off":        {good[:len(good)-3], http.StatusNotFound},
		"changed":        {"/a/A" + good[4:], http.StatusNotFound},
		"no such alarm":  {"/a/" + answerlink.Sign(secret, "none.1", "kim", at.Add(time.Hour)), http.StatusNotFound},
	} {
		for _, method := range []string{"GET", "POST"} {
			if rec := w.do(method, c.link, url.Values{}); rec.Code != c.want {
				t.Errorf("%s, %s: %d, want %d", name, method, rec.Code, c.want)
			}
		}
	}
	if w.count() > 0 {
		t.Error("a line was written")
	}
}
