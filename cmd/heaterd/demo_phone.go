package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"heaterd/alerts/notify"
)

// phones stand for the telephones of the demo's people: what would be sent to
// a gateway for short messages is sent here, and shown on a page.
type phones struct {
	listen net.Listener
	now    func() time.Time
	zone   *time.Location // of whoever holds them; nil: UTC

	mu   sync.Mutex
	rang []ring // newest first
}

// ring is one message as a telephone shows it.
type ring struct {
	At     time.Time
	To     string
	Text   string
	Page   string // address of the alarm's page
	Answer string // address to acknowledge at; empty: it asks for no answer
}

// rangMost is how many messages are kept.
const rangMost = 60

// phoneTemplate is the body of a message to the phones.
const phoneTemplate = `{{json .}}`

func openPhones(ctx context.Context, now func() time.Time) (*phones, error) {
	l, err := listenAt(ctx, "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("cannot listen for the demo's messages: %w", err)
	}
	return &phones{listen: l, now: now}, nil
}

func (p *phones) address() string { return "http://" + p.listen.Addr().String() + "/" }

// channel is how messages come here.
func (p *phones) channel() notify.Channel {
	return notify.Channel{ID: "phone", Kind: notify.Text, URL: p.address(), Template: phoneTemplate}
}

// ServeHTTP takes a message, or shows those that came.
func (p *phones) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		p.show(w)
		return
	}
	var m notify.Message
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20)).Decode(&m); err != nil {
		http.Error(w, "no message of the demo's: "+err.Error(), http.StatusBadRequest)
		return
	}
	p.ring(m)
}

func (p *phones) ring(m notify.Message) {
	p.mu.Lock()
	defer p.mu.Unlock()
	one := ring{At: p.now().In(cmp.Or(p.zone, time.UTC)), To: m.Name, Text: m.Short, Page: m.Link, Answer: m.Answer}
	p.rang = slices.Insert(p.rang, 0, one)
	p.rang = p.rang[:min(len(p.rang), rangMost)]
}

func (p *phones) show(w http.ResponseWriter) {
	p.mu.Lock()
	rang := slices.Clone(p.rang)
	p.mu.Unlock()
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'")
	_ = phonePage.Execute(w, rang) // what the visitor does not take is not missed
}

var phonePage = template.Must(template.New("phones").Funcs(template.FuncMap{
	"clock": func(t time.Time) string { return t.Format("Mon 15:04 MST") },
}).Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="refresh" content="10"><title>Messages of the demo</title>
<style>
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 34rem; margin: 1rem auto; padding: 0 1rem; }
li { margin: 0 0 1rem; padding: .6rem .8rem; border: 1px solid; border-radius: .3rem; list-style: none; overflow-wrap: anywhere; }
ul { padding: 0; } p { margin: 0 0 .3rem; } a { display: inline-block; padding: .3rem .6rem .3rem 0; }
</style></head><body>
<h1>Messages of the demo</h1>
<p>What the invented people on call are sent, newest first. Nothing leaves this machine.</p>
<ul>{{range .}}<li><p><b>{{.To}}</b>, {{clock .At}}</p><p>{{.Text}}</p>
{{if .Answer}}<a href="{{.Answer}}">See and acknowledge</a>{{else if .Page}}<a href="{{.Page}}">See it on the pages</a>{{end}}</li>
{{else}}<li>No message yet.</li>{{end}}</ul>
</body></html>
`))
