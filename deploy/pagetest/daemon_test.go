//go:build pagetest

package pagetest

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// program is the daemon on the built-in example, built by the script.
type program struct {
	cmd *exec.Cmd
	url string

	mu    sync.Mutex
	heard []saying
	more  chan struct{} // closed when something is said
}

// saying is a line of the program's log and when it came.
type saying struct {
	at   time.Time
	text string
}

var pageAt = regexp.MustCompile(`the page is at (http://\S+/),`)

// start runs the example at a speed; at an address when one is given.
func start(t *testing.T, speed, address string, more ...string) *program {
	t.Helper()
	r, w := io.Pipe()
	p := &program{more: make(chan struct{})}
	p.cmd = exec.Command(os.Getenv("BENCHTIDE"), append([]string{"demo", "--speed", speed, "--listen", address}, more...)...)
	p.cmd.Stdout, p.cmd.Stderr = w, w
	require.NoError(t, p.cmd.Start())
	go p.listen(r)
	t.Cleanup(func() {
		p.kill()
		_ = w.Close()
	})
	p.url = pageAt.FindStringSubmatch(p.says(t, `the page is at`).text)[1]
	return p
}

func (p *program) kill() {
	_ = p.cmd.Process.Kill() // it may have ended
	_ = p.cmd.Wait()
}

func (p *program) listen(r io.Reader) {
	for s := bufio.NewScanner(r); s.Scan(); {
		p.mu.Lock()
		p.heard = append(p.heard, saying{time.Now(), s.Text()})
		close(p.more)
		p.more = make(chan struct{})
		p.mu.Unlock()
	}
}

// says waits for a line that contains words, said before or now.
func (p *program) says(t *testing.T, words string) saying {
	t.Helper()
	deadline := time.After(patience)
	for from := 0; ; {
		p.mu.Lock()
		for ; from < len(p.heard); from++ {
			if strings.Contains(p.heard[from].text, words) {
				s := p.heard[from]
				p.mu.Unlock()
				return s
			}
		}
		more := p.more
		p.mu.Unlock()
		select {
		case <-more:
		case <-deadline:
			require.Fail(t, "the program never said "+words)
		}
	}
}
