package config

import (
	"net/mail"
	"slices"
	"strings"

	"heaterd/alerts/notify"
	"heaterd/alerts/notify/text"
	"heaterd/alerts/notify/webhook"
	"heaterd/ingest/source"
	"heaterd/ingest/topic"
)

const (
	channelKinds    = "webhook, mail, mqtt, text"
	channelAllowed  = "exactly one of " + channelKinds
	templateAllowed = "a text/template over the message, with .Short, .Text, .Subject, .Address, .Name, .Priority, .Link and .Answer; {{json .Short}} quotes a part"
)

// readNotify reads how people are told, and whether they may answer over MQTT:
// that is one more source.
func readNotify(v value, cfg *Config) {
	t, s := v.table(), &cfg.Notify
	s.BaseURL = strings.TrimRight(t.get("base_url").address("https", "http"), "/")
	s.Secret = t.get("secret_file").secret()
	if t.get("answers_over_mqtt").flag() {
		cfg.Sources = append(cfg.Sources, source.Acknowledgements())
	}
	ids := names{}
	for _, item := range t.get("channels").list("channels, each {id, and one of " + channelKinds + "}") {
		entry := item.table()
		c := readChannel(entry, ids)
		s.Channels = append(s.Channels, c)
		if filter := heardAgain(c, cfg); filter != "" {
			entry.get("mqtt").table().get("topic").fail("a topic that no source reads", "heaterd would read there what it publishes, by the source %s", clip(filter))
		}
	}
	t.close()
}

// heardAgain is the filter by which heaterd would take what it publishes on a
// channel for a message to itself; empty: none.
func heardAgain(c notify.Channel, cfg *Config) string {
	if c.Kind != notify.MQTT {
		return ""
	}
	topics := map[string]bool{}
	for _, site := range cfg.Fleet.Sites {
		topics[c.TopicOf(notify.Place{Site: site.ID})] = true
		for _, space := range site.Spaces {
			topics[c.TopicOf(notify.Place{Site: site.ID, Space: space.ID})] = true
		}
	}
	for _, s := range cfg.Sources {
		for name := range topics {
			if topic.Match(s.Filter, name) {
				return s.Filter
			}
		}
	}
	return ""
}

func readChannel(t *table, ids names) notify.Channel {
	id := t.need("id", idAllowed)
	var found []notify.Channel
	for _, kind := range []struct {
		name string
		read func(*table) notify.Channel
	}{{notify.Webhook, readWebhook}, {notify.Mail, readMail}, {notify.MQTT, readTopic}, {notify.Text, readText}} {
		body := t.get(kind.name)
		c := kind.read(body.table())
		c.Kind = kind.name
		if t.has(kind.name) {
			found = append(found, c)
		}
	}
	t.close()
	if len(found) != 1 {
		if t.given() {
			t.fail(channelAllowed, "found %d ways to send in one channel", len(found))
		}
		found = append(found, notify.Channel{})
	}
	found[0].ID = id.id()
	ids.claim(id, "channel id", found[0].ID)
	return found[0]
}

func readWebhook(t *table) notify.Channel {
	c := notify.Channel{
		URL:    t.need("url", "where to post, https://…").address("https", "http"),
		Secret: t.get("secret_file").secret(),
	}
	if _, err := webhook.Keys(c.Secret); err != nil {
		t.get("secret_file").fail("keys written whsec_ and base64 of 24 to 64 bytes", "the file holds something else")
	}
	t.close()
	return c
}

func readMail(t *table) notify.Channel {
	c := notify.Channel{
		URL:      t.need("server", "smtp://host:587 or smtps://host:465").address("smtp", "smtps"),
		From:     t.need("from", "the sender's address").mailbox(),
		User:     t.get("user").expanded(),
		Secret:   t.get("password_file").secret(),
		Insecure: t.get("insecure").flag(),
	}
	for _, item := range t.get("to").list("addresses") {
		c.To = append(c.To, item.mailbox())
	}
	t.together("user", "password_file")
	if c.Insecure && c.User != "" {
		t.get("insecure").warn("", "the password travels unencrypted")
	}
	t.close()
	return c
}

func (v value) mailbox() string {
	s := v.expanded()
	if s == "" {
		return ""
	}
	if _, err := mail.ParseAddress(s); err != nil {
		v.fail("an e-mail address", "found %s", v.written())
		return ""
	}
	return s
}

func readTopic(t *table) notify.Channel {
	to := t.need("topic", "the topic to publish on")
	c := notify.Channel{Topic: to.expanded()}
	if strings.ContainsAny(c.Topic, "+#") {
		to.fail("a topic without + and #", "found %s", to.written())
	}
	t.close()
	return c
}

func readText(t *table) notify.Channel {
	c := notify.Channel{
		URL:      t.need("url", "where to post, https://…").address("https", "http"),
		Template: t.need("template", "the body of the request, with {{…}} for parts of the message").text(""),
		Header:   t.get("header").header(),
	}
	if _, err := text.Parse(c.Template); err != nil {
		t.get("template").fail(templateAllowed, "%s", clip(strings.TrimPrefix(err.Error(), "template: text:")))
	} else if c.Template != "" && !text.Tells(c.Template) {
		t.get("template").warn("one with .Short, .Text or .Subject", "what is sent does not say what is wrong")
	}
	t.close()
	return c
}

// secretHeaders carry what may not stand in the file.
var secretHeaders = []string{"authorization", "x-api-key", "api-key", "x-auth-token", "cookie"}

// header gives the fields of a request's header, whose names are free.
func (v value) header() map[string]string {
	t := v.table()
	if t.wrong.given() {
		t.wrong.wrongType("a table of names of fields and what they hold")
	}
	if len(t.order) == 0 {
		return nil
	}
	fields := map[string]string{}
	for _, name := range t.order {
		field := t.entries[name]
		fields[name] = field.expanded()
		if slices.Contains(secretHeaders, strings.ToLower(name)) && fields[name] != "" && !strings.Contains(field.node.Value, "${") {
			field.fail("${NAME}, with the secret in the environment", "secrets are not kept in this file")
		}
	}
	return fields
}
