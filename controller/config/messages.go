package config

import (
	"time"

	"benchtide/schedule"
)

// Messages say how people are told. A password, a key or an address that holds
// one stands in a file of its own, which the file here only names.
type Messages struct {
	Mail    *Mail
	Webhook *Hook
	MQTT    *Broker
	Second  *SecondPerson // nil when there is none

	Lamp   int // index in Site.Outputs of what is on while something urgent stands; -1 without one
	Buzzer int // of what sounds until that is acknowledged; -1 without one

	Quiet              bool // there are hours in which only what is urgent is sent
	QuietFrom, QuietTo schedule.TimeOfDay
	Repeat             time.Duration // of what is urgent
	DigestDay          time.Weekday
	DigestAt           schedule.TimeOfDay

	Heartbeat *Heartbeat
}

// Mail is a server that takes mail, and for whom.
type Mail struct {
	Server       string // host and port
	From         string
	To           []string
	User         string // empty when the server wants none
	PasswordFile string
	CAFile       string // empty for the system's authorities
}

// Hook is an address that takes messages; URL or URLFile.
type Hook struct {
	URL, URLFile, SecretFile string
}

// Broker is an MQTT broker and the topic under which it is told.
type Broker struct {
	Address, Topic, User, PasswordFile, CAFile string
}

// SecondPerson is who is told when nobody has acknowledged what is urgent.
type SecondPerson struct {
	After   time.Duration
	Mail    []string // by the server of Mail
	Webhook *Hook
}

// Heartbeat is an address outside that is called while the loop lives; URL or
// URLFile.
type Heartbeat struct {
	URL, URLFile string
	Method       string // GET or POST
	Every        time.Duration
}
