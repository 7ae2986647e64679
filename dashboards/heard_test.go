package dashboards_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/outcome"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// TestAUnitNotHeardYetReadsSo checks that fitting a unit does not read as a
// word of it.
func TestAUnitNotHeardYetReadsSo(t *testing.T) {
	v := fixedView()
	v.Heaters[0].Heard, v.Heaters[0].Fitted = 0, instant(-time.Minute)
	w := newWorld(t, viewing(v))
	for _, path := range []string{"/heaters/H-07", "/nodes/n-07"} {
		has(t, w.page(t, path), "not heard yet since it was fitted at Wed 14 Jan 2026, 15:03 GMT")
	}
	has(t, w.page(t, "/heaters/H-07"), "</span> not heard yet</span>")
	has(t, w.page(t, "/"), `data-l="Heard">not yet<`)
	has(t, w.do("GET", "/api/v1/heaters/H-07", nil).Body.String(), `"heard": null`)
	if strings.Contains(w.page(t, "/heaters/H-07"), "heard never") {
		t.Error("heard never")
	}
}

// TestAUnitThatNobodyEverHeardIsTaken checks that fitting one is kept, and that
// it is said, in the answer and until it is heard.
func TestAUnitThatNobodyEverHeardIsTaken(t *testing.T) {
	const words = "No unit of this name has been heard yet; check the label."
	v := fixedView()
	w := newWorld(t, viewing(v))
	fit := func(node string) (page, answer string) {
		rec := w.do("POST", "/heaters/H-07/fit-node", url.Values{"by": {"Kim"}, "node": {node}, "sure": {"yes"}})
		if rec.Code != 303 || w.last(t).Entry.Node != node {
			t.Fatalf("%s: status %d", node, rec.Code)
		}
		r := newRequest("POST", "/api/v1/entries")
		r.Body = readCloser(`{"heater":"H-07","task":"fit-node","by":"Kim","node":"` + node + `"}`)
		r.Header.Set("Content-Type", "application/json")
		api := serve(w, r)
		if api.Code != 201 {
			t.Fatalf("%s: status %d", node, api.Code)
		}
		return w.page(t, rec.Header().Get("Location")), api.Body.String()
	}
	page, answer := fit("n-O7")
	has(t, page, "Logged. "+words)
	has(t, answer, `"warning": "`+words+`"`, `"node": "n-O7"`)
	page, answer = fit("n-08")
	if strings.Contains(page, words) || strings.Contains(answer, "warning") {
		t.Error("a unit that was heard is called unheard")
	}
	v.Heaters[0].Node, v.Heaters[0].Heard, v.Heaters[0].Fitted = "n-O7", 0, instant(0)
	w.opts.View = viewOf(v)
	w.handler = dashboards.New(w.opts)
	for _, path := range []string{"/heaters/H-07", "/nodes/n-O7"} {
		has(t, w.page(t, path), words)
	}
	quarantine(t, w.store, "[]", record.Refused{Node: "n-O7", Reason: reading.NotListed}, 0)
	if strings.Contains(w.page(t, "/heaters/H-07"), words) {
		t.Error("a unit whose messages are refused was heard")
	}
}

// TestWhatIsNotHeardYetIsNotUnmeasured: of a new installation nobody knows the
// air, whatever its units measure.
func TestWhatIsNotHeardYetIsNotUnmeasured(t *testing.T) {
	v := fixedView()
	h, hall := &v.Heaters[0], &v.Sites[0].Spaces[0]
	h.Heard, h.Known, h.Lit, h.Hours = 0, reading.Sample{}, false, outcome.Hours{Hours: 412.5, Low: 412.5, High: 412.5, Source: "counter"}
	hall.HasCO = false
	w := newWorld(t, viewing(v))
	page := w.page(t, "/heaters/H-07")
	has(t, page, `412.5 h <span class="soft">nothing heard yet</span>`, "<dt>CO here</dt><dd>nothing heard yet</dd>", "<dt>Temperature here</dt><dd>nothing heard yet</dd>")
	has(t, w.page(t, "/sites/quay"), "Nothing is heard from here yet: what the air is like is not known.")
}

func TestRefusedMessagesByAWrongLimit(t *testing.T) {
	w := newWorld(t)
	for query, want := range map[string]int{"": 200, "?limit=1": 200, "?limit=0": 422, "?limit=1001": 422, "?limit=some": 422} {
		if got := w.do("GET", "/api/v1/refused"+query, nil).Code; got != want {
			t.Errorf("%q: %d, want %d", query, got, want)
		}
	}
}

// TestWhatAUnitSaidThatIsNotThereNow: what the unit before said, which was
// taken off or changed for another, is told as it was, and not as it is.
func TestWhatAUnitSaidThatIsNotThereNow(t *testing.T) {
	for node, heard := range map[reading.NodeID]string{"": `data-l="Heard">–<`, "n-17": `data-l="Heard">not yet<`} {
		v := fixedView()
		h := &v.Heaters[0]
		h.Node, h.Heard, h.Fitted, h.Known.At = node, 0, instant(-time.Minute), instant(-2*time.Minute)
		w := newWorld(t, func(o *dashboards.Options) { o.View = viewOf(v) })
		has(t, w.page(t, "/"), heard, `<span class="soft">was</span> 63`, `<span class="soft">was</span> 11.2`)
		page := w.page(t, "/heaters/H-07")
		has(t, page, ", last heard Wed 14 Jan 15:02 GMT", "ppm <span class=\"soft\">when last heard, Wed 14 Jan 15:02 GMT; not known now", "As last heard, 2 min ago.")
		if strings.Contains(page, "lit since") {
			t.Errorf("unit %q: a heater burns that no unit sees", node)
		}
	}
}

// TestABurnThatWasUnderWayHasNoLength checks that the page gives no length to a
// burn whose begin nobody saw.
func TestABurnThatWasUnderWayHasNoLength(t *testing.T) {
	v := fixedView()
	v.Heaters[1].Last.StartUnseen = true
	has(t, newWorld(t, viewing(v)).page(t, "/heaters/H-08"), "after more than 45 min: <b>no known reason")
}

// TestANameThatNoTopicHoldsIsRefused: nothing could ever be heard of such a unit,
// and the heater would have lost the one it has.
func TestANameThatNoTopicHoldsIsRefused(t *testing.T) {
	w := newWorld(t)
	for _, node := range []string{"n-07/#", "a+b", "sites/quay/nodes/n-07", strings.Repeat("é", 40)} {
		rec := w.do("POST", "/heaters/H-07/fit-node", url.Values{"by": {"Kim"}, "node": {node}, "sure": {"yes"}})
		if rec.Code != 422 || !strings.Contains(rec.Body.String(), "No sensor unit can be called") {
			t.Errorf("%s: status %d", node, rec.Code)
		}
		r := newRequest("POST", "/api/v1/entries")
		r.Body = readCloser(`{"heater":"H-07","task":"fit-node","by":"Kim","node":"` + node + `"}`)
		r.Header.Set("Content-Type", "application/json")
		if api := serve(w, r); api.Code != 422 {
			t.Errorf("%s, by the API: status %d", node, api.Code)
		}
	}
	if w.count() > 0 {
		t.Error("a line was written")
	}
}

// TestASootyWindowIsForTheNextVisit: it rings no more, so its heater's page says it.
func TestASootyWindowIsForTheNextVisit(t *testing.T) {
	v := fixedView()
	words := "At the next visit wipe the photocell's window"
	if strings.Contains(newWorld(t, viewing(v)).page(t, "/heaters/H-07"), words) {
		t.Error("said of a clean one")
	}
	v.Heaters[0].Sooty = true
	has(t, newWorld(t, viewing(v)).page(t, "/heaters/H-07"), words)
}
