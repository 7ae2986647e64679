package notify

import (
	"slices"
	"strings"
	"time"

	"heaterd/alerts/notify/rota"
	"heaterd/alerts/wording"
)

// Settings are the checked on_call and notify parts of the configuration.
type Settings struct {
	Channels []Channel
	People   []Person
	Rota     Rota
	Steps    []Step
	Fallback string        // id of the person told when nobody else is; mandatory with a rota
	Digest   time.Duration // wall-clock time of day of the morning digest
	BaseURL  string        // address of the pages, for the links in messages
	Secret   []byte        // signs acknowledge links; from a file
}

// The kinds of channel.
const (
	Webhook = "webhook"
	Mail    = "mail"
	MQTT    = "mqtt"
	Text    = "text"
)

// Channel is one way to send.
type Channel struct {
	ID       string
	Kind     string
	URL      string // webhook and text: where to post; mail: smtp://host:port or smtps://
	Secret   []byte // webhook: Standard Webhooks key; mail: password
	User     string
	From     string // mail
	To       []string
	Topic    string // mqtt
	Template string // text: body of the request, text/template over the message
	Header   map[string]string
	Insecure bool // mail: send without TLS, said outright
}

// Person is someone who can be told.
type Person struct {
	ID       string
	Name     string
	Channels []string // channel ids, first choice first
	Address  string   // e-mail address or number, where a channel needs one
	// Addresses are by channel id, where one address does not fit all.
	Addresses map[string]string
	Language  string
	Quiet     *Window // hours in which what may wait waits
	Zone      *time.Location
}

// person finds somebody by id.
func (s *Settings) person(id string) (Person, bool) {
	i := slices.IndexFunc(s.People, func(p Person) bool { return p.ID == id })
	if i < 0 {
		return Person{}, false
	}
	return s.People[i], true
}

// Speaks reports whether there are texts in a language of its own, by its tag;
// who wants another is told in English.
func Speaks(tag string) bool {
	base, _, _ := strings.Cut(tag, "-")
	return base == "en" || wording.Lookup(tag) != wording.Lookup("en")
}

// Window is a stretch of the day by wall clock; To before From runs over midnight.
type Window struct{ From, To time.Duration }

// Rota says who is on call when.
type Rota struct {
	Zone      *time.Location
	Turns     []string // people in turn, a week each
	Begins    string   // date YYYY-MM-DD of the first turn
	HandOver  time.Duration
	Overrides []Override
	Holidays  []Holiday
	Calendar  string // path or URL of an iCalendar file, instead of turns
}

// The stretches in which somebody is on call, or takes no turn, whatever the
// turns say.
type (
	Override = rota.Override
	Holiday  = rota.Holiday
)

// Step is one step of telling people until somebody acknowledges, or what is
// not about the air people breathe ends by itself.
type Step struct {
	After time.Duration // since the alarm began
	Who   string        // "on-call", "next", "everyone", "site", or a person id
	Via   []string      // channel ids; empty: the person's own
}
