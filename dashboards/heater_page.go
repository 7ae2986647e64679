package dashboards

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fold"
	"heaterd/alerts/ledger"
	"heaterd/alerts/outcome"
	"heaterd/alerts/service"
	"heaterd/alerts/shutdown"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// How much of its service log and of its node's refused messages a heater's
// page lists.
const (
	entriesShown  = 15
	refusedBeside = 5
)

// heaterPage is one heater.
type heaterPage struct {
	heaterRow
	Ranges    []lookBack
	Chart     heaterChart
	Alarms    []card
	CanWait   []card // those of low priority
	Tasks     []taskView
	Later     []taskView // those of them that nobody needs to think of yet
	Log       []entryView
	Refused   []refusedView
	Unheard   string // that nothing ever came from its node; empty: something did
	Expected  string // topic under which its node is to publish, while it was not heard
	Checklist []service.Check
	Found     []string // what may have been found wrong: the checks after stops
	Doable    []service.Task
	Readings  []readingView
	Zone      *time.Location
}

// lookBack is a range of time to look at.
type lookBack struct {
	Key, Label string
	For        time.Duration // 0: the season
	Here       bool
}

var ranges = []lookBack{
	{Key: "24h", Label: "24 hours", For: 24 * time.Hour},
	{Key: "7d", Label: "7 days", For: 7 * 24 * time.Hour},
	{Key: "season", Label: "Season"},
}

// chosenRange gives the range asked for, the first where it is none, and the
// list with the chosen one marked.
func chosenRange(key string) (lookBack, []lookBack) {
	all := slices.Clone(ranges)
	i := max(0, slices.IndexFunc(all, func(s lookBack) bool { return s.Key == key }))
	all[i].Here = true
	return all[i], all
}

// taskView is a task and where it stands.
type taskView struct {
	service.Standing
	Title string
	Today service.Date // at the site
}

func (p *pages) viewTask(st service.Standing, today service.Date) taskView {
	return taskView{st, p.taskTitle(st.Task), today}
}

// entryView is a line of the service log.
type entryView struct {
	ledger.EntryRow
	Titles []string
	Found  string       // what was found wrong, items of a list by their texts
	Place  ledger.Place // where the heater stood then
	Then   string       // that place in words, where it is not where the heater stands now
	Kept   bool         // the configuration has its heater
	Open   bool         // it may be withdrawn
	Zone   *time.Location
}

func (p *pages) heaterOf(r *http.Request) (*fold.HeaterView, error) {
	id := r.PathValue("id")
	if h := p.take().heaters[id]; h != nil {
		return h, nil
	}
	return nil, notFound("heater", id)
}

// forms gives what the forms of a heater's page need.
func (p *pages) forms(s *Stock, h *fold.HeaterView) heaterPage {
	return heaterPage{heaterRow: p.row(s, h), Zone: s.zone(h.Site), Checklist: service.LookOver(), Found: foundWrong(h), Doable: p.doable()}
}

// doable are the tasks that are ticked off as done. The look-over is not among
// them: it has a form of its own, which wants an answer to every item.
func (p *pages) doable() []service.Task {
	return slices.DeleteFunc(slices.Clone(p.o.Plan.Tasks), func(t service.Task) bool { return t.ID == service.LookOverTask })
}

func (p *pages) heater(w http.ResponseWriter, r *http.Request) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	s := p.take()
	body := p.forms(s, h)
	var chosen lookBack
	chosen, body.Ranges = chosenRange(r.URL.Query().Get("range"))
	if body.Chart, err = p.heaterChart(r.Context(), s, h, chosen, p.unitsOf(r)); err != nil {
		return err
	}
	of := func(low bool) []card {
		return s.cards(p.viewAlarms(s, s.where(func(a *alarm.Alarm) bool { return s.concerns(a, h) && (a.Priority == alarm.Low) == low })))
	}
	body.Alarms, body.CanWait = of(false), of(true)
	body.Tasks, body.Later = soonAndLater(p.tasks(s, h))
	body.Readings = readings(h, p.unitsOf(r))
	if body.Log, err = p.entries(r.Context(), s, h.ID); err != nil {
		return err
	}
	if h.Node != "" { // an empty one would stand for all nodes
		if body.Unheard, err = p.unheard(r.Context(), h.Node); err != nil {
			return err
		}
		if h.Heard == 0 {
			body.Expected = p.expected(h)
		}
		if body.Refused, err = p.refused(r.Context(), h.Node, refusedBeside); err != nil {
			return err
		}
	}
	return p.show(w, r, "heater", Page{Title: "Heater " + h.ID, Here: "fleet", Live: true, At: s.At, Zone: body.Zone}, body)
}

// notHeardOf is said of a unit that was never heard under the name it has here.
const notHeardOf = "No unit of this name has been heard yet; check the label."

// unheard says that nothing ever came from a node; empty where something did.
func (p *pages) unheard(ctx context.Context, node reading.NodeID) (string, error) {
	heard, err := p.o.Store.Heard(ctx, node)
	if heard || err != nil {
		return "", err
	}
	return notHeardOf, nil
}

// concerns reports whether an alarm is told on a heater's page: its own, that
// of the air or the warmth of its space, and that of several heaters of the
// site at once, which stands for its own.
func (s *Stock) concerns(a *alarm.Alarm, h *fold.HeaterView) bool {
	if cause := s.alarms[a.Cause]; cause != nil && a.State == alarm.Suppressed && several(cause, h) {
		return false
	}
	return a.Heater == h.ID || several(a, h) || a.Heater == "" && a.Space != "" && a.Site == h.Site && a.Space == h.Space
}

// several reports whether an alarm is about several heaters of a site, with
// this one among them.
func several(a *alarm.Alarm, h *fold.HeaterView) bool {
	return a.Heater == "" && a.Space == "" && a.Site == h.Site && slices.Contains(a.Findings.Heaters, h.ID)
}

// tasks lists what comes next, most urgent first; tasks that never come by
// themselves are left out.
func (p *pages) tasks(s *Stock, h *fold.HeaterView) []taskView {
	var out []taskView
	today := service.DateOf(s.At, s.zone(h.Site))
	for _, st := range h.Standings {
		if st.State != service.OK || st.DueOn != nil {
			out = append(out, p.viewTask(st, today))
		}
	}
	slices.SortStableFunc(out, func(a, b taskView) int {
		return cmp.Or(cmp.Compare(b.State.Rank(), a.State.Rank()), cmp.Compare(dueOr(a.DueOn), dueOr(b.DueOn)))
	})
	return out
}

// soonAndLater cuts a list of tasks, most urgent first, behind what is due
// within the reach of a visit list, and behind the first in any case.
func soonAndLater(all []taskView) (soon, later []taskView) {
	n := min(1, len(all))
	for n < len(all) && (all[n].State != service.OK || dueOr(all[n].DueOn) <= all[n].Today+service.VisitHorizon) {
		n++
	}
	return all[:n], all[n:]
}

func dueOr(d *service.Date) service.Date {
	if d == nil {
		return 1<<31 - 1
	}
	return *d
}

// entryTitles are the words of the service log that are no tasks of a plan.
var entryTitles = map[string]string{"refuel": "Refuelled", "meter": "Hour meter read", "fit-node": "Sensor unit fitted", record.StopTask: "Planned stop", record.StopEndTask: "Planned stop ended"}

func (p *pages) taskTitle(id string) string {
	if t, ok := entryTitles[id]; ok {
		return t
	}
	if i := p.o.Plan.Index(id); i >= 0 {
		return p.o.Plan.Tasks[i].Title
	}
	return id
}

// entries gives the newest lines of a heater's service log, by when they were,
// newest first.
func (p *pages) entries(ctx context.Context, s *Stock, heater string) ([]entryView, error) {
	rows, err := p.o.Ledger.Entries(ctx, heater, 0, 0)
	if err != nil {
		return nil, err
	}
	stood, err := p.stood(ctx, s, heater)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(rows, func(a, b ledger.EntryRow) int {
		return cmp.Or(cmp.Compare(b.When(), a.When()), cmp.Compare(b.Line, a.Line))
	})
	return p.viewEntries(s, rows[:min(len(rows), entriesShown)], stood), nil
}

func (p *pages) viewEntries(s *Stock, rows []ledger.EntryRow, stood map[string]course) []entryView {
	out := make([]entryView, 0, len(rows))
	for _, e := range rows {
		out = append(out, p.viewEntry(s, e, stood[e.Entry.Heater]))
	}
	return out
}

func (p *pages) viewEntry(s *Stock, e ledger.EntryRow, stood course) entryView {
	v := entryView{EntryRow: e, Found: found(e.Entry), Place: stood.place(e.When())}
	v.Zone, v.Then = s.zone(v.Place.Site), s.then(v.Place, stood)
	v.Kept = s.heaters[e.Entry.Heater] != nil
	v.Open = v.Kept && e.Withdrawn == nil && p.stays(e) == ""
	for _, id := range tasksOf(e.Entry) {
		v.Titles = append(v.Titles, p.taskTitle(id))
	}
	return v
}

// found says what was found wrong; a look-over keeps the ids of its items.
func found(e record.Entry) string {
	switch {
	case e.Found == "":
		return ""
	case e.Task != "look-over":
		return "Found: " + e.Found
	}
	all := service.Failed(e.Found)
	for _, c := range service.LookOver() {
		if i := slices.Index(all, c.ID); i >= 0 {
			all[i] = c.Text
		}
	}
	return "Not in order: " + strings.Join(all, " ")
}

func tasksOf(e record.Entry) []string { return append([]string{e.Task}, e.Tasks...) }

// foundWrong are the checks of the last ending, as answers to what was found.
func foundWrong(h *fold.HeaterView) []string {
	if h.Last == nil || h.Last.Ending == outcome.Satisfied {
		return nil
	}
	return h.Last.Checks
}

// readingView is one quantity a node last sent.
type readingView struct{ Name, Value string }

// readings lists the last value of every quantity the node ever sent.
func readings(h *fold.HeaterView, u Units) []readingView {
	k := h.Known
	var out []readingView
	add := func(q reading.Quantity, name, value string) {
		if k.Carries(q) {
			out = append(out, readingView{name, value})
		}
	}
	yes := func(q reading.Quantity) string {
		if k.On&q != 0 {
			return "yes"
		}
		return "no"
	}
	add(reading.Flame, "Flame seen", yes(reading.Flame))
	add(reading.Runtime, "Run time counted by the sensor unit", fixed(k.Runtime/3600, 1)+" h")
	add(reading.CO, "CO", fixed(float64(k.CO), 1)+" ppm")
	add(reading.Temp, "Temperature", u.Temp(float64(k.Temp)))
	add(reading.Supply, "Mains present", yes(reading.Supply))
	add(reading.Call, "Thermostat asks for heat", yes(reading.Call))
	add(reading.Fuel, "Fuel level", fixed(float64(k.Fuel)*100, 0)+" %")
	add(reading.BatteryLevel, "Battery", fixed(float64(k.Battery)*100, 0)+" %")
	add(reading.BatteryVolts, "Battery", fixed(float64(k.Battery), 2)+" V")
	return out
}

// refusedView is a message of a node that could not be read.
type refusedView struct {
	At      reading.Instant
	Topic   string
	Node    reading.NodeID
	Reason  reading.Reason
	Detail  string
	Payload string
}

// payloadShown is how much of an unreadable message is shown, bytes.
const payloadShown = 600

func (p *pages) refused(ctx context.Context, node reading.NodeID, limit int) ([]refusedView, error) {
	all, err := p.o.Store.ListQuarantine(ctx, node, limit, payloadShown)
	if err != nil {
		return nil, err
	}
	var out []refusedView
	for _, q := range all {
		out = append(out, refusedView{
			At: q.At, Topic: q.Refused.Topic, Node: q.Refused.Node, Reason: q.Refused.Reason,
			Detail: q.Refused.Detail, Payload: printable(q.Payload),
		})
	}
	return out, nil
}

// TrendText says in one sentence how the heater's unexplained endings lie over
// its burner hours, by which test, and how long it runs between two.
func (v heaterPage) TrendText() string {
	o, t := shutdown.DefaultOptions(), v.Trend
	if t == nil {
		return fmt.Sprintf("Too few to judge: it takes %d unexplained endings. One counts once its reason is final, some days later.", o.TrendFrom)
	}
	return fmt.Sprintf("%s; from %d endings in %s burner hours, where %d are the fewest that are judged; "+
		"now %s h between two in the mean, %s to %s h with %s %% confidence.",
		t.Verdict, t.Endings, fixed(t.Hours, 0), o.TrendFrom,
		fixed(t.MTBFH, 1), fixed(t.MTBFLowH, 1), fixed(t.MTBFHiH, 1), fixed(o.Confidence*100, 0))
}

// EndingWords are the endings as people read them.
func (heaterPage) EndingWords() map[outcome.Ending]string { return endingWords }
