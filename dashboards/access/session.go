package access

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"
)

const (
	cookieName  = "session"
	sessionLife = 12 * time.Hour // one shift and what follows it; common practice, no source
	longestPass = 72             // bytes bcrypt looks at
)

// ErrNotSignedIn is returned for a name and password that do not belong
// together.
var ErrNotSignedIn = errors.New("name or password is not right")

// ErrTooMany is returned where an address tried too often.
var ErrTooMany = errors.New("too many attempts: wait a minute and try again")

// nobody gives a hash to compare with where there is no such user, so that the
// time an answer takes does not tell which names exist.
var nobody = sync.OnceValue(func() []byte {
	hash, err := bcrypt.GenerateFromPassword([]byte("nobody"), bcrypt.DefaultCost)
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return hash
})

// SignIn checks a password and gives the cookie of the new session.
func (g *Gate) SignIn(r *http.Request, name, password string) (*http.Cookie, error) {
	from, _ := g.origin(r)
	if !g.limiter.allow(g.o.Now(), from) {
		g.failed(from, "password", "too many attempts", name)
		return nil, ErrTooMany
	}
	u, ok := g.user(name)
	hash := u.Bcrypt
	if !ok || len(hash) == 0 {
		hash, ok = nobody(), false
	}
	if len(password) > longestPass {
		password, ok = password[:longestPass], false
	}
	if bcrypt.CompareHashAndPassword(hash, []byte(password)) != nil || !ok {
		g.failed(from, "password", ErrNotSignedIn.Error(), name)
		return nil, ErrNotSignedIn
	}
	return g.cookie(r, g.seal(u, g.o.Now().Add(sessionLife)), int(sessionLife.Seconds())), nil
}

// SignOut gives the cookie that ends a session in the visitor's browser.
func (g *Gate) SignOut(r *http.Request) *http.Cookie { return g.cookie(r, "", -1) }

func (g *Gate) cookie(r *http.Request, value string, age int) *http.Cookie {
	return &http.Cookie{
		Name: cookieName, Value: value, Path: "/", MaxAge: age,
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: g.Secure(r),
	}
}

// seal writes name, expiry and their authentication code.
func (g *Gate) seal(u User, expires time.Time) string {
	text := base64.RawURLEncoding.EncodeToString([]byte(u.Name)) + "." + strconv.FormatInt(expires.Unix(), 10)
	return text + "." + g.code(u, text)
}

func (g *Gate) code(u User, text string) string {
	mac := hmac.New(sha256.New, g.o.Secret)
	mac.Write([]byte("session\x00" + text + "\x00"))
	mac.Write(u.Bcrypt)
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

func (g *Gate) bySession(r *http.Request) (User, bool) {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return User{}, false
	}
	i := strings.LastIndexByte(c.Value, '.')
	if i < 0 {
		return User{}, false
	}
	text, code := c.Value[:i], c.Value[i+1:]
	name64, expiry, _ := strings.Cut(text, ".")
	name, err := base64.RawURLEncoding.DecodeString(name64)
	if err != nil {
		return User{}, false
	}
	u, ok := g.user(string(name))
	if !ok || len(u.Bcrypt) == 0 || !hmac.Equal([]byte(code), []byte(g.code(u, text))) {
		return User{}, false
	}
	until, err := strconv.ParseInt(expiry, 10, 64)
	return u, err == nil && g.o.Now().Unix() < until
}
