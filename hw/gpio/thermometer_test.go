package gpio

import (
	"io/fs"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestTemperatureIsParsedAndBelievedWithinReason(t *testing.T) {
	for text, want := range map[string]safety.Celsius{"21562\n": 21.562, "-500": -0.5, "0": 0, "-10000": -10, "60000": 60} {
		got, err := parseTemperature(text)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(got), 1e-9)
	}
	for _, text := range []string{"", "21.5", "warm", "85000\n", "60001", "-10001", "-127000"} {
		_, err := parseTemperature(text)
		assert.Error(t, err, text)
	}
}

// sensor is a file of a test's making.
type sensor struct {
	text   atomic.Pointer[string]
	reads  atomic.Int32
	pauses time.Duration
}

func (s *sensor) set(text string) { s.text.Store(&text) }

func (s *sensor) readFile(string) ([]byte, error) {
	s.reads.Add(1)
	time.Sleep(s.pauses)
	if text := s.text.Load(); text != nil {
		return []byte(*text), nil
	}
	return nil, fs.ErrNotExist
}

// withSensor runs check on thermometers of two reservoirs, the second of which
// has one. Its clock is the bubble's.
func withSensor(t *testing.T, s *sensor, check func(read func() safety.ReservoirReadings)) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		th := newThermometers([]Reservoir{{}, {Thermometer: "temp1_input"}}, s.readFile)
		r := &safety.Readings{Reservoirs: make([]safety.ReservoirReadings, 2)}
		th.start()
		defer th.stop()
		check(func() safety.ReservoirReadings {
			synctest.Wait()
			th.read(at(time.Since(start)), r)
			assert.False(t, r.Reservoirs[0].TemperatureOK)
			return r.Reservoirs[1]
		})
	})
}

func TestTemperatureIsSampledBesideTheLoop(t *testing.T) {
	s := &sensor{pauses: 750 * time.Millisecond}
	s.set("20000")
	withSensor(t, s, func(read func() safety.ReservoirReadings) {
		begun := time.Now()
		assert.False(t, read().TemperatureOK, "nothing known yet")
		assert.Zero(t, time.Since(begun), "a reading does not wait for the sensor")
		time.Sleep(time.Second)
		assert.Equal(t, safety.Celsius(20), read().Temperature)
		s.set("21000")
		time.Sleep(sampleEvery)
		assert.Equal(t, safety.Celsius(21), read().Temperature)
		assert.EqualValues(t, 2, s.reads.Load())
	})
}

func TestTemperatureOfASilentSensorIsBelievedForAMinute(t *testing.T) {
	s := &sensor{}
	s.set("20000")
	withSensor(t, s, func(read func() safety.ReservoirReadings) {
		require.True(t, read().TemperatureOK)
		s.set("85000") // before its first conversion
		time.Sleep(sampleLasts)
		assert.True(t, read().TemperatureOK)
		time.Sleep(time.Nanosecond)
		assert.False(t, read().TemperatureOK)
		s.set("19000")
		time.Sleep(sampleEvery)
		got := read()
		assert.True(t, got.TemperatureOK)
		assert.Equal(t, safety.Celsius(19), got.Temperature)
	})
}

func TestWithoutThermometerNothingRuns(t *testing.T) {
	s := &sensor{}
	th := newThermometers([]Reservoir{{}}, s.readFile)
	th.start()
	th.stop()
	assert.Zero(t, s.reads.Load())
}
