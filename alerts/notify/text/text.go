package text

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"text/template"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/httpsend"
)

var functions = template.FuncMap{
	"json": func(v any) (string, error) {
		raw, err := json.Marshal(v)
		return string(raw), err
	},
	"form": func(s string) string { return url.QueryEscape(s) },
}

// Parse reads a template and tries it on an empty message, so that a
// misspelt name is found before an alarm needs it.
func Parse(body string) (*template.Template, error) {
	t, err := template.New("text").Funcs(functions).Option("missingkey=error").Parse(body)
	if err != nil {
		return nil, err
	}
	return t, t.Execute(new(bytes.Buffer), notify.Message{})
}

// Tells reports whether what a template makes of a message says what it is
// about. A template that cannot be used tells nothing.
func Tells(body string) bool {
	t, err := Parse(body)
	if err != nil {
		return false
	}
	const said = "what-it-says"
	var out strings.Builder
	return t.Execute(&out, notify.Message{Short: said, Text: said, Subject: said}) == nil && strings.Contains(out.String(), said)
}

// Sender sends through one gateway.
type Sender struct {
	url    string
	header map[string]string
	body   *template.Template
	client *http.Client
}

// New makes a Sender for a channel's URL, Header and Template.
func New(c notify.Channel) (*Sender, error) {
	body, err := Parse(c.Template)
	if err != nil {
		return nil, fmt.Errorf("cannot use the template: %w", err)
	}
	return &Sender{url: c.URL, header: c.Header, body: body, client: httpsend.Client()}, nil
}

// Send posts the message. See httpsend.Do for its errors.
func (s *Sender) Send(ctx context.Context, m notify.Message) error {
	var body bytes.Buffer
	if err := s.body.Execute(&body, m); err != nil {
		return notify.Permanent(fmt.Errorf("cannot fill in the template: %w", err))
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url, &body)
	if err != nil {
		return notify.Permanent(fmt.Errorf("cannot make the request: %w", err))
	}
	req.Header.Set("Content-Type", kind(body.Bytes()))
	req.Header.Set("Idempotency-Key", m.ID)
	for name, value := range s.header {
		req.Header.Set(name, value)
	}
	return httpsend.Do(s.client, req)
}

// kind is the media type of a body for which the header gives none.
func kind(body []byte) string {
	switch {
	case json.Valid(body):
		return "application/json"
	case bytes.ContainsRune(body, '=') && !bytes.ContainsAny(body, " \r\n<"):
		return "application/x-www-form-urlencoded"
	default:
		return "text/plain; charset=utf-8"
	}
}
