package gpio

// kernel is the part of the kernel's GPIO character device that the board
// uses. Chips are named by their device file. Errors wrap the errno.
type kernel interface {
	// Request claims lines until Close. An output drives its initial level
	// from the first instant. Any file descriptor from 0 up is a valid answer. A
	// chip with another label than the request's is gone: its number is another's.
	Request(r request) (fd int, err error)
	// Devices lists the device files of all chips.
	Devices() ([]string, error)
	// Chip asks a chip its label and how many lines it has.
	Chip(device string) (label string, lines uint32, err error)
	// Info says what a line is called and who holds it.
	Info(at lineID) (lineInfo, error)
	// Get reads all lines of a request, one bit each in the order requested.
	Get(fd, lines int) (uint64, error)
	// Set drives the one line of an output request.
	Set(fd int, high bool) error
	Close(fd int) error
}

// maxLines is how many lines one request can hold (GPIO_V2_LINES_MAX in
// linux/gpio.h).
const maxLines = 64

// lineID is where a line is: the device file of its chip, and its number there.
type lineID struct {
	chip   string
	offset uint32
}

// request asks for lines of one chip: one output, or up to maxLines inputs.
type request struct {
	chip     string
	label    string // of that chip
	consumer string // shown to whoever asks the kernel who holds the line
	offsets  []uint32

	output  bool
	initial bool // of an output: whether it starts high

	pulls []Pull // of inputs, one a line
}

// lineInfo is what the kernel says of one line.
type lineInfo struct {
	name     string // "" when the kernel has none
	used     bool
	consumer string // may be empty although used
}
