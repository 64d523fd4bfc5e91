package schedule

import "testing"

func FuzzCron(f *testing.F) {
	for _, s := range []string{"0 8-17/3 * * *", "@daily", "*/7 * 31 2 *", "0 0 29 2 1-5", "CRON_TZ=UTC 0 0 * * *", "@every 1h", "60 24 0 13 8", "", "0 8 * * ?"} {
		f.Add(s, int64(0))
	}
	f.Fuzz(func(t *testing.T, expr string, from int64) {
		c, err := ParseCron(expr)
		if err != nil {
			return
		}
		after := DateOf(1970, 1, 1).AddDays(int(uint64(from) % 100_000)).At(0)
		for range 3 {
			next, ok := c.Next(after)
			if !ok {
				return // a leap day may be further away than the parser looks
			}
			if next <= after || next%60 != 0 {
				t.Fatalf("%q after %s comes at %s", expr, after, next)
			}
			after = next
		}
	})
}

func FuzzTimes(f *testing.F) {
	for _, s := range []string{"09:00", "24:00", "2026-03-02", "2026-02-30", "2026-03-02 09:00", "2026-03-02T09:00:30", "0000-00-00", "", "9:5", "-1:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if tod, err := ParseTimeOfDay(text); err == nil {
			if back, err := ParseTimeOfDay(tod.String()); err != nil || back != tod {
				t.Errorf("%q reads as %s and that as %s, %v", text, tod, back, err)
			}
		}
		if d, err := ParseDate(text); err == nil {
			if back, err := ParseDate(d.String()); err != nil || back != d {
				t.Errorf("%q reads as %s and that as %s, %v", text, d, back, err)
			}
		}
		if c, err := ParseCivil(text); err == nil {
			if back, err := ParseCivil(c.String()); err != nil || back != c {
				t.Errorf("%q reads as %s and that as %s, %v", text, c, back, err)
			}
		}
	})
}
