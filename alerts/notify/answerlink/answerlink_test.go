package answerlink_test

import (
	"errors"
	"net/url"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heaterd/alerts/notify/answerlink"
)

var (
	secret = []byte("0123456789abcdef0123456789abcdef")
	now    = time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC)
)

func TestOpensWhatItSigned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		alarm, person := rapid.StringN(0, 80, -1).Draw(t, "alarm"), rapid.StringN(0, 80, -1).Draw(t, "person")
		token := answerlink.Sign(secret, alarm, person, now.Add(time.Hour))
		if url.PathEscape(token) != token {
			t.Fatalf("%q needs escaping in a path", token)
		}
		got, err := answerlink.Open(secret, token, now)
		if err != nil || got.Alarm != strings.ToValidUTF8(alarm, "\ufffd") || got.Person != strings.ToValidUTF8(person, "\ufffd") || !got.Expires.Equal(now.Add(time.Hour)) {
			t.Fatalf("got %q %v, signed %q %q", got, err, alarm, person)
		}
	})
}

func TestEndsOnTheSecond(t *testing.T) {
	token := answerlink.Sign(secret, "H-07.co-ceiling.1", "mo", now)
	for at, want := range map[time.Duration]error{-time.Second: nil, 0: answerlink.ErrExpired, time.Hour: answerlink.ErrExpired} {
		if _, err := answerlink.Open(secret, token, now.Add(at)); !errors.Is(err, want) {
			t.Errorf("at %v: %v, want %v", at, err, want)
		}
	}
}

// Any one character changed, added or taken away makes it forged.
func TestChangedTokenIsForged(t *testing.T) {
	token := answerlink.Sign(secret, "H-07.shutdown-unexplained.3", "mo", now.Add(time.Hour))
	const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.=\n"
	for i := range token {
		for _, c := range letters {
			changed := token[:i] + string(c) + token[i+1:]
			if changed != token {
				refused(t, secret, changed)
			}
			refused(t, secret, token[:i]+string(c)+token[i:])
		}
		refused(t, secret, token[:i])
	}
}

func refused(t *testing.T, secret []byte, token string) {
	t.Helper()
	if _, err := answerlink.Open(secret, token, now); !errors.Is(err, answerlink.ErrForged) {
		t.Errorf("%q: %v, want forged", token, err)
	}
}

func TestOtherSecretOrNone(t *testing.T) {
	token := answerlink.Sign(secret, "a", "p", now.Add(time.Hour))
	refused(t, []byte("another secret of decent length.."), token)
	refused(t, nil, token)
	if got := answerlink.Sign(nil, "a", "p", now); got != "" {
		t.Errorf("signed %q without a secret", got)
	}
	refused(t, nil, "")
}

func FuzzOpen(f *testing.F) {
	f.Add(answerlink.Sign([]byte("another"), "a", "p", now.Add(time.Hour)))
	f.Add("")
	f.Add(".")
	f.Fuzz(func(t *testing.T, token string) {
		if got, err := answerlink.Open(secret, token, now); err == nil {
			t.Fatalf("opened %q: %q", token, got)
		}
	})
}
