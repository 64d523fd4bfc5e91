package gpio

import (
	"fmt"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"benchtide/hw/lines"
	"benchtide/safety"
)

// A kernel without version 2 of the interface tells labels and no line; one that
// does not permit a chip tells of the others alone. Neither passes for a machine
// with fewer lines.
func TestLinesThatCouldNotBeAskedAreSaid(t *testing.T) {
	for says, err := range map[string]error{"5.10": syscall.ENOTTY, "group gpio": syscall.EACCES} {
		r := newRig(t)
		r.fail = func(op, _ string) error {
			if op == "info" {
				return err
			}
			return nil
		}
		l := listOn(r.host(), Config{})
		require.ErrorContains(t, l.Unasked, says)
		require.ErrorContains(t, l.Unasked, "not every line could be asked")
		_, refused := openOn(r.host(), site())
		require.ErrorContains(t, refused, says)
		assert.Empty(t, r.took(), "no line is touched")
	}
	assert.NoError(t, listOn(newRig(t).host(), Config{}).Unasked)
}

// Between the look and the request a chip can go, and another take its number.
func TestALineIsNotTakenOfAChipThatTookTheNumber(t *testing.T) {
	r := newRig(t)
	r.addChip(chip{device: "/dev/gpiochip1", label: "tray-a", own: true})
	r.addPin("OURS", 0)
	c := site()
	c.Outputs[pump].Line = lines.Line{Chip: "tray-a"}
	r.fail = func(op, line string) error {
		if op == "request" && line == "GPIO22" { // the first line that is claimed
			c := r.chips["/dev/gpiochip1"]
			c.label = "tray-b"
			r.chips["/dev/gpiochip1"] = c
			r.pins[lineID{"/dev/gpiochip1", 0}] = &gpiotest.Pin{N: "THEIRS"}
		}
		return nil
	}
	_, err := openOn(r.host(), c)
	require.ErrorContains(t, err, `claim line "line 0 of tray-a" for output "flood_pump": its chip is gone`)
	for _, moved := range r.took() {
		assert.NotContains(t, moved, "THEIRS")
	}
	assert.Empty(t, r.claims, "what was claimed is let go")
}

// One line written in three ways, and a switch on the line of an output.
func TestALineServesOneUseHoweverItIsWritten(t *testing.T) {
	r := crowd(t)
	five := []lines.Line{lines.Named("GPIO5"), {Pin: 29}, {Chip: "pinctrl-bcm2711", Offset: 5}, {Chip: "pinctrl-bcm2711", Address: "fe200000.gpio", Offset: 5}}
	for i, first := range five {
		for j, second := range five {
			c := Config{Outputs: []Output{{Name: "pump", Line: first, Kind: safety.FloodPump}, {Name: "air", Line: second}}}
			if i != j || i == 0 {
				_, err := openOn(r.host(), c)
				require.ErrorContains(t, err, fmt.Sprintf(`for output "air": it is the same line as %q of output "pump"; give each its own`, first))
			}
			c = Config{Outputs: c.Outputs[:1], Benches: []Bench{{Name: "north", High: Switch{Line: second}}}}
			_, err := openOn(r.host(), c)
			require.ErrorContains(t, err, fmt.Sprintf(`for switch north.high: it is the same line as %q of output "pump"`, first))
		}
	}
	assert.Empty(t, r.took(), "no line is touched")
}

// Its chip came back, but somebody else was quicker. It is a fault of every
// turn, no pump circuit stays closed meanwhile, and it heals as soon as they let go.
func TestALineThatSomebodyTookMeanwhileHealsWhenTheyLetGo(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	require.NoError(t, b.Apply(command(pump, enable)))
	plug := r.unplug("/dev/gpiochip0")
	b.Read(at(time.Second), readings())
	require.Error(t, b.Apply(command()))
	plug("/dev/gpiochip4")
	taken := lineID{"/dev/gpiochip4", 5}
	r.holders[taken] = lineInfo{used: true, consumer: "sysfs"}
	for range 3 {
		require.ErrorIs(t, b.Apply(command(pump, enable)), syscall.EBUSY)
		require.ErrorIs(t, b.Apply(command()), syscall.EBUSY) // as the loop goes on
		assert.False(t, r.high("GPIO22"), "the enable relay stays open")
	}
	delete(r.holders, taken)
	require.NoError(t, b.Apply(command()))
	require.NoError(t, b.Apply(command(pump, enable)))
	assert.False(t, r.high("GPIO5"))
	assert.True(t, r.high("GPIO22"))
}

// What a file cannot have is not shown as if it could.
func TestWhatAFileCannotHaveIsNotShownForIt(t *testing.T) {
	r := newRig(t)
	for i, label := range []string{"", "gpiochip3", "7", "bad\xff", " edge"} {
		r.addChip(chip{device: fmt.Sprintf("/dev/gpiochip%d", i+1), label: label, own: true})
		r.addPin("", 0)
		r.addPin("12", 1)
		r.addPin("two words", 2)
		r.addPin(fmt.Sprintf("FINE%d", i), 3)
	}
	for _, c := range listOn(r.host(), Config{}).Chips {
		for _, l := range c.Lines {
			switch {
			case c.Label == "pinctrl-test":
				assert.Equal(t, lines.Named(l.Name), l.Write)
			case l.Offset == 3:
				assert.Equal(t, lines.Named(l.Name), l.Write)
			default:
				assert.False(t, l.Write.Fitted(), "%q %d: %s", c.Label, l.Offset, l.Write.Written())
			}
		}
	}
}
