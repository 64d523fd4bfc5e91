package config

import (
	"strings"
	"time"
)

// Kind says what is written at a key.
type Kind string

// The kinds. Section, Named and List hold further keys; the others are one
// plain value.
const (
	Section Kind = "a section of keys"
	Named   Kind = "names of your own, each with a section"
	List    Kind = "a list"

	Length      Kind = "a length"
	Volume      Kind = "a volume"
	Flow        Kind = "a flow"
	Time        Kind = "a length of time"
	Days        Kind = "a number of days"
	Share       Kind = "a share"
	Warmths     Kind = "temperatures from the lowest to the highest"
	Shares      Kind = "shares from the lowest to the highest"
	Sunlights   Kind = "light of a day from the least to the most"
	PhotonFlux  Kind = "a photon flux"
	Degrees     Kind = "degrees"
	Whole       Kind = "a whole number"
	Date        Kind = "a date"
	TimeOfDay   Kind = "a time of day"
	CronTimes   Kind = "a cron expression"
	Choice      Kind = "one of a few words"
	Truth       Kind = "true or false"
	OwnName     Kind = "a name of letters, digits, _ and -"
	Reference   Kind = "a name that the file gives"
	GPIOLine    Kind = "a line of the board"
	ChipLabel   Kind = "the label of a chip"
	Zone        Kind = "a time zone"
	Words       Kind = "a text of one line"
	WholePath   Kind = "the whole path of a file"
	Mailbox     Kind = "a mail address"
	Server      Kind = "a host and its port"
	WebAddress  Kind = "a web address"
	BrokerPlace Kind = "the address of a broker"
	Topic       Kind = "a topic"
)

// plainKinds tell for each plain value how it is written, for people.
var plainKinds = map[Kind]string{
	Length:      "a number and mm, cm, m, in or ft",
	Volume:      "a number and mL, L, fl oz, pt, qt or gal",
	Flow:        "a number and L/h, L/min, gph or gpm",
	Time:        "a number and s, min, h or d; parts add up, as in 1 h 30 min",
	Days:        "a whole number and d",
	Share:       "a number and %",
	Warmths:     "one number, or two with to between them, and C or F",
	Shares:      "one number, or two with to between them, and %",
	Sunlights:   "one number, or two with to between them, and MJ/m2, kWh/m2 or mol/m2",
	PhotonFlux:  "a number and umol/m2s",
	Degrees:     "a number; north and east are positive, south and west negative",
	Whole:       "a whole number without a unit",
	Date:        "year-month-day",
	TimeOfDay:   "hours and minutes in quotes, from 00:00 to 23:59",
	CronTimes:   "minute, hour, day of month, month and day of week, in quotes",
	Choice:      "one of its words",
	Truth:       "true or false",
	OwnName:     "1 to 40 letters, digits, _ and -, beginning with a letter",
	Reference:   "as it is spelt where the file gives it",
	GPIOLine:    "as the board names it, or {chip: LABEL, offset: N}, or {pin: N}",
	ChipLabel:   "as benchtide lines shows it",
	Zone:        "a place of the tz database",
	Words:       "one line, in quotes where it holds a colon or a #",
	WholePath:   "beginning with /",
	Mailbox:     "name@host",
	Server:      "host:port",
	WebAddress:  "https:// and what follows",
	BrokerPlace: "mqtts://host:port",
	Topic:       "words joined by /",
}

// Plain reports whether one plain value stands at keys of this kind.
func (k Kind) Plain() bool { return plainKinds[k] != "" }

// WrittenAs says how a plain value of this kind is written.
func (k Kind) WrittenAs() string { return plainKinds[k] }

// weekdays and months are the words for them, as the file has them.
var weekdays, monthNames = func() (days, months []string) {
	for d := time.Sunday; d <= time.Saturday; d++ {
		days = append(days, strings.ToLower(d.String()))
	}
	for m := time.January; m <= time.December; m++ {
		months = append(months, strings.ToLower(m.String()))
	}
	return days, months
}()
