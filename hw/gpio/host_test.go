package gpio

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/lines"
	"benchtide/safety"
)

func TestRefusalNamesLineCauseAndFix(t *testing.T) {
	chip := func(n uint32) lineID { return lineID{"/dev/gpiochip0", n} }
	info := func(err error) func(*rig) {
		return func(r *rig) {
			r.fail = func(op, line string) error {
				if op == "info" && line == "GPIO5" {
					return fmt.Errorf("ask: %w", err)
				}
				return nil
			}
		}
	}
	for name, tt := range map[string]struct {
		prepare func(*rig)
		line    string
		want    []string
	}{
		"missing": {line: "GPIO99", prepare: func(r *rig) { r.addPin("BT_ON", 40); r.addPin("WL_ON", 41) }, want: []string{
			`claim line "GPIO99" for output "pump"`, "no line of that name (it has GPIO0 to GPIO27)", "correct the name"}},
		"like none": {line: "PA7", want: []string{"no line of that name; correct the name"}},
		"unnamed":   {line: "", want: []string{"no line is named", "name one"}},
		"held by a program": {line: "GPIO5",
			prepare: func(r *rig) { r.holders[chip(5)] = lineInfo{used: true, consumer: "fan@812"} },
			want:    []string{`"GPIO5"`, `held by "fan@812"`, "stop that program"}},
		"held by the kernel": {line: "GPIO5",
			prepare: func(r *rig) { r.holders[chip(5)] = lineInfo{used: true} },
			want:    []string{"the kernel itself holds it", "switch that function off"}},
		"no permission": {line: "GPIO5", prepare: info(syscall.EACCES),
			want: []string{"no permission (ask: permission denied)", "group gpio"}},
		"not permitted": {line: "GPIO5", prepare: info(syscall.EPERM), want: []string{"no permission", "group gpio"}},
		"chip gone":     {line: "GPIO5", prepare: info(syscall.ENODEV), want: []string{"its chip is gone", "expander's plug"}},
		"old kernel":    {line: "GPIO5", prepare: info(syscall.ENOTTY), want: []string{"does not take such a request", "5.10"}},
		"anything else": {line: "GPIO5", prepare: info(syscall.EIO), want: []string{"input/output error", "check the board"}},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			if tt.prepare != nil {
				tt.prepare(r)
			}
			_, err := openOn(r.host(), Config{Outputs: []Output{
				{Name: "enable", Line: lines.Named("GPIO22"), EnergiseHigh: true, Kind: safety.Enable},
				{Name: "pump", Line: lines.Named(tt.line), Kind: safety.FloodPump},
			}})
			require.Error(t, err)
			for _, part := range tt.want {
				assert.ErrorContains(t, err, part)
			}
			assert.Empty(t, r.took(), "no line is touched before all are found")
		})
	}
}

func TestAllRefusalsAreToldAtOnce(t *testing.T) {
	c := site()
	c.Outputs[0].Line = lines.Named("GPIO98")
	c.Benches[0].High.Line = lines.Named("GPIO99")
	_, err := openOn(newRig(t).host(), c)
	require.ErrorContains(t, err, `claim line "GPIO98" for output "flood_pump"`)
	require.ErrorContains(t, err, `claim line "GPIO99" for switch north.high`)
}

// Two ways of writing one line escape a comparison of words.
func TestOneLineWrittenInTwoWaysIsRefused(t *testing.T) {
	r := newRig(t)
	c := site()
	c.HandsIn = Switch{Line: lines.Line{Chip: "pinctrl-test", Offset: 5}}
	_, err := openOn(r.host(), c)
	require.ErrorContains(t, err, `claim line "line 5 of pinctrl-test" for switch hands_in: it is the same line as "GPIO5" of output "flood_pump"`)
	assert.Empty(t, r.took())
}

// periph reports a machine without GPIO as a success.
func TestMachineWithoutGPIOIsRefused(t *testing.T) {
	if devices, _ := filepath.Glob("/dev/gpiochip*"); len(devices) > 0 {
		t.Skip("this machine has GPIO")
	}
	for name, err := range map[string]error{"off": Off(site()), "open": second(Open(site()))} {
		require.ErrorContains(t, err, "this machine has no GPIO", name)
		require.ErrorContains(t, err, "board: simulated", name)
	}
}

func second(_ *Board, err error) error { return err }

func TestAbsentChipsAreExplainedByTheirDeviceFiles(t *testing.T) {
	dev := t.TempDir()
	require.ErrorContains(t, noChips(dev, nil), "this machine has no GPIO (no "+dev+"/gpiochip*)")
	require.NoError(t, os.WriteFile(filepath.Join(dev, "gpiochip0"), nil, 0o600))
	require.ErrorContains(t, noChips(dev, nil), "did not answer as a GPIO chip")
	require.ErrorContains(t, noChips(dev, syscall.ENOTTY), "5.10")
	err := noChips(dev, &fs.PathError{Op: "open", Path: "gpiochip0", Err: syscall.EACCES})
	require.ErrorIs(t, err, fs.ErrPermission)
	require.ErrorContains(t, err, "group gpio")
}
