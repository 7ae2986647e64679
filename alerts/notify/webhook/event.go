package webhook

import (
	"bytes"
	"encoding/json"
	"time"

	"heaterd/alerts/notify"
	"heaterd/alerts/outcome"
)

// MaxBody is the longest body in bytes (Standard Webhooks 1.0: under 20 kB).
const MaxBody = 20_000

// Event is the body: a CloudEvents 1.0 event in structured JSON.
type Event struct {
	SpecVersion     string `json:"specversion"`
	ID              string `json:"id"`     // the same over all attempts
	Source          string `json:"source"` // the daemon's base URL, or heaterd
	Type            string `json:"type"`   // heaterd. and the kind of message: raised, ended, digest, test
	Subject         string `json:"subject,omitempty"`
	Time            string `json:"time"` // RFC 3339, UTC
	DataContentType string `json:"datacontenttype"`
	Data            Data   `json:"data"`
}

// Data is what the event is about.
type Data struct {
	Alarm       *outcome.Alarm `json:"alarm,omitempty"`
	Person      string         `json:"person,omitempty"`
	Name        string         `json:"name,omitempty"`
	Address     string         `json:"address,omitempty"`
	Short       string         `json:"short"`
	Subject     string         `json:"subject"`
	Text        string         `json:"text,omitempty"` // left out where the body would be too long
	Link        string         `json:"link,omitempty"`
	Acknowledge string         `json:"acknowledge,omitempty"`
}

func event(source string, m notify.Message) Event {
	e := Event{
		SpecVersion: "1.0", ID: m.ID, Source: source, Type: "heaterd." + string(m.Kind),
		Time: m.At.Time().Format(time.RFC3339Nano), DataContentType: "application/json",
		Data: Data{
			Alarm: m.Alarm, Person: m.Person, Name: m.Name, Address: m.Address,
			Short: m.Short, Subject: m.Subject, Text: m.Text, Link: m.Link, Acknowledge: m.Answer,
		},
	}
	if m.Alarm != nil {
		e.Subject = m.Alarm.ID
	}
	return e
}

// encode writes the event in less than MaxBody bytes, if need be without its
// long text.
func encode(e Event) ([]byte, error) {
	body, err := plainJSON(e)
	if err == nil && len(body) >= MaxBody {
		e.Data.Text = ""
		body, err = plainJSON(e)
	}
	return body, err
}

// plainJSON writes < and & as they are: they cost six bytes otherwise.
func plainJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return bytes.TrimRight(b.Bytes(), "\n"), err
}
