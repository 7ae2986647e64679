package notify

import (
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

// MessageKind says what a message is for.
type MessageKind string

// The kinds of message.
const (
	Raised   MessageKind = "raised"       // an alarm needs somebody
	Ended    MessageKind = "ended"        // its condition is gone
	Taken    MessageKind = "acknowledged" // somebody else has acknowledged it
	Shelved  MessageKind = "shelved"      // somebody else has shelved it
	Digest   MessageKind = "digest"       // what waited for the morning; written when it is sent
	State    MessageKind = "state"        // the state of a space, for a sounder or sign; written when it is sent
	Farewell MessageKind = "farewell"     // becomes one Ended, Taken or Shelved for each person who was told; never sent itself
	Trial    MessageKind = "test"
)

// Message is everything a sender needs: the body of a ledger.Job.
type Message struct {
	ID      string          `json:"id"` // the job's: the receiver's key against repetition; holds no "."
	Kind    MessageKind     `json:"kind"`
	At      reading.Instant `json:"at"` // of what it is about
	Channel string          `json:"channel"`

	Person   string `json:"person,omitempty"` // id; empty: whoever listens on the channel
	Name     string `json:"name,omitempty"`
	Address  string `json:"address,omitempty"` // e-mail address or number
	Language string `json:"language,omitempty"`

	Priority alarm.Priority `json:"priority,omitempty"`
	Alarm    *outcome.Alarm `json:"alarm,omitempty"`
	Short    string         `json:"short,omitempty"`   // for a phone, at most wording.MaxShort characters
	Subject  string         `json:"subject,omitempty"` // one line
	Text     string         `json:"text,omitempty"`
	HTML     string         `json:"html,omitempty"`
	Again    string         `json:"again,omitempty"`       // Raised: why it is told again
	Link     string         `json:"link,omitempty"`        // to the page
	Answer   string         `json:"acknowledge,omitempty"` // to acknowledge as Person, without signing in

	// Else are the person's other channels, tried in turn as soon as this one
	// fails.
	Else []Choice `json:"else,omitempty"`

	Topic  string            `json:"topic,omitempty"`  // State: where to publish
	Place  *Place            `json:"place,omitempty"`  // State: where something changed
	Change *alarm.Transition `json:"change,omitempty"` // Farewell: the end that is told, or that somebody acknowledged
}

// Choice is a channel with the person's address on it.
type Choice struct {
	Channel string `json:"channel"`
	Address string `json:"address,omitempty"`
}

// Place is one space of a site; an empty space is the site as a whole.
type Place struct {
	Site  string `json:"site"`
	Space string `json:"space,omitempty"`
}

// Urgent reports whether the message may not wait for anything.
func (m Message) Urgent() bool {
	return m.Kind == Raised && urgent(m.Priority)
}

// jobID follows from what the message is, so that planning again gives the
// same. It holds lower-case letters, digits and "-" only.
func jobID(parts ...string) string {
	h := sha256.New()
	for _, part := range parts {
		h.Write([]byte(strconv.Itoa(len(part)) + ":" + part))
	}
	sum := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(h.Sum(nil)[:15])
	return "m-" + strings.ToLower(sum)
}

// mustJSON writes what always can be written.
func mustJSON(v any) json.RawMessage {
	raw, err := json.Marshal(v)
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return raw
}

// ReadMessage takes up the body of a job.
func ReadMessage(body []byte) (Message, error) {
	var m Message
	err := json.Unmarshal(body, &m)
	return m, err
}
