package config

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/config/address"
)

func (r *reader) messages(v value, s *Site) {
	f := v.fields()
	m := &Messages{Lamp: -1, Buzzer: -1, Repeat: f.time("repeat")}
	s.Messages = m
	if g, ok := f.get("mail"); ok {
		m.Mail = r.mail(g)
	}
	if g, ok := f.get("webhook"); ok {
		m.Webhook = r.hook(g)
	}
	if g, ok := f.get("mqtt"); ok {
		m.MQTT = r.broker(g)
	}
	if g, ok := f.get("second_person"); ok {
		m.Second = r.secondPerson(g, m)
	}
	if _, ok := f.get("lamp"); ok {
		m.Lamp = r.outputRef(f, s, "lamp", LampKind)
	}
	if _, ok := f.get("buzzer"); ok {
		m.Buzzer = r.outputRef(f, s, "buzzer", BuzzerKind)
	}
	if g, ok := f.get("quiet"); ok {
		h := g.fields()
		m.Quiet, m.QuietFrom, m.QuietTo = true, plain(h, "from", timeOfDay), plain(h, "to", timeOfDay)
	}
	digest := f.described("digest")
	m.DigestDay, m.DigestAt = weekday(chosen[string](digest, "day")), plain(digest, "at", timeOfDay)
	if g, ok := f.get("heartbeat"); ok {
		m.Heartbeat = r.heartbeat(g)
	}
	r.checkMessages(m)
}

// described is a section that may be left out and yet has its defaults.
func (f fields) described(key string) fields {
	if g, ok := f.get(key); ok {
		return g.fields()
	}
	return fields{section: f.section.child(key)}
}

func (r *reader) mail(v value) *Mail {
	f := v.fields()
	m := &Mail{Server: plain(f, "server", checked(address.CheckServer)), From: plain(f, "from", checked(address.CheckMailbox))}
	if g, ok := f.need("to"); ok {
		m.To = r.mailboxes(g)
	}
	m.User, m.PasswordFile = r.account(f)
	m.CAFile = plain(f, "ca_file", file)
	return m
}

func (r *reader) mailboxes(v value) (all []string) {
	for _, item := range v.oneOrMore() {
		if text, ok := scalar(item, checked(address.CheckMailbox)); ok {
			all = append(all, text)
		}
	}
	if v.node.Kind == yaml.SequenceNode && len(v.node.Content) == 0 {
		v.errorf("nobody is named: %s", v.hint())
	}
	return all
}

// account reads a user and where the password stands.
func (r *reader) account(f fields) (user, password string) {
	user, password = plain(f, "user", words), plain(f, "password_file", words)
	if (user == "") != (password == "") && r.sound(f.join("user"), f.join("password_file")) {
		r.errorf(f.path, "user and password_file go together: give both, or none where the server wants none")
	}
	return user, password
}

func (r *reader) hook(v value) *Hook {
	f := v.fields()
	h := &Hook{SecretFile: plain(f, "secret_file", words)}
	h.URL, h.URLFile = r.urlOrFile(f)
	if h.SecretFile == "" && r.sound(f.path) {
		r.warnf(f.path, "no secret_file: the receiver cannot tell these messages from those of others; make a key with: echo whsec_$(openssl rand -base64 32)")
	}
	return h
}

// urlOrFile reads an address, or where it stands when it holds a key.
func (r *reader) urlOrFile(f fields) (address, named string) {
	address, named = plain(f, "url", checked(checkURL)), plain(f, "url_file", words)
	_, one := f.get("url")
	_, other := f.get("url_file")
	if one == other {
		r.errorf(f.path, "give either url, or url_file where the address holds a key")
	}
	return address, named
}

var checkURL = address.CheckURL

func (r *reader) broker(v value) *Broker {
	f := v.fields()
	b := &Broker{Address: plain(f, "broker", checked(address.CheckBroker)), Topic: plain(f, "topic", topic), CAFile: plain(f, "ca_file", file)}
	b.User, b.PasswordFile = r.account(f)
	return b
}

func (r *reader) secondPerson(v value, m *Messages) *SecondPerson {
	f := v.fields()
	p := &SecondPerson{After: f.time("after")}
	if g, ok := f.get("mail"); ok {
		p.Mail = r.mailboxes(g)
		if m.Mail == nil {
			g.errorf("describe the server under messages.mail first: the second person's mail goes by it")
		}
	}
	if g, ok := f.get("webhook"); ok {
		p.Webhook = r.hook(g)
	}
	if p.Mail == nil && p.Webhook == nil && r.sound(f.path) {
		r.errorf(f.path, "say how to reach the second person: mail, or webhook")
	}
	return p
}

func (r *reader) heartbeat(v value) *Heartbeat {
	f := v.fields()
	h := &Heartbeat{Every: f.time("every"), Method: chosen[string](f, "method")}
	h.URL, h.URLFile = r.urlOrFile(f)
	return h
}

// checkMessages warns of what leaves people without word.
func (r *reader) checkMessages(m *Messages) {
	if !r.sound("messages") {
		return
	}
	if m.Mail == nil && m.Webhook == nil && m.MQTT == nil {
		r.warnf("messages", "no way out of the house: describe mail, webhook or mqtt")
	}
	if m.Second == nil {
		r.warnf("messages", "no second_person: nobody is told when the first does not answer")
	}
	if m.Heartbeat == nil {
		r.warnf("messages", "no heartbeat: nobody outside notices when the controller is dead")
	}
}

// checked reads a text that a check has nothing against.
func checked(check func(string) error) func(string) (string, error) {
	return func(text string) (string, error) {
		text = strings.TrimSpace(text)
		return text, check(text)
	}
}

// weekday is the day of that name; Sunday for a name that was refused.
func weekday(name string) time.Weekday { return time.Weekday(max(0, slices.Index(weekdays, name))) }

func topic(text string) (string, error) {
	text = strings.TrimSpace(text)
	if text == "" || strings.ContainsAny(text, "+#\x00") || strings.HasPrefix(text, "/") || strings.HasSuffix(text, "/") || strings.HasPrefix(text, "$") {
		return "", fmt.Errorf("%q: write words joined by /, without + and #, such as greenhouse/bench", text)
	}
	return text, nil
}
