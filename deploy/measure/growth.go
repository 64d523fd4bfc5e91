package main

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// curve is how a cost grows with a number.
type curve struct {
	name, of string
	points   []point
}

type point struct{ n, cost float64 } // ns of the processor

var measured = regexp.MustCompile(`(?m)^Benchmark(\w+)/(\w+)=(\d+)\S*\s.*?([\d.e+]+) cpu-ns/op`)

// curves reads the output of benchmarks that are named by what grows.
func curves(out string) (all []curve) {
	for _, m := range measured.FindAllStringSubmatch(out, -1) {
		n, _ := strconv.ParseFloat(m[3], 64) // of such figures none fails
		cost, _ := strconv.ParseFloat(m[4], 64)
		if len(all) == 0 || all[len(all)-1].name != m[1] {
			all = append(all, curve{name: m[1], of: m[2]})
		}
		c := &all[len(all)-1]
		c.points = append(c.points, point{n, cost})
	}
	return all
}

// exponent is that of the power of n that fits the costs best, by least squares
// of their logarithms: 1 is linear.
func (c curve) exponent() float64 {
	var sx, sy, sxx, sxy float64
	n := float64(len(c.points))
	for _, p := range c.points {
		x, y := math.Log(p.n), math.Log(p.cost)
		sx, sy, sxx, sxy = sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx)
}

// titles are what the benchmarks measure.
var titles = map[string]string{
	"Turn":           "a turn of the loop, benches at rest",
	"CrowdedTurn":    "the same, one bench",
	"Metrics":        "a scrape of /metrics",
	"Status":         "a snapshot for the page",
	"Overview":       "a first look",
	"Outlook":        "what plants will need, each half minute when asked",
	"CrowdedOutlook": "the same, one bench",
	"Month":          "the floods of the last 30 days",
	"Open":           "a start on the ledger, which is looked over",
	"Stream":         "an event to every client",
}

// followed are the benchmarks that are named by what grows, where they are.
var followed = []struct{ pkg, names string }{
	{"./cmd/benchtide/daemon", "Turn|CrowdedTurn|Metrics|Status|Overview|Outlook|CrowdedOutlook"},
	{"./controller/ledger", "Month|Open"},
	{"./controller/web", "Stream"},
}

// growth follows costs over the number of benches, batches and clients, and the
// years in the ledger.
func (p *plant) growth(ctx context.Context) (string, error) {
	var all strings.Builder
	for _, f := range followed {
		out, err := p.test(ctx, f.pkg, "-run", "^$", "-bench", "^Benchmark("+f.names+")$", "-benchtime", "1s", "-timeout", "20m")
		if err != nil {
			return "", err
		}
		all.WriteString(out)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "\nHow processor time grows; an exponent of 1 is linear:\n\n")
	var rows []row
	for _, c := range curves(all.String()) {
		var steps []string
		for _, at := range c.points {
			steps = append(steps, fmt.Sprintf("%g: %s", at.n, span(at.cost)))
		}
		rows = append(rows, row{fmt.Sprintf("%s, by %s", titles[c.name], c.of), strings.Join(steps, ", "), fmt.Sprintf("%.2f", c.exponent())})
	}
	table(&b, []string{"what", "cost", "exponent"}, rows)
	return b.String(), nil
}

// span prints nanoseconds with three figures.
func span(ns float64) string {
	for _, u := range []struct {
		name string
		in   float64
	}{{"s", 1e9}, {"ms", 1e6}, {"µs", 1e3}} {
		if ns >= u.in {
			return fmt.Sprintf("%.3g %s", ns/u.in, u.name)
		}
	}
	return fmt.Sprintf("%.3g ns", ns)
}
