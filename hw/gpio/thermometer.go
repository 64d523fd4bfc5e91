package gpio

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"benchtide/safety"
)

const (
	sampleEvery = 10 * time.Second // water in a reservoir changes far more slowly
	sampleLasts = time.Minute      // an older temperature is not believed

	// Outside these a sensor is at fault rather than the solution. The usual
	// one-wire sensor answers 85 °C before its first conversion.
	coldestBelieved safety.Celsius = -10
	hottestBelieved safety.Celsius = 60
)

// thermometers read the reservoirs' sensors beside the loop, since a
// conversion takes most of a second.
type thermometers struct {
	paths    []string // by reservoir; "" without one
	readFile func(string) ([]byte, error)
	now      atomic.Int64 // boot-time clock of the last read
	cancel   context.CancelFunc

	mu      sync.Mutex
	samples []sample // by reservoir
}

// sample is the last good temperature of one reservoir.
type sample struct {
	value safety.Celsius
	at    time.Duration
	ok    bool
}

func newThermometers(reservoirs []Reservoir, readFile func(string) ([]byte, error)) *thermometers {
	t := &thermometers{readFile: readFile, cancel: func() {}, samples: make([]sample, len(reservoirs))}
	for _, r := range reservoirs {
		t.paths = append(t.paths, r.Thermometer)
	}
	return t
}

// start samples until stop, if there is anything to sample.
func (t *thermometers) start() {
	if strings.Join(t.paths, "") == "" {
		return
	}
	ctx, cancel := context.WithCancel(context.Background())
	t.cancel = cancel
	go t.run(ctx)
}

// stop ends sampling. It does not wait: a sensor's driver may hang for long.
func (t *thermometers) stop() { t.cancel() }

func (t *thermometers) run(ctx context.Context) {
	tick := time.NewTicker(sampleEvery)
	defer tick.Stop()
	for {
		t.sampleAll()
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// sampleAll reads each sensor once. A failure leaves the last sample to age.
func (t *thermometers) sampleAll() {
	for i, path := range t.paths {
		if path == "" {
			continue
		}
		asked := time.Duration(t.now.Load())
		text, err := t.readFile(path)
		if err != nil {
			continue
		}
		if value, err := parseTemperature(string(text)); err == nil {
			t.mu.Lock()
			t.samples[i] = sample{value, asked, true}
			t.mu.Unlock()
		}
	}
}

// parseTemperature reads whole thousandths of a degree Celsius.
func parseTemperature(text string) (safety.Celsius, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("read temperature %q: not a whole number of thousandths of a degree", text)
	}
	c := safety.Celsius(n) / 1000
	if c < coldestBelieved || c > hottestBelieved {
		return 0, fmt.Errorf("read temperature: %g °C is not to be believed of a solution", float64(c))
	}
	return c, nil
}

// read hands the last samples to r.
func (t *thermometers) read(now safety.Now, r *safety.Readings) {
	t.now.Store(int64(now.Mono))
	t.mu.Lock()
	defer t.mu.Unlock()
	for i, s := range t.samples {
		r.Reservoirs[i].Temperature = s.value
		r.Reservoirs[i].TemperatureOK = s.ok && now.Mono-s.at <= sampleLasts
	}
}
