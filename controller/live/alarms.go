package live

// Alarms are what is not over, and what was told of but reached nobody.
type Alarms struct {
	Alarms      []Alarm       `json:"alarms"` // the most urgent first, of those the oldest
	Undelivered []Undelivered `json:"undelivered"`
}

// Alarm is one cause on one bench, as far as people were told of it.
type Alarm struct {
	ID       int64   `json:"id"`
	Bench    *string `json:"bench"` // null for the site
	Cause    string  `json:"cause"`
	Words    string  `json:"words"`   // what people call it
	Urgency  string  `json:"urgency"` // now or today
	State    string  `json:"state"`   // unacknowledged, acknowledged, returned, shelved or out of service
	Since    string  `json:"since"`
	Count    int     `json:"count"`
	History  []Past  `json:"history"` // what happened under it, oldest first
	Text     string  `json:"text"`
	Happened string  `json:"happened"`
	Done     string  `json:"done"`
	Do       string  `json:"do"`
	By       *string `json:"by"`  // when the first crop concerned can wait no longer
	Who      string  `json:"who"` // acknowledged it, shelved it or took it out of service
	Until    *string `json:"shelved_until"`
}

// Past is one thing that happened under an alarm.
type Past struct {
	At   string `json:"at"`
	Text string `json:"text"`
}

// Undelivered is a message that nobody took in its time.
type Undelivered struct {
	ID      string `json:"id"`
	Channel string `json:"way"`
	At      string `json:"at"`
	Subject string `json:"subject"`
	Trouble string `json:"trouble"`
}

// MessagesStatus is how the messages fare.
type MessagesStatus struct {
	LastConfirmed  *string         `json:"last_confirmed"` // a person answered a test message
	Unacknowledged int             `json:"unacknowledged"` // alarms for now
	Channels       []ChannelStatus `json:"ways"`
	Trouble        *string         `json:"trouble"` // the queue is not written down

	Heartbeat *HeartbeatStatus `json:"heartbeat"` // null where there is none
}

// HeartbeatStatus is how the calls to an address outside fare.
type HeartbeatStatus struct {
	LastAnswered *string `json:"last_answered"`
	Trouble      *string `json:"trouble"`
}

// ChannelStatus is how one channel fares.
type ChannelStatus struct {
	Name        string  `json:"name"`
	Waiting     int     `json:"waiting"`
	Undelivered int     `json:"undelivered"`
	LastSent    *string `json:"last_sent"`
	Confirmed   *string `json:"last_confirmed"`
	Trouble     *string `json:"trouble"`
}
