package dashboards_test

import (
	"context"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/exposure"
	"heaterd/alerts/fleet"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/dashboards"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/store"
)

// at is the moment of the fixed view: an afternoon in Dublin.
var at = time.Date(2026, 1, 14, 15, 4, 0, 0, time.UTC)

func instant(d time.Duration) reading.Instant { return reading.InstantOf(at.Add(d)) }

func viewOf(v fold.View) func() fold.View { return func() fold.View { return v } }

// viewing has the pages show another view than the usual.
func viewing(v fold.View) func(*dashboards.Options) {
	return func(o *dashboards.Options) { o.View = viewOf(v) }
}

func ptr[T any](v T) *T { return &v }

// world is the pages over a fixed view, a real ledger and a real store.
type world struct {
	opts    dashboards.Options
	handler http.Handler
	store   *store.Store
	mu      sync.Mutex
	lines   []record.Line
}

func newWorld(t testing.TB, change ...func(*dashboards.Options)) *world {
	t.Helper()
	s, err := store.Open(t.Context(), t.TempDir()+"/heaterd.db", slog.New(slog.DiscardHandler), ledger.Migrations)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	l := ledger.New(s)
	fill(t, s, l)
	w := &world{store: s}
	w.opts = dashboards.Options{
		View: viewOf(fixedView()), Ledger: l, Store: s, Plan: service.Default(),
		Record:     w.record,
		OnCall:     func(time.Time) notify.OnCall { return fixedDuty() },
		Name:       name,
		LinkSecret: []byte("a secret of the test, 32 bytes.."),
		Now:        func() time.Time { return at },
		Log:        slog.New(slog.NewTextHandler(testLog{t}, &slog.HandlerOptions{Level: slog.LevelError})),
	}
	for _, c := range change {
		c(&w.opts)
	}
	w.handler = dashboards.New(w.opts)
	return w
}

// testLog fails the test on any error that the pages log.
type testLog struct{ t testing.TB }

func (l testLog) Write(b []byte) (int, error) {
	l.t.Errorf("logged: %s", b)
	return len(b), nil
}

func (w *world) record(_ context.Context, l record.Line) (int64, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.lines = append(w.lines, l)
	return int64(len(w.lines)), nil
}

func (w *world) last(t *testing.T) record.Line {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.lines) == 0 {
		t.Fatal("nothing was written to the log")
	}
	return w.lines[len(w.lines)-1]
}

func (w *world) count() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.lines)
}

// do sends one request as a browser on this machine would.
func (w *world) do(method, target string, form url.Values, header ...string) *httptest.ResponseRecorder {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, target, body)
	r.Host = "localhost:8080"
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	return rec
}

func (w *world) page(t testing.TB, target string) string {
	t.Helper()
	rec := w.do("GET", target, nil)
	if rec.Code != http.StatusOK {
		t.Fatalf("GET %s: %d: %s", target, rec.Code, clip(rec.Body.String()))
	}
	return rec.Body.String()
}

func clip(s string) string { return s[:min(len(s), 400)] }

func has(t *testing.T, page string, texts ...string) {
	t.Helper()
	for _, want := range texts {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// before checks that texts follow each other on a page in this order.
func before(t *testing.T, page string, texts ...string) {
	t.Helper()
	rest := page
	for _, want := range texts {
		i := strings.Index(rest, want)
		if i < 0 {
			t.Fatalf("the page lacks %q after what is to come before it", want)
		}
		rest = rest[i+len(want):]
	}
}

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// name is how the crew is called.
func name(id string) string {
	if id == "kim" {
		return "Kim Byrne"
	}
	return id
}

// fixedDuty is a crew of two, a week each.
func fixedDuty() notify.OnCall {
	next := at.Add(4*24*time.Hour + 17*time.Hour)
	return notify.OnCall{
		Told: true, Rota: true, Zone: zone("Europe/Dublin"), Fallback: "Kim",
		Turns: []notify.Turn{{Name: "Kim", From: at, To: next}, {Name: "Jo", From: next, To: next.AddDate(0, 0, 7)}},
		Steps: []notify.Telling{
			{Who: "on-call", Names: []string{"Kim"}}, {After: 10 * time.Minute, Who: "next", Names: []string{"Jo"}},
			{After: 20 * time.Minute, Who: "everyone", Names: []string{"Kim", "Jo"}},
		},
	}
}

// fixedView is two invented sites: one in trouble, one quiet.
func fixedView() fold.View {
	niosh, _ := exposure.Named("us-niosh")
	eu, _ := exposure.Named("eu-2017-164")
	quay := fleet.Site{
		ID: "quay", Name: "Quay Street hall", Zone: zone("Europe/Dublin"), Limits: eu, Activity: exposure.Heavy,
		Procedure: "Everyone out by the north door.\nCall the site office from outside.\nNobody goes back before the office says so.",
		Contacts:  []fleet.Contact{{Name: "Site office", Phone: "+353 1 555 0100", Email: "office@quay.example"}},
		Spaces: []fleet.Space{
			{ID: "hall", Name: "Main hall", VolumeM3: 1800, ProtectAboveC: ptr(5.0)},
			{ID: "store", Name: "Paint store", ProtectAboveC: ptr(8.0), ProtectBelowC: ptr(30.0)},
		},
	}
	mill := fleet.Site{ID: "mill", Name: "Mill Road bridge deck", Zone: zone("America/Chicago"), Limits: niosh, Spaces: []fleet.Space{{ID: "deck", Name: "Deck tent"}}}
	v := fold.View{At: instant(0)}
	v.Sites = []fold.SiteView{
		{Site: quay, Spaces: []fold.SpaceView{hallView(quay.Spaces[0]), storeView(quay.Spaces[1])}},
		{Site: mill, Silent: true, Spaces: []fold.SpaceView{{Space: mill.Spaces[0], Site: "mill", Heaters: []string{"M-01"}}}},
	}
	v.Heaters = []fold.HeaterView{litHeater(), stoppedHeater(), silentHeater(), spareHeater()}
	for i := range v.Heaters {
		v.Heaters[i].Configured = v.Heaters[i].Node
	}
	v.Alarms = fixedAlarms()
	return v
}

func hallView(sp fleet.Space) fold.SpaceView {
	return fold.SpaceView{
		Space: sp, Site: "quay", Heaters: []string{"H-07", "H-08"},
		HasCO: true, COHeard: true, COPPM: 63, COAt: instant(-30 * time.Second),
		Air: exposure.Figures{
			At: instant(0), PPM: 63, Peak: 130, TWA15PPM: 104.2, TWA8hPPM: 17.3, COHbPercent: 4.1,
			Coverage: 0.98, Coverage15: 1, Coverage8h: 0.94,
		},
		AirChanges: &exposure.AirChange{PerH: 2.4, Low: 2, High: 2.9, Decays: 3},
		HasTemp:    true, TempC: 9.4, TempAt: instant(-30 * time.Second),
		HasHarm: true, HarmEarly: 95 * time.Minute, HarmLate: 4 * time.Hour,
	}
}

func storeView(sp fleet.Space) fold.SpaceView {
	return fold.SpaceView{Space: sp, Site: "quay", Heaters: []string{"H-09"}}
}

func litHeater() fold.HeaterView {
	return fold.HeaterView{
		Heater: fleet.Heater{
			ID: "H-07", Node: "n-07", Site: "quay", Space: "hall", InputKW: 44, BurnLPerH: 4.4, TankL: 52, Fuel: "kerosene",
			Thermostat: &fleet.Thermostat{SetpointC: 12, DifferentialC: 2},
		},
		Heard: instant(-20 * time.Second), Lit: true, LitSince: instant(-25 * time.Minute), LitSeen: instant(-20 * time.Second),
		Known: reading.Sample{
			Has: reading.Flame | reading.CO | reading.Temp | reading.Runtime | reading.Fuel, On: reading.Flame,
			CO: 63, Temp: 11.2, Runtime: 4.2e5, Fuel: 0.42,
		},
		Hours:    outcome.Hours{Type: "hours", At: instant(0), Heater: "H-07", Hours: 116.7, Low: 116.5, High: 118.1, Source: "both", Burns: 210, Ignitions: 212},
		HasLevel: true, Level: 0.42,
		Last:      burn("H-07", -3*time.Hour, -2*time.Hour, outcome.Satisfied),
		Standings: standings(service.DueSoon, 3), Endings: map[outcome.Ending]int{outcome.Satisfied: 198, outcome.Planned: 12},
	}
}

func stoppedHeater() fold.HeaterView {
	last := burn("H-08", -95*time.Minute, -50*time.Minute, outcome.Unexplained)
	last.Evidence = []string{"It burned 45 min; a usual burn here lasts 20 to 30 min.", "Mains were present.", "The room was at 9.4 °C, below the setpoint."}
	last.Checks = []string{"Fuel in the tank, valve open, filter clear.", "Flame sensor clean and seated."}
	return fold.HeaterView{
		Heater: fleet.Heater{ID: "H-08", Node: "n-08", Site: "quay", Space: "hall", InputKW: 29, BurnLPerH: 2.9, TankL: 40, Dusty: true},
		Heard:  instant(-40 * time.Second), Last: last,
		Known:     reading.Sample{Has: reading.Flame | reading.CO | reading.Temp | reading.Supply, On: reading.Supply, CO: 58, Temp: 9.4},
		Hours:     outcome.Hours{Hours: 512, Low: 512, High: 515, Source: "flame", Burns: 300, Ignitions: 309},
		Standings: standings(service.Overdue, -6), Endings: map[outcome.Ending]int{outcome.Unexplained: 5},
	}
}

func silentHeater() fold.HeaterView {
	return fold.HeaterView{
		Heater: fleet.Heater{ID: "M-01", Node: "m-01", Site: "mill", Space: "deck", InputKW: 60},
		Heard:  instant(-3 * time.Hour), Silent: true,
		Known: reading.Sample{Has: reading.Flame | reading.Temp, Temp: -2.5},
		Hours: outcome.Hours{Hours: 80, Low: 78, High: 84, Source: "counter"},
	}
}

func spareHeater() fold.HeaterView {
	return fold.HeaterView{Heater: fleet.Heater{ID: "H-09 <b>&\"x\"", Site: "quay", Space: "store"}, OutOfWork: true}
}

func burn(heater string, from, to time.Duration, e outcome.Ending) *outcome.Burn {
	return &outcome.Burn{
		Type: "burn", At: instant(to), Heater: heater, Start: instant(from), End: instant(to),
		Seconds: (to - from).Seconds(), Ending: e,
	}
}

func standings(state service.State, days int) []service.Standing {
	today := service.DateOf(instant(0), zone("Europe/Dublin"))
	due, early, late := today+service.Date(days), today+service.Date(days-1), today+service.Date(days+4)
	return []service.Standing{
		{Task: "service-500h", State: state, HoursSince: 462.5, HoursHigh: 464, HoursLeft: ptr(37.5), DueOn: &due, DueEarly: &early, DueLate: &late,
			Trigger: service.Trigger{Kind: service.BurnerHours, Every: 500}, Logged: true, Last: today - 60},
		{Task: "photocell", State: service.OK, DueOn: ptr(today + 40), DueEarly: ptr(today + 40), DueLate: ptr(today + 40),
			Trigger: service.Trigger{Kind: service.Season, Every: 2}, Last: today - 20},
	}
}

func fixedAlarms() []alarm.Alarm {
	share := 1.0
	return []alarm.Alarm{
		{ID: "H-08.shutdown-unexplained.5", Key: alarm.Key{Kind: alarm.ShutdownUnexplained, Site: "quay", Space: "hall", Heater: "H-08"}, N: 5, Seq: 1,
			State: alarm.Unacknowledged, Priority: alarm.High, Active: true, Since: instant(-50 * time.Minute), Raised: instant(-48 * time.Minute), Changed: instant(-48 * time.Minute),
			Text:     "Heater H-08 stopped, Main hall, Quay Street hall, Wed 14 Jan 14:14 GMT, with no reason known; space too cold in 95 min to 4 h.",
			Findings: alarm.Findings{HasHarm: true, HarmEarly: 95 * time.Minute, HarmLate: 4 * time.Hour, Evidence: []string{"Mains were present."}}},
		{ID: "H-08.service-due.2", Key: alarm.Key{Kind: alarm.ServiceDue, Site: "quay", Space: "hall", Heater: "H-08", Detail: "service-500h"}, N: 2, Seq: 1,
			Findings: alarm.Findings{Task: "500-hour service"},
			State:    alarm.Unacknowledged, Priority: alarm.Low, Active: true, Since: instant(-30 * time.Hour), Raised: instant(-30 * time.Hour), Changed: instant(-30 * time.Hour),
			Text: "Service due, heater H-08, Main hall, Quay Street hall: 500-hour service."},
		{ID: "mill.site-silent.1", Key: alarm.Key{Kind: alarm.SiteSilent, Site: "mill"}, N: 1, Seq: 2,
			State: alarm.Shelved, Priority: alarm.High, Active: true, Since: instant(-3 * time.Hour), ShelvedUntil: instant(5 * time.Hour), HeldBy: "Kim", Why: "generator change",
			Text: "No word from any sensor unit, Mill Road bridge deck."},
		{ID: "quay.hall.co-short-term.1", Key: alarm.Key{Kind: alarm.COShortTerm, Site: "quay", Space: "hall"}, N: 1, Seq: 1,
			State: alarm.Unacknowledged, Priority: alarm.Critical, Active: true, Since: instant(-4 * time.Minute), Raised: instant(-4 * time.Minute), Changed: instant(-4 * time.Minute),
			Value: 104.2, Worst: 118.3, Limit: 100, HasValue: true, Unit: "ppm",
			Text:     "Site's procedure first, people out and fresh air; then the heater. CO over the short-term limit, Main hall, Quay Street hall: 15-minute average 104 ppm, limit 100 ppm, since Wed 14 Jan 15:00 GMT.",
			Findings: alarm.Findings{Coverage: &share, Heaters: []string{"H-07", "H-08"}}},
		{ID: "quay.hall.co-ceiling.1", Key: alarm.Key{Kind: alarm.COCeiling, Site: "quay", Space: "hall"}, N: 1, Seq: 3,
			State: alarm.Latched, Priority: alarm.Critical, Acked: true, AckedBy: "Kim", AckedAt: instant(-25 * time.Hour), Since: instant(-26 * time.Hour), Cleared: instant(-24 * time.Hour),
			Value: 12, Worst: 268, Limit: 200, HasValue: true, Unit: "ppm", Text: "CO at the ceiling, Main hall: readings are back to normal, but it stays until the site has cleared the space."},
	}
}

// fill writes a day of readings, burns, an alarm's history with its
// messages, and a service log.
func fill(t testing.TB, s *store.Store, l *ledger.Ledger) {
	t.Helper()
	ctx := t.Context()
	var lines []record.Line
	for _, node := range []reading.NodeID{"n-07", "n-08"} {
		lines = append(lines, dayOf(node)...)
	}
	if _, err := s.Keep(ctx, store.Batch{Lines: lines}); err != nil {
		t.Fatal(err)
	}
	refused := record.Refused{Node: "n-07", Reason: reading.BadUnit, Detail: `record 2: unit "F" is none that a temperature may have; use Cel`}
	quarantine(t, s, `[{"n":"temp","u":"F","v":52}]`, refused, time.Hour)
	unlisted(t, s, "n-21", 3*time.Hour)
	unlisted(t, s, "m-O1", 26*time.Minute)
	if err := l.Commit(ctx, fixedBatch()); err != nil {
		t.Fatal(err)
	}
	id := "quay.hall.co-short-term.1/1/kim/text"
	if err := l.MarkFailed(ctx, id, instant(-3*time.Minute), instant(-2*time.Minute), io.ErrUnexpectedEOF); err != nil {
		t.Fatal(err)
	}
	if err := l.MarkSent(ctx, id, instant(-2*time.Minute)); err != nil {
		t.Fatal(err)
	}
}

// unlisted keeps a message of a node that the configuration does not list.
func unlisted(t testing.TB, s *store.Store, node reading.NodeID, ago time.Duration) {
	t.Helper()
	refused := record.Refused{Node: node, Reason: reading.NotListed, Detail: "readable, but the configuration lists no heater with this node"}
	quarantine(t, s, "[]", refused, ago)
}

// quarantine keeps a node's message that was refused so long ago.
func quarantine(t testing.TB, s *store.Store, payload string, why record.Refused, ago time.Duration) {
	t.Helper()
	why.Topic = "sites/quay/nodes/" + string(why.Node) + "/telemetry"
	q := store.Quarantined{At: instant(-ago), Refused: why, Payload: []byte(payload)}
	if _, err := s.Keep(t.Context(), store.Batch{Quarantined: []store.Quarantined{q}}); err != nil {
		t.Fatal(err)
	}
}

func dayOf(node reading.NodeID) []record.Line {
	var out []record.Line
	for d := -24 * time.Hour; d < 0; d += 2 * time.Minute {
		if d > -9*time.Hour && d < -8*time.Hour {
			continue // a silence
		}
		h := d.Hours()
		x := reading.Sample{At: instant(d), Has: reading.Flame | reading.CO | reading.Temp, CO: float32(20 + 18*math.Sin(h)), Temp: float32(10 + 3*math.Sin(h/2))}
		if int(-h*2)%3 == 0 {
			x.On = reading.Flame
		}
		out = append(out, record.Line{At: x.At, Pack: &reading.Pack{Node: node, Samples: []reading.Sample{x}}})
	}
	return out
}

func fixedBatch() ledger.Batch {
	b := ledger.Batch{Cursor: 1, Alarms: fixedAlarms()}
	for i := range b.Alarms {
		a := b.Alarms[i]
		b.Transitions = append(b.Transitions, alarm.Transition{At: max(a.Changed, a.Since), Alarm: a, From: alarm.Normal, To: a.State, Event: alarm.Raise})
	}
	endings := []outcome.Ending{outcome.Satisfied, outcome.Satisfied, outcome.Planned, outcome.SupplyLost, outcome.FuelOut, outcome.SiteWide, outcome.Unexplained, outcome.Unknown}
	for i := range 16 {
		from := -24*time.Hour + time.Duration(i)*88*time.Minute
		b.Burns = append(b.Burns, ledger.BurnRow{Burn: *burn("H-07", from, from+40*time.Minute, endings[i%len(endings)]), Final: true})
	}
	b.Entries = []ledger.EntryRow{
		{Line: 3, At: instant(-60 * 24 * time.Hour), Entry: record.Entry{Heater: "H-07", Task: "service-500h", Tasks: []string{"photocell"}, By: "Kim", Note: "Filter torn, replaced.", MeterH: ptr(412.5), Found: "intake filter torn"}},
		{Line: 4, At: instant(-20 * time.Hour), Entry: record.Entry{Heater: "H-07", Task: "refuel", By: "Kim", Litres: ptr(30.0), Note: "=HYPERLINK(\"x\")"}},
	}
	b.Jobs = []ledger.Job{{ID: "quay.hall.co-short-term.1/1/kim/text", Alarm: "quay.hall.co-short-term.1", Seq: 1, Channel: "text", Person: "Kim", Created: instant(-4 * time.Minute), NextAttempt: instant(-4 * time.Minute)}}
	return b
}
