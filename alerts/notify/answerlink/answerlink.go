package answerlink

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"strings"
	"time"
)

// The errors of Open.
var (
	ErrForged  = errors.New("the link is not one of ours, or was changed")
	ErrExpired = errors.New("the link has expired")
)

const (
	// purpose keeps a signature from being taken for one made with the same
	// secret for something else.
	purpose = "heaterd answer link 1\n"

	// maxToken bounds what Open looks at, in bytes; ids are far shorter.
	maxToken = 2048
)

var encoding = base64.RawURLEncoding.Strict()

// Claim is what a link lets its bearer do: acknowledge one alarm, as one
// person, until it expires. Whoever has the link can use it, so it goes to that
// person only.
type Claim struct {
	Alarm   string // id
	Person  string // id
	Expires time.Time
}

// claim is a Claim as a token says it.
type claim struct {
	Alarm   string `json:"a"`
	Person  string `json:"p"`
	Expires int64  `json:"x"` // seconds since 1970 UTC
}

// Sign gives the token by which person may acknowledge the alarm until
// expires (whole seconds). Without a secret there are no links: it gives "".
func Sign(secret []byte, alarm, person string, expires time.Time) string {
	if len(secret) == 0 {
		return ""
	}
	body, err := json.Marshal(claim{alarm, person, expires.Unix()})
	if err != nil {
		panic("BUG: " + err.Error())
	}
	said := encoding.EncodeToString(body)
	return said + "." + mac(secret, said)
}

// Open gives what a token says, if it was signed with secret and now is
// before its end. Its errors are ErrForged and ErrExpired.
func Open(secret []byte, token string, now time.Time) (Claim, error) {
	said, signed, found := strings.Cut(token, ".")
	if len(secret) == 0 || !found || len(token) > maxToken {
		return Claim{}, ErrForged
	}
	// Compared as written: base64 decoding would pass over line ends.
	if !hmac.Equal([]byte(signed), []byte(mac(secret, said))) {
		return Claim{}, ErrForged
	}
	return read(said, now)
}

// read takes apart what is known to be ours.
func read(said string, now time.Time) (Claim, error) {
	var c claim
	body, err := encoding.DecodeString(said)
	if err != nil || json.Unmarshal(body, &c) != nil {
		return Claim{}, ErrForged
	}
	if now.Unix() >= c.Expires {
		return Claim{}, ErrExpired
	}
	return Claim{c.Alarm, c.Person, time.Unix(c.Expires, 0)}, nil
}

func mac(secret []byte, said string) string {
	h := hmac.New(sha256.New, secret)
	h.Write([]byte(purpose + said))
	return encoding.EncodeToString(h.Sum(nil))
}
