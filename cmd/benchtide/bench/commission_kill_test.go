package bench

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A commissioning that is killed goes on where it was: with what had passed by
// then, and with the step that it was in.
func TestAKilledCommissioningGoesOnWhereItWas(t *testing.T) {
	exe, err := os.Executable()
	require.NoError(t, err)
	dir := t.TempDir()
	program := filepath.Join(dir, "benchtide")
	require.NoError(t, os.Symlink(exe, program))
	run := func(args ...string) *exec.Cmd {
		cmd := exec.Command(program, append([]string{"commission", "--state", "state"}, args...)...)
		cmd.Args[0], cmd.Dir = "benchtide", dir
		return cmd
	}
	killed := run()
	in, err := killed.StdinPipe()
	require.NoError(t, err)
	out, err := killed.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, killed.Start())
	for _, said := range []struct{ question, answer string }{
		{"line by line? (yes, no): ", "yes"}, {"(yes, skip): ", "skip"}, {"(yes, skip): ", "skip"}, {"(yes, skip): ", "skip"}, {"(yes, skip): ", "skip"},
		{"Is each one unplugged? (yes, no): ", "yes"}, {"flood_pump click, light up and drop again? (yes, again, no): ", ""},
	} {
		hear(t, out, said.question)
		if said.answer != "" {
			_, err := io.WriteString(in, said.answer+"\n")
			require.NoError(t, err)
		}
	}
	require.NoError(t, killed.Process.Kill())
	_ = killed.Wait() // it was killed

	require.NoError(t, os.WriteFile(filepath.Join(dir, "none.txt"), nil, 0o600))
	said, err := run("--answers", "none.txt").CombinedOutput()
	require.Error(t, err)
	assert.Contains(t, string(said), "5 of 23 steps are done already.")
	assert.Contains(t, string(said), "Step 6 of 23: each relay clicks and drops")
	assert.Contains(t, string(said), "before: Unplug every pump", "nothing clicks before that is sure again")
}

// hear reads until a text was said.
func hear(t *testing.T, out io.Reader, text string) {
	var said bytes.Buffer
	for !bytes.HasSuffix(said.Bytes(), []byte(text)) {
		_, err := io.CopyN(&said, out, 1)
		require.NoError(t, err, "%q was not said: %s", text, &said)
	}
}
