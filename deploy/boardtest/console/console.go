// Package console is what the host and the emulated board say to each other
// over the serial line: JSON, one request or message a line.
package console

// Request asks the board to do something. Do is one of
//
//	put      write Data to the file Args[0]
//	run      run Args to its end; the reply is its output
//	serve    keep Service running as a service manager would
//	signal   send signal number Args[0] to the service
//	stop     stop the service for good: SIGTERM, then its off command
//	probe    have the kernel note each start of a program and each move of an
//	         output line, with its boot-time clock
//	moves    the reply is what was noted since, one a line: NS start PATH, or
//	         NS line NUMBER LEVEL; a level that was there already is left out
//	level    after Args[2] ns put line Args[0] to level Args[1], 0 or 1, as from
//	         outside; the reply is the boot-time clock just before, in ns
//	expander without Args: bring up an expander of eight lines on a bus; the
//	         reply is the label of its chip. Args[0] there, gone, silent or blank
//	         (power lost and back) says what it is like from now on; the reply is
//	         as of stamp. With moves the reply is its levels after each change
//	         since, one a line: NS BITS, line 7 first
//	files    do what Data says with the kernel's files, one thing a line: insert
//	         MODULE PARAMETERS, mount KIND DIRECTORY, mkdir or rmdir PATH, write
//	         PATH TEXT, pull LINE up or down, made or unmade LINE of a HIGH, hold
//	         or free LINE, poke BUS/ADDRESS/REGISTER VALUE
//	pour     have water flow in tables (Data: a list of Table)
//	act      Data is an Act; the reply is a list of ns
//	clock    set wall time to Args[0] (Unix ns) and call it synchronised
//	stamp    the reply is the boot-time clock and wall time, in ns
//	get      fetch the URL Args[0]; the reply is the body
//	read     the reply is the content of the file Args[0]
//	mount    load the modules Args[2:] in order, then mount device Args[0] on Args[1]
type Request struct {
	ID      int      `json:"id"`
	Do      string   `json:"do"`
	Args    []string `json:"args,omitempty"`
	Data    string   `json:"data,omitempty"`
	Service *Service `json:"service,omitempty"`
}

// Service is what a unit file says of the daemon, as far as the board needs it.
type Service struct {
	Start      []string `json:"start"`
	Env        []string `json:"env,omitempty"`
	StopPost   []string `json:"stop_post,omitempty"`
	RestartMS  int      `json:"restart_ms"`  // pause before a restart
	WatchdogMS int      `json:"watchdog_ms"` // 0 for none
}

// Seen is a line of one of the kernel's simulated chips, such as gpio-sim.0/3, at a
// level.
type Seen struct {
	Line string `json:"line"`
	High bool   `json:"high"`
}

// Table is one whose FULL closes to ground when its pump and enable relay were on
// for FillS seconds, and opens soon after, and whose HIGH opens when it is made so.
type Table struct {
	Pump, Enable Seen
	Full, High   string
	FillS, FallS float64
}

// Act is something done to the machine at a moment: AfterMS after all of When hold.
// Undo is done UndoMS after Do. The reply says how long after the beginning of Do
// each of Then first held; 0 when it did not within LimitMS.
type Act struct {
	When    []Seen
	AfterMS int
	Do      string // as Data of files
	Undo    string
	UndoMS  int
	Then    []Seen
	LimitMS int
}

// Message answers a Request (with its ID), or tells an event by itself: up,
// log (a line of the daemon), started, ready, exited, hung, off, garbled.
type Message struct {
	ID    int    `json:"id,omitempty"`
	Event string `json:"event,omitempty"`
	Text  string `json:"text,omitempty"`
	Error string `json:"error,omitempty"`
}
