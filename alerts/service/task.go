package service

// Task is one piece of service work.
type Task struct {
	ID       string
	Title    string
	Triggers []Trigger // the earliest wins
	Parts    []string
	Tools    []string
	Cautions []string
	Steps    []string
	Source   string // the document the interval comes from, or "common practice, no source"
}

// TriggerKind is what a task's interval counts.
type TriggerKind string

// The kinds of trigger.
const (
	BurnerHours TriggerKind = "burner-hours" // Every in burner hours since the task was last done
	Days        TriggerKind = "days"         // Every in days since the task was last done
	Season      TriggerKind = "season"       // Every times a season
	HeavyMonth  TriggerKind = "heavy-month"  // Every times a month while in heavy use
	Deployment  TriggerKind = "deployment"   // at each new deployment: before the first burn after moving or standing
	Condition   TriggerKind = "condition"    // when found necessary, never by itself
	SeasonEnd   TriggerKind = "season-end"   // once, when the season ends
)

// Trigger is one reason for a task to fall due.
type Trigger struct {
	Kind      TriggerKind
	Every     float64 // burner hours, days, or times, by Kind
	DustyOnly bool    // only for heaters that work in dust
	CleanOnly bool    // only for heaters that do not
}

// Plan is the list of tasks of a fleet.
type Plan struct {
	Name  string
	Tasks []Task
}
