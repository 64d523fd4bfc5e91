package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// scrapeEvery is how often a metrics server asks.
const scrapeEvery = 15 * time.Second

// settled is how long a program has to come to rest.
const settled = 10 * time.Second

var metricsAt = regexp.MustCompile(`(?:metrics at |Listening on.*address=)(?:https?://)?([^\s/]+)`)

// watched is a program under way.
type watched struct {
	*exec.Cmd
	address string
}

// begin starts a program and waits until it says where it is heard.
func (p *plant) begin(ctx context.Context, name string, args ...string) (*watched, error) {
	w := &watched{Cmd: exec.CommandContext(ctx, name, args...)}
	w.Dir = p.dir
	said, err := w.StderrPipe()
	if err != nil {
		return nil, err
	}
	if err := w.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(said)
	for lines.Scan() {
		if m := metricsAt.FindStringSubmatch(lines.Text()); m != nil {
			w.address = m[1]
			go func() { _, _ = io.Copy(io.Discard, said) }()
			return w, nil
		}
	}
	return nil, errors.Join(fmt.Errorf("%s never said where it is heard", name), w.end())
}

func (w *watched) end() error {
	if err := w.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	_ = w.Wait() // an exporter may take an interrupt for a failure
	return nil
}

// spent is what a program has used so far.
type spent struct {
	processor time.Duration
	wakeups   int64
}

// ticks are how the kernel counts processor time for people.
const ticks = 100

func (w *watched) spent() (s spent, err error) {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", w.Process.Pid))
	if err != nil {
		return s, err
	}
	fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
	for _, f := range fields[11:13] { // utime and stime, the 14th and 15th of all
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return s, err
		}
		s.processor += time.Duration(n) * time.Second / ticks
	}
	tasks, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/status", w.Process.Pid))
	for _, task := range tasks {
		n, err := field(task, "voluntary_ctxt_switches:")
		if err != nil {
			return s, err
		}
		s.wakeups += n
	}
	return s, err
}

// field is the number behind a key of a file of the kernel's.
func field(path, key string) (int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if rest, ok := strings.CutPrefix(lines.Text(), key); ok {
			return strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
		}
	}
	return 0, fmt.Errorf("%s has no %s", path, key)
}

func (w *watched) resident() (float64, error) {
	n, err := field(fmt.Sprintf("/proc/%d/status", w.Process.Pid), "VmRSS:")
	return float64(n) / 1024, err
}

// figures are those of a program at rest.
type figures struct{ percent, wakeups, mebibytes float64 }

// atRest watches the daemon on a bench at rest, and the exporter beside it, both
// scraped as a metrics server does.
func (p *plant) atRest(ctx context.Context) (rows []row, beside string, err error) {
	daemon, err := p.begin(ctx, p.program, "run", "--listen", "127.0.0.1:0", "--state", filepath.Join(p.dir, "state"))
	if err != nil {
		return nil, "", err
	}
	defer func() { err = errors.Join(err, daemon.end()) }()
	all := []*watched{daemon}
	if p.exporter != "" {
		e, err := p.begin(ctx, p.exporter, "--web.listen-address=127.0.0.1:19100")
		if err != nil {
			return nil, "", err
		}
		defer func() { _ = e.end() }()
		all = append(all, e)
	}
	found, err := p.observe(ctx, all)
	if err != nil {
		return nil, "", err
	}
	f := found[0]
	rows = []row{
		{"daemon at rest, one bench, scraped each 15 s: processor", "0.2 % of a core", fmt.Sprintf("%.2f %%", f.percent)},
		{"the same: resident memory", "30 MiB", fmt.Sprintf("%.1f MiB", f.mebibytes)},
		{"the same: wake-ups of its threads", "—", fmt.Sprintf("%.1f a second", f.wakeups)},
	}
	beside = "Debian's prometheus-node-exporter was not at hand to be measured beside it."
	if len(found) == 2 {
		e := found[1]
		beside = fmt.Sprintf("Beside it, in the same %s, Debian's prometheus-node-exporter took %.2f %% of a core, %.1f MiB and %.1f wake-ups a second.", p.rest, e.percent, e.mebibytes, e.wakeups)
	}
	return rows, beside, nil
}

func (p *plant) observe(ctx context.Context, all []*watched) ([]figures, error) {
	if err := scrapeFor(ctx, all, settled); err != nil {
		return nil, err
	}
	before := make([]spent, len(all))
	for i, w := range all {
		var err error
		if before[i], err = w.spent(); err != nil {
			return nil, err
		}
	}
	begun := time.Now()
	if err := scrapeFor(ctx, all, p.rest); err != nil {
		return nil, err
	}
	took := time.Since(begun).Seconds()
	found := make([]figures, len(all))
	for i, w := range all {
		after, err := w.spent()
		if err != nil {
			return nil, err
		}
		resident, err := w.resident()
		if err != nil {
			return nil, err
		}
		found[i] = figures{100 * (after.processor - before[i].processor).Seconds() / took, float64(after.wakeups-before[i].wakeups) / took, resident}
	}
	return found, nil
}

// scrapeFor asks each program for its metrics as often as a server does.
func scrapeFor(ctx context.Context, all []*watched, d time.Duration) error {
	end := time.After(d)
	again := time.NewTicker(scrapeEvery)
	defer again.Stop()
	for {
		for _, w := range all {
			if _, err := size(w.address, "/metrics"); err != nil {
				return err
			}
		}
		select {
		case <-again.C:
		case <-end:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// fetch returns an answer.
func fetch(address, path string) ([]byte, error) {
	response, err := http.Get("http://" + address + path)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s%s: %s", address, path, response.Status)
	}
	return io.ReadAll(response.Body)
}

func size(address, path string) (int, error) {
	data, err := fetch(address, path)
	return len(data), err
}

// packed is how many bytes of an answer go over the wire to who takes gzip, without
// its headers.
func packed(address, path string) (int64, error) {
	ask, err := http.NewRequest(http.MethodGet, "http://"+address+path, nil)
	if err != nil {
		return 0, err
	}
	ask.Header.Set("Accept-Encoding", "gzip") // said by hand, it is not undone by hand
	response, err := http.DefaultClient.Do(ask)
	if err != nil {
		return 0, err
	}
	defer response.Body.Close()
	return io.Copy(io.Discard, response.Body)
}

// refersTo finds what a file of the page needs before it shows anything.
var refersTo = regexp.MustCompile(`(?:\bfrom\s*|href=|src=)['"](?:\./)?([\w.-]+)['"]`)

// firstLoad is what a browser takes for a first look, compressed.
func (p *plant) firstLoad(ctx context.Context) (rows []row, err error) {
	daemon, err := p.begin(ctx, p.program, "demo", "--listen", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, daemon.end()) }()
	sum, seen := int64(0), map[string]bool{}
	for todo := []string{""}; len(todo) > 0; todo = todo[1:] {
		if seen[todo[0]] {
			continue
		}
		seen[todo[0]] = true
		data, err := fetch(daemon.address, "/"+todo[0])
		if err != nil {
			return nil, err
		}
		n, err := packed(daemon.address, "/"+todo[0])
		if err != nil {
			return nil, err
		}
		sum += n
		for _, m := range refersTo.FindAllSubmatch(data, -1) {
			todo = append(todo, string(m[1]))
		}
	}
	asked, err := packed(daemon.address, "/api/v1/overview")
	if err != nil {
		return nil, err
	}
	return []row{{
		"page, first load, compressed", "25 KB",
		fmt.Sprintf("%.1f KB in %d files, and %.1f KB that it asks of the API", float64(sum)/1000, len(seen), float64(asked)/1000),
	}}, nil
}
