package notify_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
	"heaterd/alerts/ledger"
	"heaterd/alerts/notify"
	"heaterd/alerts/notify/answerlink"
	"heaterd/alerts/notify/rota"
	"heaterd/ingest/reading"
)

// six is Monday 2026-01-12, 06:00 UTC.
var six = time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)

type duty struct{ on, next string }

func (d duty) OnCall(time.Time) (string, bool) { return d.on, d.on != "" }
func (d duty) Next(time.Time) (string, bool)   { return d.next, d.next != "" }

func (d duty) Stretches(from, to time.Time) []rota.Shift {
	return []rota.Shift{{Person: d.on, From: from, To: to}}
}

func yard() fleet.Fleet {
	return fleet.Fleet{
		Sites: []fleet.Site{{
			ID: "quay", Name: "Quay Street hall", Zone: time.UTC, Procedure: "Clear the hall.",
			Contacts: []fleet.Contact{{Name: "Site office", Email: "office@quay.example", Phone: "+15550100"}},
			Spaces:   []fleet.Space{{ID: "hall", Name: "Hall"}},
		}},
		Heaters: []fleet.Heater{{ID: "H-07", Site: "quay", Space: "hall"}},
	}
}

func crew() notify.Settings {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	return notify.Settings{
		Channels: []notify.Channel{
			{ID: "letters", Kind: notify.Mail},
			{ID: "phones", Kind: notify.Text, Template: `{"to":{{json .Address}}}`},
			{ID: "log", Kind: notify.Webhook},
			{ID: "signs", Kind: notify.MQTT, Topic: "heaterd/sites/{site}/spaces/{space}/alarm"},
		},
		People: []notify.Person{
			{ID: "mo", Name: "Mo", Channels: []string{"phones", "letters"}, Address: "mo@example.org", Addresses: map[string]string{"phones": "+15550101"},
				Zone: berlin, Quiet: &notify.Window{From: 22 * time.Hour, To: 8 * time.Hour}},
			{ID: "jo", Name: "Jo", Channels: []string{"letters"}, Address: "jo@example.org", Zone: time.UTC},
			{ID: "al", Name: "Al", Channels: []string{"letters"}, Address: "al@example.org", Zone: time.UTC},
		},
		Steps: []notify.Step{
			{Who: "on-call"}, {After: 10 * time.Minute, Who: "next"}, {After: 20 * time.Minute, Who: "everyone"},
		},
		Fallback: "al", Digest: 7 * time.Hour,
		BaseURL: "https://heaters.example", Secret: []byte("a secret of thirty-two bytes...."),
	}
}

func raise(kind alarm.Kind, p alarm.Priority, at time.Time) alarm.Transition {
	return alarm.Transition{
		At: reading.InstantOf(at), From: alarm.Normal, To: alarm.Unacknowledged, Event: alarm.Raise,
		Alarm: alarm.Alarm{
			ID: "H-07." + string(kind) + ".1", Key: alarm.Key{Kind: kind, Site: "quay", Space: "hall", Heater: "H-07"},
			N: 1, Seq: 1, State: alarm.Unacknowledged, Priority: p, Active: true,
			Since: reading.InstantOf(at), Raised: reading.InstantOf(at), Changed: reading.InstantOf(at),
		},
	}
}

func clearing(t alarm.Transition, after time.Duration) alarm.Transition {
	t.At = t.At.Add(after)
	t.From, t.To, t.Event = alarm.Unacknowledged, alarm.Returned, alarm.Clear
	t.Alarm.State, t.Alarm.Active, t.Alarm.Seq, t.Alarm.Cleared = alarm.Returned, false, t.Alarm.Seq+1, t.At
	return t
}

// listing writes jobs as people would: when, step, who, by what.
func listing(t *testing.T, jobs []ledger.Job) []string {
	t.Helper()
	var out []string
	for _, j := range jobs {
		m := body(t, j)
		line := fmt.Sprintf("%s %d %s %s>%s", j.NextAttempt.Time().Format("15:04:05"), j.Step, m.Kind, j.Person, j.Channel)
		if m.Address != "" {
			line += " " + m.Address
		}
		for _, c := range m.Else {
			line += " else " + c.Channel + " " + c.Address
		}
		out = append(out, line)
	}
	slices.Sort(out)
	return out
}

func body(t *testing.T, j ledger.Job) notify.Message {
	t.Helper()
	m, err := notify.ReadMessage(j.Body)
	if err != nil {
		t.Fatal(err)
	}
	if m.ID != j.ID || strings.Contains(j.ID, ".") || m.Channel != j.Channel || m.Person != j.Person {
		t.Errorf("job %+v and its body %+v differ", j, m)
	}
	return m
}

func expect(t *testing.T, got, want []string) {
	t.Helper()
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("planned\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

const everywhere = "06:00:00 0 state >signs"

func TestWhoIsToldWhen(t *testing.T) {
	heater := alarm.FlameNotHolding
	for _, c := range []struct {
		name   string
		duty   notify.Duty
		change alarm.Transition
		want   []string
	}{
		{"high: every way at once, then the next, then everyone", duty{"mo", "jo"}, raise(heater, alarm.High, six), []string{
			everywhere, "06:00:00 0 raised >log",
			"06:00:00 0 raised mo>phones +15550101", "06:00:00 0 raised mo>letters mo@example.org",
			"06:10:00 1 raised jo>letters jo@example.org",
			"06:20:00 2 raised mo>phones +15550101", "06:20:00 2 raised mo>letters mo@example.org",
			"06:20:00 2 raised jo>letters jo@example.org", "06:20:00 2 raised al>letters al@example.org",
		}},
		{"medium: first choice only, and not in quiet hours", duty{"mo", "jo"}, raise(heater, alarm.Medium, six), []string{
			everywhere, "06:00:00 0 raised >log",
			"07:00:00 0 raised mo>phones +15550101 else letters mo@example.org",
			"06:10:00 1 raised jo>letters jo@example.org",
			"07:20:00 2 raised mo>phones +15550101 else letters mo@example.org",
			"06:20:00 2 raised jo>letters jo@example.org", "06:20:00 2 raised al>letters al@example.org",
		}},
		{"critical air: the site's contacts too", duty{"jo", "jo"}, raise(alarm.COCeiling, alarm.Critical, six), []string{
			everywhere, "06:00:00 0 raised >log",
			"06:00:00 0 raised jo>letters jo@example.org",
			"06:10:00 1 raised jo>letters jo@example.org",
			"06:20:00 2 raised mo>phones +15550101", "06:20:00 2 raised mo>letters mo@example.org",
			"06:20:00 2 raised jo>letters jo@example.org", "06:20:00 2 raised al>letters al@example.org",
			"06:35:00 3 raised mo>phones +15550101", "06:35:00 3 raised mo>letters mo@example.org",
			"06:35:00 3 raised jo>letters jo@example.org", "06:35:00 3 raised al>letters al@example.org",
			"06:50:00 4 raised mo>phones +15550101", "06:50:00 4 raised mo>letters mo@example.org",
			"06:50:00 4 raised jo>letters jo@example.org", "06:50:00 4 raised al>letters al@example.org",
			"07:20:00 5 raised mo>phones +15550101", "07:20:00 5 raised mo>letters mo@example.org",
			"07:20:00 5 raised jo>letters jo@example.org", "07:20:00 5 raised al>letters al@example.org",
			"08:20:00 6 raised mo>phones +15550101", "08:20:00 6 raised mo>letters mo@example.org",
			"08:20:00 6 raised jo>letters jo@example.org", "08:20:00 6 raised al>letters al@example.org",
			"10:20:00 7 raised mo>phones +15550101", "10:20:00 7 raised mo>letters mo@example.org",
			"10:20:00 7 raised jo>letters jo@example.org", "10:20:00 7 raised al>letters al@example.org",
			"06:00:00 0 raised site:Site office>letters office@quay.example", "06:00:00 0 raised site:Site office>phones +15550100",
		}},
		{"nobody on call: the fallback", duty{}, raise(heater, alarm.High, six), []string{
			everywhere, "06:00:00 0 raised >log",
			"06:00:00 0 raised al>letters al@example.org",
			"06:10:00 1 raised al>letters al@example.org",
			"06:20:00 2 raised mo>phones +15550101", "06:20:00 2 raised mo>letters mo@example.org",
			"06:20:00 2 raised jo>letters jo@example.org", "06:20:00 2 raised al>letters al@example.org",
		}},
		{"low: the morning", duty{"mo", "jo"}, raise(alarm.RuntimeJump, alarm.Low, six.Add(-time.Hour)), []string{
			"05:00:00 0 state >signs", "05:00:00 0 raised >log",
			// 07:00 in Berlin is 06:00 UTC, within the quiet hours to 08:00.
			"07:00:00 0 digest mo>phones +15550101 else letters mo@example.org",
		}},
		{"its end: whoever was told", duty{"mo", "jo"}, clearing(raise(heater, alarm.High, six), 5*time.Minute), []string{
			"06:05:00 0 state >signs", "06:05:00 0 ended >log", "06:05:30 0 farewell >",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := notify.New(crew(), yard(), c.duty)
			expect(t, listing(t, p.Plan(c.change)), c.want)
		})
	}
}

func TestAirIsToldAtOnceWhateverTheSteps(t *testing.T) {
	s := crew()
	s.Steps = []notify.Step{{After: 15 * time.Minute, Who: "on-call"}}
	got := listing(t, notify.New(s, yard(), duty{"jo", "al"}).Plan(raise(alarm.COCeiling, alarm.Critical, six)))
	if !slices.Contains(got, "06:00:00 0 raised jo>letters jo@example.org") {
		t.Errorf("%q", got)
	}
	if s.Steps[0].After != 15*time.Minute {
		t.Error("the settings were changed")
	}
}

func TestNobodyIsToldOf(t *testing.T) {
	late := raise(alarm.COCeiling, alarm.Critical, six)
	late.Alarm.Late, late.To, late.Alarm.State = true, alarm.Latched, alarm.Latched
	acked := raise(alarm.FlameNotHolding, alarm.High, six)
	acked.From, acked.To, acked.Event = alarm.Unacknowledged, alarm.Acknowledged, alarm.Acknowledge
	for name, change := range map[string]alarm.Transition{"late": late, "acknowledged": acked} {
		if got := listing(t, notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(change)); !slices.Equal(got, []string{everywhere}) {
			t.Errorf("%s: %q", name, got)
		}
	}
	for _, k := range alarm.Kinds() {
		if got := notify.New(notify.Settings{}, yard(), nil).Plan(raise(k, alarm.High, six)); len(got) > 0 {
			t.Errorf("%s without channels: %q", k, listing(t, got))
		}
	}
}

func TestWebhookAlone(t *testing.T) {
	s := notify.Settings{Channels: []notify.Channel{{ID: "log", Kind: notify.Webhook}}}
	p := notify.New(s, yard(), nil)
	up := raise(alarm.COCeiling, alarm.Critical, six)
	expect(t, listing(t, p.Plan(up)), []string{"06:00:00 0 raised >log"})
	expect(t, listing(t, p.Plan(clearing(up, time.Minute))), []string{"06:01:00 0 ended >log"})
}

func TestBrokenChannelIsToldByAnother(t *testing.T) {
	down := raise(alarm.ChannelDown, alarm.High, six)
	down.Alarm.Key = alarm.Key{Kind: alarm.ChannelDown, Detail: "phones"}
	for _, line := range listing(t, notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(down)) {
		if strings.Contains(line, "phones") {
			t.Error(line)
		}
	}
}

// What stands at no site is told by the clocks of whoever reads it.
func TestWhatIsOfNoSiteIsToldByTheReadersClock(t *testing.T) {
	down := raise(alarm.ChannelDown, alarm.High, six)
	down.Alarm.Key = alarm.Key{Kind: alarm.ChannelDown, Detail: "signs"}
	for _, j := range notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(down) {
		m, err := notify.ReadMessage(j.Body)
		want := map[string]string{"mo": "07:00 CET", "jo": "06:00 UTC"}[m.Person]
		if err != nil || !strings.Contains(m.Short, want) {
			t.Errorf("%s reads %q, want %s (%v)", m.Person, m.Short, want, err)
		}
	}
}

func TestPlanningAgainGivesTheSame(t *testing.T) {
	for _, k := range alarm.Kinds() {
		for _, pr := range alarm.Priorities() {
			change := raise(k, pr, six)
			first := notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(change)
			again := notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(change)
			seen := map[string]bool{}
			for i := range first {
				if first[i].ID != again[i].ID || string(first[i].Body) != string(again[i].Body) {
					t.Fatalf("%s %s: %+v, then %+v", k, pr, first[i], again[i])
				}
				if seen[first[i].ID] {
					t.Errorf("%s %s: id %s twice", k, pr, first[i].ID)
				}
				seen[first[i].ID] = true
			}
		}
	}
}

func TestEachChangeHasItsOwnIDs(t *testing.T) {
	p := notify.New(crew(), yard(), duty{"mo", "jo"})
	again := raise(alarm.FlameNotHolding, alarm.High, six)
	again.Alarm.Seq = 5
	seen := map[string]bool{}
	for _, change := range []alarm.Transition{raise(alarm.FlameNotHolding, alarm.High, six), again} {
		for _, j := range p.Plan(change) {
			if seen[j.ID] {
				t.Errorf("%s twice", j.ID)
			}
			seen[j.ID] = true
		}
	}
}

func TestOneMorningMessageForADay(t *testing.T) {
	p := notify.New(crew(), yard(), duty{"jo", "al"})
	ids := map[string]bool{}
	for i := range 48 {
		for _, j := range p.Plan(raise(alarm.RuntimeJump, alarm.Low, six.Add(time.Duration(i)*time.Hour))) {
			if body(t, j).Kind == notify.Digest {
				ids[j.ID] = true
				if j.Alarm != "" {
					t.Error("the ledger would cancel it with the first alarm answered")
				}
			}
		}
	}
	if len(ids) != 3 { // 07:00 on the 12th, 13th and 14th
		t.Errorf("%d morning messages", len(ids))
	}
}

// A mail shows what its link is for, not its token; and only who can
// acknowledge is asked to.
func TestAMailSaysWhatItsLinkIsFor(t *testing.T) {
	p := notify.New(crew(), yard(), duty{"mo", "jo"})
	up := raise(alarm.COCeiling, alarm.Critical, six)
	for _, change := range []alarm.Transition{up, clearing(up, time.Hour)} {
		for _, j := range p.Plan(change) {
			m := body(t, j)
			if m.Kind == notify.State || m.Kind == notify.Farewell {
				continue
			}
			link, label := m.Link, "See the alarm"
			if m.Answer != "" {
				link, label = m.Answer, "See and acknowledge"
			} else if m.Person == "" && m.Kind == notify.Raised {
				label = "See and acknowledge"
			}
			if !strings.HasSuffix(m.HTML[:strings.Index(m.HTML, "</a></h2>\n<p>heaterd")], `<h2><a href="`+link+`">`+label) || !strings.Contains(m.Text, "\n"+label+"\n"+link+"\n") {
				t.Errorf("%s to %q reads\n%s", m.Kind, m.Person, m.HTML)
			}
		}
	}
}

func TestLinkAnswersAsThePersonTold(t *testing.T) {
	for _, j := range notify.New(crew(), yard(), duty{"mo", "jo"}).Plan(raise(alarm.COCeiling, alarm.Critical, six)) {
		m := body(t, j)
		mayAnswer := m.Kind == notify.Raised && m.Person != "" && !strings.HasPrefix(m.Person, "site:")
		if (m.Answer != "") != mayAnswer {
			t.Errorf("%s %s: link %q", m.Kind, m.Person, m.Answer)
		}
		if m.Answer == "" {
			continue
		}
		token := strings.TrimPrefix(m.Answer, "https://heaters.example/a/")
		got, err := answerlink.Open(crew().Secret, token, six.Add(time.Hour))
		if err != nil || got.Alarm != "H-07.co-ceiling.1" || got.Person != m.Person {
			t.Errorf("%s: opened %v %v", m.Person, got, err)
		}
		if !strings.Contains(m.Text, m.Answer) || !strings.Contains(m.HTML, token) {
			t.Errorf("%s: the text has no link:\n%s", m.Person, m.Text)
		}
	}
}

// Quiet hours and the morning go by the person's clocks when these change.
func TestQuietHoursOverChangeOfClocks(t *testing.T) {
	s := crew()
	p := func(at time.Time) string {
		for _, j := range notify.New(s, yard(), duty{"mo", "jo"}).Plan(raise(alarm.FlameNotHolding, alarm.Medium, at)) {
			if j.Person == "mo" {
				return j.NextAttempt.Time().Format(time.RFC3339)
			}
		}
		return ""
	}
	for at, want := range map[string]string{
		"2026-03-28T20:59:59Z": "2026-03-28T20:59:59Z", // 21:59:59 in Berlin
		"2026-03-28T21:00:00Z": "2026-03-29T06:00:00Z", // 22:00; 08:00 is summer time by then
		"2026-10-24T20:00:00Z": "2026-10-25T07:00:00Z", // 22:00; 08:00 is winter time by then
		"2026-10-25T06:59:59Z": "2026-10-25T07:00:00Z",
		"2026-10-25T07:00:00Z": "2026-10-25T07:00:00Z",
	} {
		when, _ := time.Parse(time.RFC3339, at)
		if got := p(when); got != want {
			t.Errorf("%s: told at %s, want %s", at, got, want)
		}
	}
}
