package mail

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"

	"heaterd/alerts/notify"
)

// timeout is how long one attempt may take. Common practice, no source.
const timeout = 15 * time.Second

// Sender sends through one server.
type Sender struct {
	channel notify.Channel
	host    string
	port    int // 0: the usual one
	secure  bool
	domain  string // of the sender's address, for ids
	trust   *tls.Config
	taken   taken
}

// New makes a Sender for a channel with a URL smtp:// (encrypted by STARTTLS,
// unless Insecure) or smtps://.
func New(c notify.Channel) (*Sender, error) {
	u, err := url.Parse(c.URL)
	if err != nil || u.Hostname() == "" || u.Scheme != "smtp" && u.Scheme != "smtps" {
		return nil, fmt.Errorf("cannot send mail by %q: the form is smtp://host:port or smtps://host:port", c.URL)
	}
	from, err := mail.ParseAddress(c.From)
	if err != nil {
		return nil, fmt.Errorf("cannot send mail from %q: %w", c.From, err)
	}
	s := &Sender{channel: c, host: u.Hostname(), secure: u.Scheme == "smtps"}
	_, s.domain, _ = strings.Cut(from.Address, "@")
	if port := u.Port(); port != "" {
		if s.port, err = strconv.Atoi(port); err != nil {
			return nil, fmt.Errorf("cannot send mail by %q: %w", c.URL, err)
		}
	}
	return s, nil
}

// Send hands the message to the server. What the server refuses for good, and
// a message without a usable address, is permanent. An address that is refused
// keeps the message from none of the others.
func (s *Sender) Send(ctx context.Context, m notify.Message) error {
	to := s.channel.To
	if m.Address != "" {
		to = []string{m.Address}
	}
	if len(to) == 0 {
		return notify.Permanent(errors.New("cannot send: there is no address"))
	}
	to = s.taken.left(m.ID, to)
	if len(to) < 2 {
		return s.each(ctx, m, to)
	}
	err := s.post(ctx, m, to)
	if refusesSome(err) {
		return s.each(ctx, m, to)
	}
	return err
}

// post hands the message for some addresses to the server.
func (s *Sender) post(ctx context.Context, m notify.Message, to []string) error {
	msg, err := s.letter(m, to)
	if err != nil {
		return notify.Permanent(err)
	}
	client, err := gomail.NewClient(s.host, s.options()...)
	if err != nil {
		return notify.Permanent(fmt.Errorf("cannot set up %s: %w", s.host, err))
	}
	err = client.DialAndSendWithContext(ctx, msg)
	if err == nil || msg.IsDelivered() { // a goodbye that went wrong does not take the message back
		return nil
	}
	return judge(fmt.Errorf("cannot send by %s: %w", s.host, err))
}

func (s *Sender) options() []gomail.Option {
	all := []gomail.Option{gomail.WithTimeout(timeout)}
	switch {
	case s.secure:
		all = append(all, gomail.WithSSLPort(false))
	case s.channel.Insecure:
		all = append(all, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		all = append(all, gomail.WithTLSPortPolicy(gomail.TLSMandatory))
	}
	if s.port != 0 {
		all = append(all, gomail.WithPort(s.port))
	}
	if s.trust != nil {
		all = append(all, gomail.WithTLSConfig(s.trust))
	}
	if s.channel.User != "" {
		all = append(all, gomail.WithSMTPAuth(s.login()), gomail.WithUsername(s.channel.User), gomail.WithPassword(string(s.channel.Secret)))
	}
	return all
}

func (s *Sender) login() gomail.SMTPAuthType {
	if s.channel.Insecure && !s.secure {
		return gomail.SMTPAuthPlainNoEnc
	}
	return gomail.SMTPAuthAutoDiscover
}

// judge tells what the server refuses for good (a 5xx reply to the message or
// an address, RFC 5321 section 4.2.1) from what may be mended, such as a
// login.
func judge(err error) error {
	if e, ok := errors.AsType[*gomail.SendError](err); ok && !e.IsTemp() && e.ErrorCode() >= 500 {
		return notify.Permanent(err)
	}
	return err
}

// letter writes the message.
func (s *Sender) letter(m notify.Message, to []string) (*gomail.Msg, error) {
	msg := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	if err := msg.From(s.channel.From); err != nil {
		return nil, fmt.Errorf("cannot send from %q: %w", s.channel.From, err)
	}
	if err := msg.To(to...); err != nil {
		return nil, fmt.Errorf("cannot send to %q: %w", to, err)
	}
	msg.Subject(m.Subject)
	msg.SetDate()
	s.head(msg, m)
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	}
	return msg, nil
}

func (s *Sender) head(msg *gomail.Msg, m notify.Message) {
	msg.SetMessageIDWithValue(m.ID + "@" + s.domain)
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	if m.Urgent() {
		msg.SetImportance(gomail.ImportanceHigh)
	}
	if m.Alarm != nil {
		thread := "<" + threadID(m.Alarm.ID) + "@" + s.domain + ">"
		msg.SetGenHeader("In-Reply-To", thread)
		msg.SetGenHeader("References", thread)
	}
}

// threadID is the id of a message nobody sent, to which all about an alarm
// are answers.
func threadID(alarm string) string {
	sum := sha256.Sum256([]byte(alarm))
	return "alarm-" + hex.EncodeToString(sum[:12])
}
