//go:build killtest && linux && amd64

package killtest

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"time"
)

// daemon is the program on a simulated bench.
type daemon struct {
	cmd  *exec.Cmd
	out  *os.File
	heed func(d *daemon, line string) // is told of each line, on its own goroutine
	read chan struct{}                // closed when all lines have been read

	mu    sync.Mutex
	url   string
	lines []string
}

// newDaemon prepares the program on the state in dir, with more arguments.
func newDaemon(program, dir string, speed int, heed func(*daemon, string), more ...string) (*daemon, error) {
	r, w, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	d := &daemon{out: r, heed: heed, read: make(chan struct{})}
	d.cmd = exec.Command(program, append([]string{"demo", "--state", dir, "--speed", strconv.Itoa(speed), "--listen", "127.0.0.1:0", "--json"}, more...)...)
	d.cmd.Stdout, d.cmd.Stderr = w, w
	return d, nil
}

// started is called once the program runs.
func (d *daemon) started() {
	_ = d.cmd.Stdout.(*os.File).Close()
	go d.listen()
}

var metricsAt = regexp.MustCompile(`metrics at (http://\S+)/metrics`)

func (d *daemon) listen() {
	defer close(d.read)
	defer d.out.Close()
	for s := bufio.NewScanner(d.out); s.Scan(); {
		line := s.Text()
		d.mu.Lock()
		d.lines = append(d.lines, line)
		if m := metricsAt.FindStringSubmatch(line); m != nil {
			d.url = m[1]
		}
		d.mu.Unlock()
		d.heed(d, line)
	}
}

// said is all that the program has said.
func (d *daemon) said() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.lines
}

var client = http.Client{Timeout: 20 * time.Second}

// get asks the program.
func (d *daemon) get(path string, into any) error {
	d.mu.Lock()
	url := d.url
	d.mu.Unlock()
	answer, err := client.Get(url + "/api/v1/" + path)
	if err != nil {
		return err
	}
	return taken(answer, into)
}

// note adds to the diary; nil means that the program has promised to keep it.
func (d *daemon) note(text string) error {
	d.mu.Lock()
	url := d.url
	d.mu.Unlock()
	body, err := json.Marshal(map[string]string{"kind": "note", "text": text})
	if err != nil {
		return err
	}
	request, err := http.NewRequest(http.MethodPost, url+"/api/v1/diary", bytes.NewReader(body))
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("X-Benchtide", "act")
	answer, err := client.Do(request)
	if err != nil {
		return err
	}
	return taken(answer, nil)
}

func taken(answer *http.Response, into any) error {
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	switch {
	case err != nil:
		return err
	case answer.StatusCode != http.StatusOK:
		return fmt.Errorf("%s: %s", answer.Status, body)
	case into == nil:
		return nil
	}
	return json.Unmarshal(body, into)
}

// row is a flood of the ledger.
type row struct {
	ID      int64
	Slot    string
	Cause   string
	Attempt int
	Started string
	Outcome string
	Reason  string
}

func (d *daemon) rows() ([]row, error) {
	var answer struct{ Floods []row }
	err := d.get("ledger", &answer)
	return answer.Floods, err
}

func (d *daemon) notes() (map[string]bool, error) {
	var answer struct{ Entries []struct{ Text string } }
	if err := d.get("diary", &answer); err != nil {
		return nil, err
	}
	all := map[string]bool{}
	for _, e := range answer.Entries {
		all[e.Text] = true
	}
	return all, nil
}

// pumpStarts is how often the relay of the flood pump has closed, by the bench
// itself. The flood pump is the first output of the example.
func pumpStarts(dir string) (int, error) {
	data, err := os.ReadFile(filepath.Join(dir, "simulated.json"))
	if err != nil {
		return 0, err
	}
	var kept struct {
		World struct{ Outputs []struct{ Starts int } }
	}
	if err := json.Unmarshal(data, &kept); err != nil {
		return 0, err
	}
	return kept.World.Outputs[0].Starts, nil
}

// switched are the moments, by the bench's time, at which the flood pump went
// on or off.
func switched(lines []string) (all []turned) {
	for _, line := range lines {
		var e struct {
			Time   time.Time
			Output string
			On     bool
		}
		if json.Unmarshal([]byte(line), &e) == nil && e.Output == "flood_pump" {
			all = append(all, turned{e.Time, e.On})
		}
	}
	return all
}

type turned struct {
	at time.Time
	on bool
}
