package daemon

import (
	"context"
	"fmt"
	"sync"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/notify"
	"benchtide/controller/notify/alarm"
)

// post is all that takes word of a site out of the house: the dispatcher and the
// heartbeat, with their goroutines.
type post struct {
	dispatcher *notify.Dispatcher
	heart      *notify.Heartbeat // nil without one
	mqtt       *notify.MQTT      // nil without one
	signals    chan [2]bool      // what lamp and horn are to do; the newest
	loop       *loop.Loop

	end  context.CancelFunc
	done sync.WaitGroup
}

// newPost puts together what the file says of messages. Without that the
// dispatcher only keeps the alarms.
func newPost(k *kept, m machine, l *loop.Loop) (*post, []controller.Message) {
	p := &post{signals: make(chan [2]bool, 1), loop: l}
	o := notify.Options{
		Rules: alarm.Rules{Zone: k.site.Zone, Repeat: alarm.DefaultRepeat}, Names: l.Names,
		Store: k.ledger, Boot: m.boot, Mono: m.mono, Speed: m.speed, Signal: p.show, Failing: p.failing,
	}
	if k.before != nil {
		o.Before = &k.before.messages
	}
	var found []controller.Message
	if c := k.site.Messages; c != nil {
		o.Rules = rulesOf(c, k.site.Zone)
		secrets := &secretsOf{besides: k.besides}
		o.Channels, p.mqtt = channelsOf(c, k.site, secrets)
		p.heart = heartOf(c.Heartbeat, secrets)
		found = secrets.problems
	}
	if k.unheard != nil {
		found = append(found, aboutMessages(fmt.Sprintf("Not all that waited to be told is known any more: %v.", k.unheard), "Look at the storage."))
	}
	p.dispatcher = notify.Open(o, m.clock.Now())
	return p, found
}

func aboutMessages(happened, do string) controller.Message {
	parts := controller.Parts{Happened: happened, Do: do}
	return controller.Message{Urgency: controller.Today, Bench: -1, Cause: "messages", Text: parts.Text(), Parts: parts}
}

func rulesOf(c *config.Messages, zone *time.Location) alarm.Rules {
	r := alarm.Rules{
		Zone: zone, Repeat: c.Repeat, Quiet: c.Quiet, QuietFrom: c.QuietFrom, QuietTo: c.QuietTo,
		DigestDay: c.DigestDay, DigestAt: c.DigestAt,
	}
	if c.Second != nil {
		r.SecondAfter = c.Second.After
	}
	return r
}

// secretsOf finds the files of secrets and looks once whether they can be read:
// a daemon without one waters all the same, and says what is missing.
type secretsOf struct {
	besides  string // the directory of the site's file
	problems []controller.Message
}

func (s *secretsOf) of(reference string) notify.Secret {
	secret := notify.Resolve(reference, s.besides)
	if _, err := secret.Value(); err != nil {
		s.problems = append(s.problems, aboutMessages(fmt.Sprintf("Some messages cannot get out: %v.", err), ""))
	}
	return secret
}

// channelsOf are the channels that the file describes.
func channelsOf(c *config.Messages, site *config.Site, secrets *secretsOf) (channels []notify.Channel, broker *notify.MQTT) {
	if m := c.Mail; m != nil {
		password := secrets.of(m.PasswordFile)
		channel := notify.Mail{Called: "mail", Server: m.Server, From: m.From, To: m.To, User: m.User, Password: password, CA: m.CAFile}
		channels = append(channels, &channel)
		if c.Second != nil && len(c.Second.Mail) > 0 {
			second := channel
			second.Called, second.Other, second.To = "second mail", true, c.Second.Mail
			channels = append(channels, &second)
		}
	}
	hook := func(name string, second bool, h *config.Hook) {
		if h != nil {
			channels = append(channels, &notify.Webhook{
				Called: name, Other: second, Plain: h.URL, URL: secrets.of(h.URLFile), Key: secrets.of(h.SecretFile),
				Client: notify.HTTPClient(), Now: time.Now,
			})
		}
	}
	hook("webhook", false, c.Webhook)
	if c.Second != nil {
		hook("second webhook", true, c.Second.Webhook)
	}
	if b := c.MQTT; b != nil {
		broker = &notify.MQTT{
			Broker: b.Address, Topic: b.Topic, User: b.User, Password: secrets.of(b.PasswordFile), CA: b.CAFile,
			ClientID: "benchtide-" + slug(b.Topic), Zone: site.Zone,
		}
		channels = append(channels, broker)
	}
	return channels, broker
}

// slug is a topic as a broker takes it for the name of a client.
func slug(topic string) string {
	name := []byte(topic)
	for i, c := range name {
		if c == '/' || c == ' ' {
			name[i] = '-'
		}
	}
	return string(name)
}

func heartOf(c *config.Heartbeat, secrets *secretsOf) *notify.Heartbeat {
	if c == nil {
		return nil
	}
	return &notify.Heartbeat{Method: c.Method, Plain: c.URL, URL: secrets.of(c.URLFile), Every: c.Every, Client: notify.HTTPClient()}
}

// Alive is told of each turn that came in time and reached the board.
func (p *post) Alive() {
	if p.heart != nil {
		p.heart.Alive()
	}
}

// show leaves what lamp and horn are to do. It never waits.
func (p *post) show(lamp, horn bool) {
	select {
	case <-p.signals:
	default:
	}
	p.signals <- [2]bool{lamp, horn}
}

// failing has a person told, by the channels that work, of one that does not.
func (p *post) failing(channel, trouble string) {
	m := aboutMessages(fmt.Sprintf("Messages by %s have not got out for a while: %s.", channel, trouble), "Look at the network and at what the file says of it.")
	m.Done = "They wait and are tried again."
	if trouble == "" {
		m = aboutMessages(fmt.Sprintf("Messages by %s get out again.", channel), "")
		m.Gone = true
	}
	m.Cause, m.Text = "messages-"+channel, m.Parts.Text()
	go p.do(context.Background(), func(c *controller.Controller) { c.Tell(m) }) // it waits for a turn
}

// begin starts the goroutines.
func (p *post) begin() {
	ctx, end := context.WithCancel(context.Background())
	p.end = end
	p.done.Go(func() { p.dispatcher.Run(ctx) })
	p.done.Go(func() { p.signal(ctx) })
	if p.heart != nil {
		p.done.Go(func() { p.heart.Run(ctx, p.loop.Wake) })
	}
	if p.mqtt != nil {
		p.done.Go(func() { p.mqtt.Run(ctx) })
	}
}

// signal has lamp and horn switched.
func (p *post) signal(ctx context.Context) {
	for {
		select {
		case s := <-p.signals:
			p.do(ctx, func(c *controller.Controller) { c.Signal(s[0], s[1]) })
		case <-ctx.Done():
			return
		}
	}
}

// do acts on the controller between two turns.
func (p *post) do(ctx context.Context, act func(*controller.Controller)) {
	_ = p.loop.Do(ctx, loop.Stands, func(c loop.Core) error { // it only fails when the loop has ended
		act(c.Controller)
		return nil
	})
}

// close ends the goroutines; what waits is with the ledger.
func (p *post) close() {
	if p.end != nil {
		p.end()
	}
	p.done.Wait()
}
