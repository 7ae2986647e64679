package config

import (
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"heaterd/alerts/service"
)

const planAllowed = "default, or a list of tasks"

// Counted triggers take a number, the others only say that they are meant.
// The ranges are wide; the service plan has its own, narrower word.
var countedTriggers = []struct {
	key  string
	kind service.TriggerKind
	span span
}{
	{"burner_hours", service.BurnerHours, span{0.1, 100_000, "burner hours"}},
	{"days", service.Days, span{1, 3650, "days"}},
	{"per_season", service.Season, span{0.1, 100, "times a season"}},
	{"per_heavy_month", service.HeavyMonth, span{0.1, 30, "times a month while in heavy use"}},
}

var plainTriggers = []struct {
	key  string
	kind service.TriggerKind
}{
	{"deployment", service.Deployment},
	{"season_end", service.SeasonEnd},
	{"condition", service.Condition},
	{"sensor_date", service.SensorDate},
}

func readPlan(v value) service.Plan {
	switch {
	case !v.given():
		return service.Default()
	case v.node.Kind == yaml.ScalarNode:
		v.oneOf("default", "default")
		return service.Default()
	case v.node.Kind != yaml.SequenceNode:
		v.wrongType(planAllowed)
		return service.Plan{}
	}
	return readTasks(v)
}

func readTasks(v value) service.Plan {
	plan := service.Plan{Name: "own"}
	items := v.some("tasks", planAllowed)
	if len(items) > service.MaxTasks {
		v.fail(span{1, service.MaxTasks, "tasks"}.String(), "found %d tasks", len(items))
	}
	ids := names{}
	for _, item := range items {
		before := len(v.r.problems)
		t := item.table()
		task := readTask(t)
		ids.claim(t.get("id"), "task id", task.ID)
		if len(v.r.problems) == before {
			checkTask(t, task)
		}
		plan.Tasks = append(plan.Tasks, task)
	}
	return plan
}

func readTask(t *table) service.Task {
	task := service.Task{
		ID:       t.need("id", idAllowed).id(),
		Title:    t.need("title", "what is done, in a few words").line(""),
		Parts:    t.get("parts").texts(),
		Tools:    t.get("tools").texts(),
		Cautions: t.get("cautions").texts(),
		Steps:    t.get("steps").texts(),
		Source:   t.get("source").line(service.NoSource),
	}
	for _, item := range t.need("every", "a list such as [{burner_hours: 50}]").list("triggers such as {burner_hours: 50}") {
		task.Triggers = append(task.Triggers, readTrigger(item.table())...)
	}
	t.close()
	return task
}

// checkTask asks the service plan's own rules about one task.
func checkTask(t *table, task service.Task) {
	if err := (service.Plan{Name: "own", Tasks: []service.Task{task}}).Check(); err != nil {
		t.fail("", "%s", strings.ReplaceAll(err.Error(), "\n", "; "))
	}
}

func readTrigger(t *table) []service.Trigger {
	var found []service.Trigger
	for _, c := range countedTriggers {
		if v := t.get(c.key); v.given() {
			found = append(found, service.Trigger{Kind: c.kind, Every: v.number(c.span.low, c.span)})
		}
	}
	for _, p := range plainTriggers {
		if t.get(p.key).flag() {
			found = append(found, service.Trigger{Kind: p.kind})
		}
	}
	where := t.get("in").oneOf("", "dust", "clean")
	for i := range found {
		found[i].DustyOnly, found[i].CleanOnly = where == "dust", where == "clean"
	}
	t.close()
	if t.given() && len(found) != 1 {
		t.fail("one of burner_hours, days, per_season, per_heavy_month, deployment, season_end, condition, sensor_date",
			"found %d triggers in one entry", len(found))
	}
	return found
}

func readSeason(v value) service.HeatingSeason {
	t := v.table()
	season := service.DefaultSeason()
	season.Start = t.get("begins").monthDay(season.Start)
	season.End = t.get("ends").monthDay(season.End)
	t.close()
	return season
}

// monthDay gives a day of the year.
func (v value) monthDay(fallback service.MonthDay) service.MonthDay {
	const allowed = "a day of the year written MM-DD, such as 10-01"
	raw, ok := v.scalar(allowed, "!!str")
	if !ok {
		return fallback
	}
	// A leap year, so that 29 February can be written.
	d, err := time.Parse(time.DateOnly, "2024-"+raw)
	if err != nil {
		v.fail(allowed, "found %q", clip(raw))
		return fallback
	}
	return service.MonthDay{Month: d.Month(), Day: d.Day()}
}
