package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// program is the whole program with every change in it, and what it is asked.
type program struct {
	bin   string
	asked [][]string
	plain []map[string]float64 // the figures of each answer without a change
}

// newProgram builds the program and asks it all there is in a file of command
// lines.
func newProgram(overlay, work, questions string) (*program, error) {
	p := &program{bin: filepath.Join(work, "benchtide")}
	build := exec.Command("go", "build", "-overlay", overlay, "-o", p.bin, "./cmd/benchtide")
	build.Stderr = os.Stderr
	if err := build.Run(); err != nil {
		return nil, fmt.Errorf("build the program: %w", err)
	}
	text, err := os.ReadFile(questions)
	if err != nil {
		return nil, err
	}
	for line := range strings.Lines(string(text)) {
		p.asked = append(p.asked, strings.Fields(line))
		p.plain = append(p.plain, p.answer(len(p.plain), 0))
		if len(p.plain[len(p.plain)-1]) == 0 {
			return nil, fmt.Errorf("%s: no figure is answered", strings.TrimSpace(line))
		}
	}
	return p, nil
}

// answer is every figure of answer i with change n, by its place.
func (p *program) answer(i, n int) map[string]float64 {
	c := exec.Command(p.bin, p.asked[i]...)
	c.Env = append(os.Environ(), fmt.Sprint("MUTANT=", n), fmt.Sprint("MUTANT_BY=", errors[0]))
	out, _ := c.Output() // an answer of no is an answer
	var all any
	figures := map[string]float64{}
	if json.Unmarshal(out, &all) == nil {
		collect("", all, figures)
	}
	return figures
}

func collect(place string, v any, into map[string]float64) {
	switch v := v.(type) {
	case float64:
		into[place] = v
	case []any:
		for i, e := range v {
			collect(fmt.Sprint(place, "/", i), e, into)
		}
	case map[string]any:
		for k, e := range v {
			collect(place+"/"+k, e, into)
		}
	}
}

// moves is by how much, as a share, change n moves the figure that it moves most,
// and which that is. An answer of another form counts as moved by all of it.
func (p *program) moves(n int) (most float64, which string) {
	for i, plain := range p.plain {
		now := p.answer(i, n)
		for place, was := range plain {
			is, there := now[place]
			by := 1.0
			if there {
				by = math.Abs(is-was) / max(math.Abs(was), math.Abs(is), 1e-12)
			}
			if is != was && by > most {
				most, which = by, p.asked[i][0]+" "+place
			}
		}
	}
	return most, which
}
