package live

// Event is one thing that happened, in words.
type Event struct {
	At    string `json:"at"`
	Kind  string `json:"kind"`
	Level string `json:"level"` // info, warn or error
	Bench string `json:"bench"` // empty for the site
	Text  string `json:"text"`
}
