package webhook_test

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/webhook"
	"heaterd/alerts/outcome"
	"heaterd/ingest/reading"
)

const (
	keyA = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
	keyB = "whsec_c2VjcmV0IHNlY3JldCBzZWNyZXQgc2VjcmV0IQ=="
)

var at = reading.InstantOf(time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC))

func message() notify.Message {
	return notify.Message{
		ID: "m-abc", Kind: notify.Raised, At: at, Channel: "hook", Person: "mo",
		Alarm: &outcome.Alarm{Type: "alarm", At: at, ID: "H-07.shutdown-unexplained.1", Kind: "shutdown-unexplained", State: "unacknowledged"},
		Short: "H-07 stopped <unexplained> & needs a visit", Subject: "H-07 stopped", Text: "Long text", HTML: "<p>",
		Link: "https://heaters.example/alarms", Answer: "https://heaters.example/a/x.y",
	}
}

type received struct {
	header http.Header
	body   []byte
}

// receiver answers every request alike and keeps the last one.
func receiver(t *testing.T, status int, head map[string]string) (url string, last *received) {
	last = &received{}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		last.header = r.Header.Clone()
		last.body, _ = io.ReadAll(r.Body)
		for k, v := range head {
			w.Header().Set(k, v)
		}
		w.WriteHeader(status)
	}))
	t.Cleanup(s.Close)
	return s.URL, last
}

func send(t *testing.T, url, secret string, m notify.Message) error {
	t.Helper()
	s, err := webhook.New(url, []byte(secret), "https://heaters.example")
	if err != nil {
		t.Fatal(err)
	}
	return s.Send(context.Background(), m)
}

// The project that wrote the rules verifies what is sent.
func TestPublishedVerifierAccepts(t *testing.T) {
	url, last := receiver(t, http.StatusNoContent, nil)
	if err := send(t, url, keyA+"\n"+keyB+"\n", message()); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{keyA, keyB} {
		verifier, err := standardwebhooks.NewWebhook(key)
		if err != nil {
			t.Fatal(err)
		}
		err = verifier.Verify(last.body, last.header)
		t.Logf("signature, Standard Webhooks 1.0 verifier: expected <nil>, got %v", err)
		if err != nil {
			t.Error(err)
		}
		changed := append([]byte(" "), last.body...)
		if verifier.Verify(changed, last.header) == nil {
			t.Error("a changed body was verified")
		}
	}
}

// The signed example is the one in the text of Standard Webhooks 1.0 and its
// libraries' tests.
func TestPublishedSignature(t *testing.T) {
	keys, err := webhook.Keys([]byte(keyA))
	if err != nil {
		t.Fatal(err)
	}
	const want = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
	got := webhook.SignForTest(keys, "msg_p5jXN8AQM9LWM0D4loKWxJek", time.Unix(1614265330, 0), []byte(`{"test": 2432232314}`))
	t.Logf("signature of the example, Standard Webhooks 1.0: expected %s, got %s", want, got)
	if got != want {
		t.Errorf("got %s", got)
	}
}

func TestIsACloudEvent(t *testing.T) {
	url, last := receiver(t, http.StatusOK, nil)
	if err := send(t, url, "", message()); err != nil {
		t.Fatal(err)
	}
	if got := last.header.Get("Content-Type"); !strings.HasPrefix(got, "application/cloudevents+json") {
		t.Errorf("content type %q", got)
	}
	if last.header.Get("webhook-signature") != "" {
		t.Error("signed without a key")
	}
	var e map[string]any
	if err := json.Unmarshal(last.body, &e); err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{
		"specversion": "1.0", "id": "m-abc", "source": "https://heaters.example", "type": "heaterd.raised",
		"subject": "H-07.shutdown-unexplained.1", "time": "2026-01-12T06:00:00Z", "datacontenttype": "application/json",
	} {
		if e[key] != want {
			t.Errorf("%s is %v, want %s", key, e[key], want)
		}
	}
	if e["id"] != last.header.Get("webhook-id") {
		t.Error("the event and the header tell repetitions apart differently")
	}
	data := e["data"].(map[string]any)
	if data["short"] != message().Short || data["acknowledge"] != message().Answer || data["alarm"].(map[string]any)["id"] != message().Alarm.ID {
		t.Errorf("data %v", data)
	}
}

func TestBodyStaysBounded(t *testing.T) {
	url, last := receiver(t, http.StatusOK, nil)
	m := message()
	m.Text = strings.Repeat("long \x01", 10_000)
	if err := send(t, url, keyA, m); err != nil {
		t.Fatal(err)
	}
	if len(last.body) >= webhook.MaxBody {
		t.Errorf("%d bytes", len(last.body))
	}
}

func TestWhatAnAnswerMeans(t *testing.T) {
	type verdict struct{ ok, gone, permanent bool }
	retry := verdict{}
	for status, want := range map[int]verdict{
		200: {ok: true}, 201: {ok: true}, 202: {ok: true}, 204: {ok: true},
		301: retry, 302: retry, 307: retry, 401: retry, 403: retry, 404: retry, 408: retry, 429: retry, 500: retry, 502: retry, 503: retry,
		400: {permanent: true}, 413: {permanent: true}, 415: {permanent: true}, 422: {permanent: true},
		410: {gone: true, permanent: true},
	} {
		url, _ := receiver(t, status, map[string]string{"Location": "/elsewhere"})
		err := send(t, url, keyA, message())
		if got := (verdict{err == nil, errors.Is(err, notify.ErrGone), notify.IsPermanent(err)}); got != want {
			t.Errorf("%d: %+v (%v), want %+v", status, got, err, want)
		}
	}
}

func TestRedirectIsNotFollowed(t *testing.T) {
	elsewhere, last := receiver(t, http.StatusOK, nil)
	url, _ := receiver(t, http.StatusPermanentRedirect, map[string]string{"Location": elsewhere})
	if err := send(t, url, keyA, message()); err == nil || last.header != nil {
		t.Errorf("followed: %v", err)
	}
}

func TestComesBackWhenAsked(t *testing.T) {
	for _, c := range []struct {
		value string
		want  time.Duration
	}{
		{"120", 2 * time.Minute},
		{"0", 0},
		{"99999999", time.Hour},
		{time.Now().Add(10 * time.Minute).UTC().Format(http.TimeFormat), 10 * time.Minute},
		{time.Now().Add(-10 * time.Minute).UTC().Format(http.TimeFormat), 0},
	} {
		url, _ := receiver(t, http.StatusTooManyRequests, map[string]string{"Retry-After": c.value})
		var later *notify.RetryError
		if err := send(t, url, keyA, message()); !errors.As(err, &later) || (later.After-c.want).Abs() > 3*time.Second {
			t.Errorf("%q: %v %v, want %v", c.value, err, later, c.want)
		}
	}
	for _, value := range []string{"", "soon", "-5", "1e3"} {
		url, _ := receiver(t, http.StatusServiceUnavailable, map[string]string{"Retry-After": value})
		var later *notify.RetryError
		if err := send(t, url, keyA, message()); err == nil || errors.As(err, &later) {
			t.Errorf("%q: %v", value, err)
		}
	}
}

func TestErrorKeepsTheAddressOut(t *testing.T) {
	err := send(t, "http://127.0.0.1:1/hook?key=secret", "", message())
	if err == nil || strings.Contains(err.Error(), "secret") || notify.IsPermanent(err) {
		t.Errorf("%v", err)
	}
}

func TestKeysAreChecked(t *testing.T) {
	for _, bad := range []string{
		"MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_!!", "whsec_c2hvcnQ=",
		keyA + " whsec_" + base64.StdEncoding.EncodeToString(make([]byte, 65)),
	} {
		_, err := webhook.New("http://example", []byte(bad), "")
		if err == nil {
			t.Errorf("%q was taken", bad)
		} else if strings.Contains(err.Error(), "c2hvcnQ") {
			t.Errorf("%v says the key", err)
		}
	}
}
