//go:build watchdogtest

package watchdogtest

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/deploy/boardtest/console"
	"benchtide/hw/lines"
)

// The chips of a Raspberry Pi 5 by label and number of lines (Raspberry Pi Ltd, GPIO
// Usage on Raspberry Pi Devices, the output of gpiodetect), in the order in which the
// first kernels for it had them.
const rp1Label = "pinctrl-rp1"

var pi5 = []struct {
	name, label string
	lines       int
}{
	{"brcm-a", "gpio-brcmstb@107d508500", 32},
	{"brcm-b", "gpio-brcmstb@107d508520", 4},
	{"brcm-c", "gpio-brcmstb@107d517c00", 17},
	{"brcm-d", "gpio-brcmstb@107d517c20", 6},
	{"rp1", rp1Label, 54},
}

// rp1Names are what its lines are called past the header (Linux,
// arch/arm64/boot/dts/broadcom, the gpio-line-names of rp1).
var rp1Names = map[int]string{0: "ID_SDA", 1: "ID_SCL", 28: "PCIE_RP1_WAKE", 29: "FAN_TACH", 32: "ETH_RST_N", 42: "USB_VBUS_EN", 47: "2712_WAKE"}

// chips are those of a machine: of the kernel's simulated ones the device by name,
// and the label of an expander.
type chips struct {
	m      *machine
	device map[string]string
	stuck  string
}

const simulated = "/sys/kernel/config/gpio-sim/"

func (m *machine) files(things ...string) {
	m.t.Helper()
	m.do(console.Request{Do: "files", Data: strings.Join(things, "\n")})
}

// makeChips has the machine make its chips.
func (m *machine) makeChips() *chips {
	m.t.Helper()
	m.files("insert configfs", "insert gpio-sims", "mount configfs /sys/kernel/config",
		"insert gpio-pca953x", "insert gpio-pcf857x", "insert i2c-dev")
	c := &chips{m: m, device: map[string]string{}}
	names := map[int]string{}
	for i := 2; i < 28; i++ {
		names[i] = fmt.Sprint("GPIO", i)
	}
	for i, name := range rp1Names {
		names[i] = name
	}
	for _, p := range pi5 {
		called := map[int]string{0: "-", p.lines - 1: "-"} // as that board's kernel calls what leads nowhere
		if p.label == rp1Label {
			called = names
		}
		c.make(p.name, p.label, p.lines, called)
	}
	c.make("tray-a", "tray-a", 8, nil)
	c.make("twin-a", "tray", 8, nil)
	c.make("twin-b", "tray", 8, nil)
	c.make("floats", "floats", 4, nil)
	c.bindStub()
	return c
}

// make makes a chip, and notes its device.
func (c *chips) make(name, label string, count int, named map[int]string) {
	c.m.t.Helper()
	dir := simulated + name
	do := []string{"mkdir " + dir, "mkdir " + dir + "/bank",
		fmt.Sprintf("write %s/bank/num_lines %d", dir, count), fmt.Sprintf("write %s/bank/label %s", dir, label)}
	for n, line := range named {
		do = append(do, fmt.Sprintf("mkdir %s/bank/line%d", dir, n), fmt.Sprintf("write %s/bank/line%d/name %s", dir, n, line))
	}
	c.m.files(append(do, "write "+dir+"/live 1")...)
	c.device[name] = strings.TrimSpace(c.m.do(console.Request{Do: "read", Args: []string{dir + "/dev_name"}}))
}

// number is what the kernel calls a chip for now.
func (c *chips) number(name string) string {
	c.m.t.Helper()
	return strings.TrimSpace(c.m.do(console.Request{Do: "read", Args: []string{simulated + name + "/bank/chip_name"}}))
}

// stubBus is the kernel's bus without chips.
const stubBus = "i2c-0"

// bindStub has the kernel's bus without chips play an expander whose lines read
// high whatever it is told, and two of a kind whose labels have no address.
func (c *chips) bindStub() {
	c.m.t.Helper()
	c.m.files("insert i2c-stub chip_addr=0x21,0x38,0x39", "poke "+stubBus+"/33/0 255",
		"write /sys/bus/i2c/devices/"+stubBus+"/new_device pca9554 0x21",
		"write /sys/bus/i2c/devices/"+stubBus+"/new_device pcf8574 0x38",
		"write /sys/bus/i2c/devices/"+stubBus+"/new_device pcf8574 0x39")
	c.stuck = "0-0021"
}

// relayBudget is the longest from HIGH made, or switches gone with their chip, to the
// relays off; goneBudget from a chip of relays gone to the enable relay off: the
// lines of the processor itself are written at least once a second.
const (
	relayBudget = 20 * time.Millisecond
	goneBudget  = 1100 * time.Millisecond
)

// The benches of one site hang on chips of many kinds. In mid-fill HIGH is made on
// one, the chip with the switches of another goes, and those with the pumps of two
// more, which come back under other numbers; then all flood. An air pump hangs on an
// expander that takes every set and whose lines do not move: that is told, keeps nothing
// from flooding, and heals.
func TestFloodsOnChipsOfManyKinds(t *testing.T) {
	t.Parallel()
	m := powerOn(t, counted)
	m.await(0, 2*within, "up", "")
	c := m.makeChips()
	all := c.benches()
	s, problems := config.Parse("site.yaml", []byte(siteOf(all, c.stuck)))
	require.Empty(t, problems.Errors())
	m.do(console.Request{Do: "put", Args: []string{"/etc/site.yaml"}, Data: siteOf(all, c.stuck)})
	found := m.requireListed(c)

	water, err := json.Marshal(tables(s, all))
	require.NoError(t, err)
	m.do(console.Request{Do: "pour", Data: string(water)})
	m.requireRefused(all[0])
	m.setClock("09:59:30")
	next := m.serveChips()

	header, tray, own := all[0], all[1], all[3]
	high := m.act(console.Act{When: header.closed(), AfterMS: 300, Do: "made " + header.floats[1],
		Undo: "unmade " + header.floats[1], UndoMS: 15, Then: header.off(), LimitMS: 2000})
	unread := m.act(console.Act{When: own.closed(), AfterMS: 1000, Do: "write " + simulated + "floats/live 0",
		Undo: "write " + simulated + "floats/live 1", UndoMS: 300, Then: own.off(), LimitMS: 2000})
	before := [2]string{c.number("tray-a"), c.number("twin-b")}
	gone := m.act(console.Act{When: tray.closed(), AfterMS: 2000,
		Do:   "write " + simulated + "tray-a/live 0\nwrite " + simulated + "twin-b/live 0",
		Undo: "write " + simulated + "twin-b/live 1\nwrite " + simulated + "tray-a/live 1", UndoMS: 3000,
		Then: everyEnableOff(all), LimitMS: 2500})
	m.requireWithin("HIGH made for 15 ms to pump and enable off", high(), relayBudget)
	m.requireWithin("switches' chip gone to pump and enable off", unread(), relayBudget)
	m.requireWithin("relays' chips gone to every enable off", gone(), goneBudget)
	m.await(next, within, "log", "pump_tray")
	m.await(next, within, "log", "pump_twin")
	after := [2]string{c.number("tray-a"), c.number("twin-b")}
	t.Logf("the chips were %v and are %v", before, after)
	require.NotEqual(t, before, after)
	next = m.requireEnded(next, all)

	// What the expander's lines read is as they are told now.
	m.files("poke " + stubBus + "/33/0 254")
	m.await(next, within, "log", "Every output obeys again")
	m.requireProven(next, all)
	m.do(console.Request{Do: "stop"})
	m.await(0, within, "log", `drive output \"air\": read back: it was driven low and reads high`)
	table := tried(found, c)
	t.Log("\n" + table)
	requireKept(t, table)
}

// requireRefused starts the program while somebody else holds a line of a bench.
func (m *machine) requireRefused(b bench) {
	m.t.Helper()
	m.files("hold " + b.floats[0])
	text, failed := m.ask(console.Request{Do: "run", Args: []string{"/usr/bin/benchtide", "run", "-c", "/etc/site.yaml", "--state", "/tmp/none"}})
	require.NotEmpty(m.t, failed, text)
	require.Contains(m.t, text, fmt.Sprintf("claim line %q for switch %s.full: it is held by \"sysfs\"; stop that program or driver, or use another line", b.full, b.name))
	m.files("free " + b.floats[0])
}

// closed is a bench's pump circuit closed; off is both its relays off.
func (b bench) closed() []console.Seen { return []console.Seen{b.seen, b.enable} }

func (b bench) off() []console.Seen {
	return []console.Seen{{Line: b.seen.Line, High: !b.seen.High}, {Line: b.enable.Line, High: !b.enable.High}}
}

func everyEnableOff(all []bench) (off []console.Seen) {
	for _, b := range all {
		off = append(off, b.off()[1])
	}
	return off
}

// act begins an act, and returns what waits for it and says how long each took.
func (m *machine) act(a console.Act) func() []time.Duration {
	m.t.Helper()
	b, err := json.Marshal(a)
	require.NoError(m.t, err)
	answer := m.request(console.Request{Do: "act", Data: string(b)})
	return func() (took []time.Duration) {
		m.t.Helper()
		text, failed := answer()
		require.Empty(m.t, failed)
		require.NoError(m.t, json.Unmarshal([]byte(text), &took))
		return took
	}
}

func (m *machine) requireWithin(what string, took []time.Duration, budget time.Duration) {
	m.t.Helper()
	m.t.Logf("%s: %v", what, took)
	require.NotContains(m.t, took, time.Duration(0), "%s: never", what)
	require.LessOrEqual(m.t, slices.Max(took), budget, what)
}

func (m *machine) serveChips() int {
	m.t.Helper()
	from := len(m.events)
	m.do(console.Request{Do: "serve", Service: &console.Service{
		Start: []string{"/usr/bin/benchtide", "run", "-c", "/etc/site.yaml", "--state", "/tmp/state", "--socket", socket, "--json", "--attended"},
	}})
	return m.await(from, within, "ready", "")
}

func (m *machine) setClock(clock string) {
	m.t.Helper()
	at, err := time.Parse("2006-01-02 15:04:05", "2026-03-10 "+clock)
	require.NoError(m.t, err)
	m.do(console.Request{Do: "clock", Args: []string{fmt.Sprint(at.UnixNano())}})
}

// ended is a flood that the daemon's log says has ended.
type ended struct {
	Event, Bench, Outcome, Reason string
}

// requireEnded waits for the end of one flood of every bench, and returns the number
// of the event after the last.
func (m *machine) requireEnded(from int, all []bench) int {
	m.t.Helper()
	return m.eachEnded(from, all, func(ended) {})
}

func (m *machine) requireProven(from int, all []bench) int {
	m.t.Helper()
	return m.eachEnded(from, all, func(f ended) { require.Equal(m.t, "proven", f.Outcome, "%s: %s", f.Bench, f.Reason) })
}

func (m *machine) eachEnded(from int, all []bench, check func(ended)) int {
	m.t.Helper()
	got := map[string]bool{}
	last := m.until("end of every flood", from, 3*within, func(e event) bool {
		var f ended
		if e.Event != "log" || json.Unmarshal([]byte(e.Text), &f) != nil || f.Event != "flood ended" {
			return false
		}
		m.t.Logf("%s: %s %s", f.Bench, f.Outcome, f.Reason)
		check(f)
		got[f.Bench] = true
		return len(got) == len(all)
	})
	return last + 1
}

// requireListed asks the program which lines there are, and returns how many by label.
func (m *machine) requireListed(c *chips) map[string]int {
	m.t.Helper()
	text, _ := m.ask(console.Request{Do: "run", Args: []string{"/usr/bin/benchtide", "lines", "-c", "/etc/site.yaml", "--json"}})
	var listing struct {
		Chips []struct {
			Label, Address string
			Own            bool
			Lines          []struct {
				Name, Write string
				Ours        []string
			}
		}
		Missing []string
		Unasked string
	}
	require.NoError(m.t, json.Unmarshal([]byte(text[strings.Index(text, "{"):]), &listing), text)
	require.Empty(m.t, listing.Missing)
	require.Empty(m.t, listing.Unasked)
	found, ours := map[string]int{}, 0
	for _, chip := range listing.Chips {
		found[chip.Label] += len(chip.Lines)
		require.Equal(m.t, !strings.Contains(chip.Label, "-00") && chip.Label != pcf, chip.Own, chip.Label)
		for n, l := range chip.Lines {
			ours += len(l.Ours)
			want := fmt.Sprintf("{chip: %s, offset: %d}", chip.Label, n)
			switch {
			case chip.Label == rp1Label && l.Name != "":
				want = lines.Named(l.Name).Written()
			case chip.Label == "tray" || chip.Label == pcf:
				want = fmt.Sprintf("{chip: %s, address: %s, offset: %d}", chip.Label, chip.Address, n)
			case !chip.Own:
				want = fmt.Sprintf("{chip: %q, offset: %d}", chip.Label, n)
			}
			require.Equal(m.t, want, l.Write)
		}
	}
	require.Equal(m.t, 4*4+1, ours, "lines of the site")
	return found
}

// tried is the table of chips with what was seen of each.
func tried(found map[string]int, c *chips) string {
	header := found[rp1Label]
	for _, p := range pi5[:4] {
		header += found[p.label]
	}
	none := "-"
	gone := fmt.Sprintf("enable off within %g s; found under another number, next flood proven", goneBudget.Seconds())
	off := fmt.Sprintf("within %d ms", relayBudget.Milliseconds())
	table := "| chip | made by | lines found | flood | chip lost and found again | HIGH to off |\n|---|---|---|---|---|---|\n"
	for _, row := range []struct {
		chip, made  string
		lines       int
		flood, lost string
		high        string
	}{
		{"a Raspberry Pi 5’s " + rp1Label + " and four others, with their labels, sizes and names", "simulated", header, "proven", none, off},
		{"one whose lines have no names", "simulated", found["tray-a"], "proven", gone, none},
		{"one of two with the same label", "simulated", found["tray"], "proven", gone, none},
		{"one with the switches alone", "simulated", found["floats"], "proven", "relays off " + off + "; next flood proven", none},
		{"PCA9554 that takes what it is told and does not do it", "its driver, bus without chips", found[c.stuck], "told; others flood", "obeys again once its lines read as told", none},
		{"two PCF8574, which have one label", "its driver, bus without chips", found[pcf], none, none, none},
	} {
		table += fmt.Sprintf("| %s | %s | %d | %s | %s | %s |\n", row.chip, row.made, row.lines, row.flood, row.lost, row.high)
	}
	return table
}

// pcf is the label of every PCF8574.
const pcf = "pcf8574"

// requireKept wants the table in the guide as it was found.
func requireKept(t *testing.T, table string) {
	text, err := os.ReadFile("../WIRING.md")
	require.NoError(t, err)
	require.Contains(t, string(text), table, "put the table into deploy/WIRING.md")
}
