package rehearse

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/safety"
)

// twoEnables is the file of two benches, each behind an enable relay of its own when
// apart.
func twoEnables(t *testing.T, apart bool) *config.Site {
	data, err := os.ReadFile("../../testdata/configs/two-benches.yaml")
	require.NoError(t, err)
	if apart {
		return parse(t, string(data))
	}
	return parse(t, strings.Replace(string(data), "behind: enable_b", "behind: enable_a", 1))
}

func weld(site *config.Site) Scenario {
	s := Plain(latest(site.Batches), 3, 1)
	s.Faults = []Fault{{What: "relay-welded", Where: site.Outputs[site.Benches[0].Pump].Name, At: s.From.At(3600).In(site.Zone), Size: 1}}
	return s
}

func TestCheckerFindsWhatAWeldShouldHaveDoneToOtherBenches(t *testing.T) {
	together, apart := twoEnables(t, false), twoEnables(t, true)
	shared := together.Outputs[together.Benches[0].Pump].Enable
	require.Equal(t, shared, together.Outputs[together.Benches[1].Pump].Enable)
	for name, c := range map[string]struct {
		site  *config.Site
		spoil func(*safety.Limits)
		want  string
	}{
		"latched behind one relay": {site: together},
		"spared behind another":    {site: apart},
		"not latched": {together, func(l *safety.Limits) {
			l.Outputs = slices.Clone(l.Outputs)
			l.Outputs[l.Benches[1].Pump].Enable = -1
		}, "it was not latched, though the pump of " + together.Benches[0].Name},
		"latched for another's relay": {apart, func(l *safety.Limits) {
			l.Outputs = slices.Clone(l.Outputs)
			l.Outputs[l.Benches[1].Pump].Enable = l.Outputs[l.Benches[0].Pump].Enable
		}, "it was latched for a weld behind another enable relay"},
	} {
		t.Run(name, func(t *testing.T) {
			broken := played(t, defective(t, c.site, weld(c.site), c.spoil))
			if c.want == "" {
				assert.Empty(t, broken)
				return
			}
			assertBroken(t, broken, c.want)
		})
	}
}

func TestCheckerFindsAWeldThatARestartForgot(t *testing.T) {
	site := twoEnables(t, false)
	s := weld(site)
	crash := s.From.AddDays(1).At(0).In(site.Zone)
	s.Faults = append(s.Faults, Fault{What: "process-crash", At: crash, Size: 1})
	r := defective(t, site, s, nil)
	r.agenda.at(r.elapsedAt(crash)+time.Second, func() { r.ledger.Checkpoint.Guard = safety.State{} })
	assertBroken(t, played(t, r), "was closed after the pump of "+site.Benches[0].Name+" was proven welded")
}
