//go:build killtest && linux && amd64

package killtest

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// defects are programs that this test has to find wanting: each one line
// different from the one that is shipped.
var defects = map[string]struct {
	file, is, planted string
	power             bool // a kill alone cannot show it
}{
	"the pump does not wait for its record": {
		file: "controller/cycle.go", is: "if !s.run.recorded && c.now.Mono < grace {", planted: "if false {",
	},
	"a start that is not on record is tried again": {
		file: "controller/state.go", is: "case f.Intended:", planted: "case false:",
	},
	"the ledger is not synced": {
		file: "controller/ledger/file.go", is: "&_pragma=synchronous(FULL)&_pragma=wal_autocheckpoint", planted: "&_pragma=synchronous(OFF)&_pragma=wal_autocheckpoint", power: true,
	},
}

func TestPlantedDefectsAreFound(t *testing.T) {
	for name, c := range defects {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := death{program: planted(t, c.file, c.is, c.planted), flood: true, power: c.power}
			if c.power {
				d.from = kept(t)
			}
			whole := d.live(t)
			require.NotZero(t, whole.intended)
			most := whole.sinceIntended()
			for d.at = 1; d.at < most; d.at++ {
				l := d.live(t)
				if v := survive(t, d.program, l); v.doubled+v.lost > 0 {
					t.Logf("found at change %d of a flood: %s", d.at, strings.Join(v.wrong, "; "))
					return
				}
			}
			t.Errorf("nobody noticed at any of the %d changes of a flood", most)
		})
	}
}

// planted builds the program with one piece of its source exchanged. The source
// itself stays as it is.
func planted(t *testing.T, file, is, becomes string) string {
	path, err := filepath.Abs(filepath.Join("../..", file))
	require.NoError(t, err)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, 1, strings.Count(string(text), is), "%q in %s", is, file)
	dir := t.TempDir()
	other, overlay, built := filepath.Join(dir, "other.go"), filepath.Join(dir, "overlay.json"), filepath.Join(dir, "benchtide")
	require.NoError(t, os.WriteFile(other, []byte(strings.Replace(string(text), is, becomes, 1)), 0o600))
	data, err := json.Marshal(map[string]map[string]string{"Replace": {path: other}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(overlay, data, 0o600))
	said, err := exec.Command("go", "build", "-overlay", overlay, "-o", built, "benchtide/cmd/benchtide").CombinedOutput()
	require.NoError(t, err, string(said))
	return built
}
