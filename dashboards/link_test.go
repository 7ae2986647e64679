package dashboards_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/notify/answerlink"
	"heaterd/ingest/record"
)

func TestALinkActsOnlyByItsButton(t *testing.T) {
	w := newWorld(t, withUsers(t))
	link := "/a/" + answerlink.Sign(w.opts.LinkSecret, "quay.hall.co-short-term.1", "kim", at.Add(time.Hour))
	page := w.page(t, link)
	if w.count() > 0 {
		t.Fatal("opening the link acted")
	}
	before(t, page, "Everyone out by the north door.", "CO over the short-term limit", "Acknowledge as kim")
	if rec := w.do("POST", link, url.Values{}); rec.Code != http.StatusSeeOther {
		t.Fatalf("the button gives %d", rec.Code)
	}
	a := w.last(t).Answer
	if a == nil || a.Act != record.Acknowledge || a.Alarm != "quay.hall.co-short-term.1" || a.By != "kim" || !strings.HasPrefix(a.From, "link ") {
		t.Errorf("written %+v", a)
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
