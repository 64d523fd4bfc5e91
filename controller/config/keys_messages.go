package config

// account are the keys of who asks for a name and a password.
func account(under, of string) []Key {
	return []Key{
		{Path: under + "user", Kind: Words, Is: "the user's name at " + of, Example: "bench", Without: of + " asks for none"},
		{Path: under + "password_file", Kind: Words, Is: "the file that holds the password", Example: "mail_password", Without: of + " asks for none",
			Measure: "a credential of the service, else a file beside this one that only the program can read"},
		{Path: under + "ca_file", Kind: WholePath, Is: "the certificate of " + of + ", where it is one of your own", Example: "/etc/ssl/certs/ours.pem", Without: "the system's authorities"},
	}
}

// hook are the keys of an address that takes messages.
func hook(under string) []Key {
	return []Key{
		{Path: under + "url", Kind: WebAddress, Is: "the address that takes messages", Example: "https://example.org/hook", Without: "url_file names it"},
		{Path: under + "url_file", Kind: Words, Is: "the file that holds the address, where a key is in it", Example: "webhook_url", Without: "url is it"},
		{Path: under + "secret_file", Kind: Words, Is: "the file that holds the key, whsec_…", Example: "webhook_secret", Without: "the receiver cannot tell these messages from those of others",
			Measure: "make one with: echo whsec_$(openssl rand -base64 32)"},
	}
}

// Which of these keys go together.
var (
	reach = []string{"url", "url_file"}
	login = [][2]string{{"user", "password_file"}}
)

func messageKeys() []Key {
	const m = "messages."
	keys := channelKeys(m)
	keys = append(keys,
		Key{Path: m + "second_person", Kind: Section, Is: "who is told when nobody has acknowledged what is urgent", Example: "{after: 30 min, mail: neighbour@example.org}", Without: "nobody is", Any: []string{"mail", "webhook"}},
		Key{Path: m + "second_person.after", Kind: Time, Least: "1 min", Most: "24 h", Default: "30 min", Is: "how long what is urgent may go unacknowledged", Example: "30 min"},
		Key{Path: m + "second_person.mail", Kind: Mailbox, Many: true, Is: "the second person's address, by the server of messages.mail", Example: "neighbour@example.org", Without: "webhook reaches them"},
		Key{Path: m + "second_person.webhook", Kind: Section, Is: "an address that takes the second person's messages", Example: "{url: https://example.org/hook}", Without: "mail reaches them", One: reach})
	keys = append(keys, hook(m+"second_person.webhook.")...)
	keys = append(keys,
		Key{Path: m + "lamp", Kind: Reference, Is: "the output of a lamp that is on while something urgent stands", Example: "beacon", Without: "no lamp tells"},
		Key{Path: m + "buzzer", Kind: Reference, Is: "the output of a buzzer that sounds until what is urgent is acknowledged", Example: "horn", Without: "no buzzer tells"},
		Key{Path: m + "quiet", Kind: Section, Is: "the hours in which only what is urgent is sent", Example: `{from: "21:00", to: "07:00"}`, Without: "there are none"},
		Key{Path: m + "quiet.from", Kind: TimeOfDay, Needed: true, Is: "when quiet begins", Example: `"21:00"`},
		Key{Path: m + "quiet.to", Kind: TimeOfDay, Needed: true, Is: "when quiet ends", Example: `"07:00"`},
		Key{Path: m + "repeat", Kind: Time, Least: "1 min", Most: "24 h", Default: "15 min", Is: "how often what is urgent is sent again", Example: "15 min"},
		Key{Path: m + "digest", Kind: Section, Is: "when the week is summed up", Example: `{day: sunday, at: "18:00"}`, Without: `sunday at "18:00"`},
		Key{Path: m + "digest.day", Kind: Choice, Words: weekdays, Default: "sunday", Is: "the day of the summary", Example: "sunday"},
		Key{Path: m + "digest.at", Kind: TimeOfDay, Default: `"18:00"`, Is: "the time of the summary", Example: `"18:00"`},
		Key{Path: m + "heartbeat", Kind: Section, Is: "an address outside that is called while the controller lives", Example: "{url_file: heartbeat_url, every: 5 min}", Without: "nobody outside notices when the controller is dead", One: reach})
	keys = append(keys, hook(m + "heartbeat.")[:2]...)
	return append(keys,
		Key{Path: m + "heartbeat.every", Kind: Time, Least: "10 s", Most: "24 h", Default: "5 min", Is: "how often it is called", Example: "5 min"},
		Key{Path: m + "heartbeat.method", Kind: Choice, Words: []string{"GET", "POST"}, Default: "GET", Is: "how it is called", Example: "GET"})
}

// channelKeys are those by which the first person is told.
func channelKeys(m string) []Key {
	keys := []Key{
		{Path: "messages", Kind: Section, Is: "how people are told", Example: "{mail: {server: smtp.example.org:465, from: bench@example.org, to: grower@example.org}}", Without: "page and commands alone tell"},
		{Path: m + "mail", Kind: Section, Is: "the server that takes mail, and for whom", Example: "{server: smtp.example.org:465, from: bench@example.org, to: grower@example.org}", Without: "no mail is sent", Both: login},
		{Path: m + "mail.server", Kind: Server, Needed: true, Is: "the server and its port: 465 with TLS, any other with STARTTLS", Example: "smtp.example.org:465"},
		{Path: m + "mail.from", Kind: Mailbox, Needed: true, Is: "the sender", Example: "bench@example.org"},
		{Path: m + "mail.to", Kind: Mailbox, Many: true, Needed: true, Is: "who is told, one address or a list", Example: "grower@example.org"},
	}
	keys = append(keys, account(m+"mail.", "the mail server")...)
	keys = append(keys, Key{Path: m + "webhook", Kind: Section, Is: "an address that takes messages", Example: "{url: https://example.org/hook, secret_file: webhook_secret}", Without: "none is sent so", One: reach})
	keys = append(keys, hook(m+"webhook.")...)
	keys = append(keys,
		Key{Path: m + "mqtt", Kind: Section, Is: "a broker that is told", Example: "{broker: mqtts://example.org:8883, topic: greenhouse/bench}", Without: "none is told", Both: login},
		Key{Path: m + "mqtt.broker", Kind: BrokerPlace, Needed: true, Is: "the address of the broker", Example: "mqtts://example.org:8883"},
		Key{Path: m + "mqtt.topic", Kind: Topic, Needed: true, Is: "the topic under which it is told", Example: "greenhouse/bench"})
	return append(keys, account(m+"mqtt.", "the broker")...)
}
