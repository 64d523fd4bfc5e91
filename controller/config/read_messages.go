package config

import (
	"fmt"
	"strings"
	"time"

	"benchtide/controller/notify/address"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// What holds where the file says nothing.
const (
	usualRepeat    = 15 * time.Minute
	usualSecond    = 30 * time.Minute
	usualHeartbeat = 5 * time.Minute
	usualDigest    = "18:00"
)

func (r *reader) messages(v value, s *Site) {
	f := v.fields("mail", "webhook", "mqtt", "second_person", "lamp", "buzzer", "quiet", "repeat", "digest", "heartbeat")
	m := &Messages{Lamp: -1, Buzzer: -1, DigestDay: time.Sunday}
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
		h := g.fields("from", "to")
		const right = `write {from: "21:00", to: "07:00"}`
		m.Quiet = true
		m.QuietFrom, m.QuietTo = need(h, "from", right, schedule.ParseTimeOfDay), need(h, "to", right, schedule.ParseTimeOfDay)
	}
	m.Repeat = maybe(f, "repeat", "how often what is urgent is sent again, such as 15 min", within(time.Minute, 24*time.Hour), usualRepeat)
	m.DigestAt, _ = schedule.ParseTimeOfDay(usualDigest)
	if g, ok := f.get("digest"); ok {
		h := g.fields("day", "at")
		m.DigestDay = maybe(h, "day", "name a day, such as sunday", weekday, m.DigestDay)
		m.DigestAt = maybe(h, "at", `write a time, such as "18:00"`, schedule.ParseTimeOfDay, m.DigestAt)
	}
	if g, ok := f.get("heartbeat"); ok {
		m.Heartbeat = r.heartbeat(g)
	}
	r.checkMessages(m)
}

func (r *reader) mail(v value) *Mail {
	f := v.fields("server", "from", "to", "user", "password_file", "ca_file")
	m := &Mail{
		Server: need(f, "server", "name the server and its port, such as smtp.example.org:465", checked(address.CheckServer)),
		From:   need(f, "from", "name the sender, such as bench@example.org", checked(address.CheckMailbox)),
	}
	if g, ok := f.need("to", "name who is told, such as grower@example.org, or a list of such"); ok {
		m.To = r.mailboxes(g)
	}
	m.User, m.PasswordFile = r.account(f)
	m.CAFile = maybe(f, "ca_file", "the whole path of the server's certificate, where it is one of your own", file, "")
	return m
}

func (r *reader) mailboxes(v value) (all []string) {
	const right = "a mail address, such as grower@example.org, or a list of such"
	for _, item := range v.oneOrMore(right) {
		if text, ok := scalar(item, right, checked(address.CheckMailbox)); ok {
			all = append(all, text)
		}
	}
	return all
}

// account reads a user and where the password stands.
func (r *reader) account(f fields) (user, password string) {
	user = maybe(f, "user", "name the user", words, "")
	password = maybe(f, "password_file", "name the file that holds the password", words, "")
	if (user == "") != (password == "") && r.sound(f.join("user"), f.join("password_file")) {
		r.errorf(f.path, "user and password_file go together: give both, or none where the server wants none")
	}
	return user, password
}

func (r *reader) hook(v value) *Hook {
	f := v.fields("url", "url_file", "secret_file")
	h := &Hook{SecretFile: maybe(f, "secret_file", "name the file that holds the key, whsec_…", words, "")}
	h.URL, h.URLFile = r.urlOrFile(f)
	if h.SecretFile == "" && r.sound(f.path) {
		r.warnf(f.path, "no secret_file: the receiver cannot tell these messages from those of others; make a key with: echo whsec_$(openssl rand -base64 32)")
	}
	return h
}

// urlOrFile reads an address, or where it stands when it holds a key.
func (r *reader) urlOrFile(f fields) (plain, named string) {
	const right = "write the address, or in url_file the file that holds one with a key in it"
	plain = maybe(f, "url", right, checked(address.CheckURL), "")
	named = maybe(f, "url_file", right, words, "")
	_, one := f.get("url")
	_, other := f.get("url_file")
	if one == other {
		r.errorf(f.path, "give either url, or url_file where the address holds a key")
	}
	return plain, named
}

func (r *reader) broker(v value) *Broker {
	f := v.fields("broker", "topic", "user", "password_file", "ca_file")
	b := &Broker{
		Address: need(f, "broker", "name the broker, such as mqtts://example.org:8883", checked(address.CheckBroker)),
		Topic:   need(f, "topic", "name the topic under which it is told, such as greenhouse/bench", topic),
		CAFile:  maybe(f, "ca_file", "the whole path of the broker's certificate, where it is one of your own", file, ""),
	}
	b.User, b.PasswordFile = r.account(f)
	return b
}

func (r *reader) secondPerson(v value, m *Messages) *SecondPerson {
	f := v.fields("after", "mail", "webhook")
	p := &SecondPerson{After: maybe(f, "after", "how long what is urgent may go unacknowledged, such as 30 min", within(time.Minute, 24*time.Hour), usualSecond)}
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
	f := v.fields("url", "url_file", "every", "method")
	h := &Heartbeat{
		Every:  maybe(f, "every", "how often it is called, such as 5 min", within(10*time.Second, 24*time.Hour), usualHeartbeat),
		Method: maybe(f, "method", "write GET or POST", choice("GET", "POST"), "GET"),
	}
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

// within reads a length of time between two.
func within(least, most time.Duration) func(string) (time.Duration, error) {
	return func(text string) (time.Duration, error) {
		d, err := someTime(text)
		if err == nil && (d < least || d > most) {
			err = fmt.Errorf("%q: write a time from %s to %s", text, quantity.Duration(least), quantity.Duration(most))
		}
		return d, err
	}
}

func weekday(text string) (time.Weekday, error) {
	var known []string
	for d := time.Sunday; d <= time.Saturday; d++ {
		if strings.EqualFold(text, d.String()) {
			return d, nil
		}
		known = append(known, strings.ToLower(d.String()))
	}
	return 0, fmt.Errorf("%q: %s", text, suggest(text, known, "write ", "or"))
}

func topic(text string) (string, error) {
	text = strings.TrimSpace(text)
	if text == "" || strings.ContainsAny(text, "+#\x00") || strings.HasPrefix(text, "/") || strings.HasSuffix(text, "/") || strings.HasPrefix(text, "$") {
		return "", fmt.Errorf("%q: write words joined by /, without + and #, such as greenhouse/bench", text)
	}
	return text, nil
}
