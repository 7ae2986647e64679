package wording

import "heaterd/alerts/alarm"

// phrases are what is said about one kind. Templates may use the names that
// Language.values knows.
type phrases struct {
	title  string   // a few words, for a subject
	brief  string   // fewer, for a phone; empty: the title
	line   string   // one sentence
	short  string   // for a phone; plain letters
	heater []string // what to do about the heater, after everything else (people kinds), or what to do
	checks []string // first checks, where the findings bring none
	know   []string // cautions
	bring  []string // what a person who goes there takes along

	over, overShort string // in place of the line and the short text of any alarm whose condition is gone
}

// Language is everything that is said, in one language.
type Language struct {
	Tag     string // BCP 47
	kinds   map[alarm.Kind]phrases
	other   phrases // for a kind without phrases
	over    string  // line of an alarm whose condition is gone
	latched string  // line of one that waits for reset
	// The same of a space of which nothing tells any more that it is well.
	unwatched, unmeasured string
	unendedFor            map[alarm.State]string

	held     map[alarm.State]string // goes after a line of one that is held back
	late     string                 // goes before a line whose evidence came late
	shortFor map[alarm.State]string
	please   string // goes after a short message about what ended and still asks for an answer
	lateTag  string
	again    string // {why}, of what is told again
	againTag string // goes before a short text of the same
	air      string // goes before a line that calls somebody to where an alarm about CO stands
	airShort string // …
	airTag   string // …

	// endedTag begins the subject of what is over, in place of its priority, and
	// latchedTag goes before that of air that waits to be cleared: a list of mails
	// shows nothing else.
	endedTag, latchedTag string

	people   []string // people out and fresh air
	noProc   string   // said where the site gave no procedure
	noCall   string
	know     []string // cautions of every people kind
	enter    []string // what comes before the checks of every kind that sends somebody to a heater
	heads    heads
	coverage string            // {share}, {window}
	least    string            // a share that rounds to nothing
	limit    string            // what a value stands beside
	action   string            // the same of an estimate that no standard limits
	activity map[string]string // by the site's word for it
	heldAir  string            // of figures that rest on what was said last
	window   map[alarm.Kind]string
	ahead    string // of a clock; {span}
	behind   string // …
	soon     string // a span until harm; {harm}
	earliest string // where it may be never; {harm}
	within   string // where it may be at any time until then; {harm}
	now      string // where it is here
	priority map[alarm.Priority]string
	earlierWords

	takenLine, takenWord map[alarm.State]string // who has acknowledged or shelved: {who}; whole, and for a phone
	seenLine             string                 // of a heater to look at: {heater}, {room}; what follows is
	seen                 map[alarm.How]string   // how it stands; {since}
	seenWord             map[alarm.How]string   // the same for a phone, in plain letters
	seenMany             string                 // of many, for a phone; {lit}, {all}
}

// earlierWords say who was told before the reader: {who} and {at}.
type earlierWords struct {
	reader             string // of the reader
	told, also         string // of the first one, and of each after that
	unanswered, nobody string // goes after one, and after several, who were to answer
	unreached          string
	// For a phone, of the first one, in plain letters.
	shortReader, shortUnanswered, shortUnreached string
}

type heads struct {
	procedure, people, call, what, heater, bring, enter, checks, know, evidence, heaters, footer string

	link, see string // what the link is for: to answer, or only to look
}

// Lookup finds a language by its tag, "en" for any that there is not.
func Lookup(tag string) *Language {
	if l, ok := languages[tag]; ok {
		return l
	}
	return languages["en"]
}

var languages = map[string]*Language{"en": &english}

func (l *Language) of(k alarm.Kind) phrases {
	if p, ok := l.kinds[k]; ok {
		return p
	}
	return l.other
}
