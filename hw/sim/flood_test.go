package sim_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/safety"
)

func TestFloodFillsHoldsAndDrains(t *testing.T) {
	w := world(t, oneBench())
	start := w.Now().Mono
	w.Energise(pump, enable)
	made := until(t, w, 10*time.Minute, func(r *safety.Readings) bool { return r.Benches[0].Full.Level == safety.Wet })
	fmt.Println("fill", made-start, w.Depth(0))
	w.Advance(w.Elapsed() + 6*time.Minute)
	fmt.Println("hold", w.Depth(0), w.Litres(0))
	stop := w.Now().Mono
	w.Energise(enable)
	clear := until(t, w, 10*time.Minute, func(r *safety.Readings) bool { return r.Benches[0].Full.Level == safety.Dry })
	fmt.Println("fall", clear-stop)
	gone := until(t, w, 20*time.Minute, func(r *safety.Readings) bool { return r.Benches[0].Empty.Level == safety.Dry })
	fmt.Println("gone", gone-stop, w.Depth(0))
	w.Advance(w.Elapsed() + 30*time.Minute)
	fmt.Printf("%+v\n", w.Truth())
	assert.Less(t, w.Error(), 1e-6)
}
