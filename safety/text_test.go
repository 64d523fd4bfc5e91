package safety

import "testing"

func TestWaterIsToldAsPeopleReadIt(t *testing.T) {
	for _, c := range []struct {
		litres  Litres
		gallons bool
		want    string
	}{{117.4, false, "117 L"}, {8.43, false, "8.4 L"}, {8, false, "8 L"}, {9.95, false, "10 L"}, {117.4, true, "31 gal"}, {20, true, "5.3 gal"}} {
		if got := volume(c.litres, c.gallons); got != c.want {
			t.Errorf("%v L, gallons %v: %q, want %q", float64(c.litres), c.gallons, got, c.want)
		}
	}
}
