package text_test

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/text"
)

type request struct {
	header http.Header
	body   string
}

func gateway(t *testing.T, status int) (string, *request) {
	got := &request{}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		raw, _ := io.ReadAll(r.Body)
		*got = request{r.Header.Clone(), string(raw)}
		w.WriteHeader(status)
	}))
	t.Cleanup(s.Close)
	return s.URL, got
}

func TestFillsTheTemplateIn(t *testing.T) {
	m := notify.Message{ID: "m-abc", Address: "+15550101", Short: `CO "230 ppm", Hall & yard`, Link: "https://heaters.example/alarms"}
	for _, c := range []struct{ template, kind, want string }{
		{`{"to": {{json .Address}}, "text": {{json .Short}}}`, "application/json", ""},
		{`to={{form .Address}}&text={{form .Short}}`, "application/x-www-form-urlencoded", "to=%2B15550101&text=CO+%22230+ppm%22%2C+Hall+%26+yard"},
		{`{{.Short}} {{.Link}}`, "text/plain; charset=utf-8", `CO "230 ppm", Hall & yard https://heaters.example/alarms`},
	} {
		u, got := gateway(t, http.StatusAccepted)
		s, err := text.New(notify.Channel{URL: u, Template: c.template, Header: map[string]string{"Authorization": "Bearer x"}})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Send(context.Background(), m); err != nil {
			t.Fatal(err)
		}
		if c.want != "" && got.body != c.want {
			t.Errorf("sent %q, want %q", got.body, c.want)
		}
		if got.header.Get("Content-Type") != c.kind || got.header.Get("Authorization") != "Bearer x" || got.header.Get("Idempotency-Key") != m.ID {
			t.Errorf("header %v", got.header)
		}
	}
}

func TestHeaderOfTheChannelCounts(t *testing.T) {
	u, got := gateway(t, http.StatusOK)
	s, _ := text.New(notify.Channel{URL: u, Template: "{}", Header: map[string]string{"content-type": "application/vnd.x+json"}})
	if err := s.Send(context.Background(), notify.Message{}); err != nil || got.header.Get("Content-Type") != "application/vnd.x+json" {
		t.Errorf("%v %v", err, got.header)
	}
}

// Whatever a name holds, it stays within its place.
func TestNamesCannotBreakOut(t *testing.T) {
	u, got := gateway(t, http.StatusOK)
	asJSON, _ := text.New(notify.Channel{URL: u, Template: `{"to":"+1","text":{{json .Short}}}`})
	asForm, _ := text.New(notify.Channel{URL: u, Template: `to=%2B1&text={{form .Short}}`})
	rapid.Check(t, func(r *rapid.T) {
		m := notify.Message{Short: rapid.String().Draw(r, "short")}
		if err := asJSON.Send(context.Background(), m); err != nil {
			r.Fatal(err)
		}
		var read map[string]string
		if err := json.Unmarshal([]byte(got.body), &read); err != nil || len(read) != 2 || read["text"] != strings.ToValidUTF8(m.Short, "\ufffd") {
			r.Fatalf("%q became %q", m.Short, got.body)
		}
		if err := asForm.Send(context.Background(), m); err != nil {
			r.Fatal(err)
		}
		form, err := url.ParseQuery(got.body)
		if err != nil || len(form) != 2 || form.Get("text") != m.Short {
			r.Fatalf("%q became %q", m.Short, got.body)
		}
	})
}

func TestBadTemplatesAreFoundEarly(t *testing.T) {
	for _, bad := range []string{"{{", "{{.Shrt}}", "{{jsn .Short}}", "{{json}}"} {
		if _, err := text.New(notify.Channel{URL: "http://example", Template: bad}); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

func TestRefusals(t *testing.T) {
	for status, permanent := range map[int]bool{400: true, 401: false, 500: false} {
		u, _ := gateway(t, status)
		s, _ := text.New(notify.Channel{URL: u, Template: "{{.Short}}"})
		if err := s.Send(context.Background(), notify.Message{}); err == nil || notify.IsPermanent(err) != permanent {
			t.Errorf("%d: %v", status, err)
		}
	}
}
