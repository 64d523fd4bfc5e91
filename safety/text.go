package safety

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// texts are the details of a bench that are shown for as long as something
// stands, made once so that a turn without news allocates nothing.
type texts struct {
	high, leak, weld, judging, standing, low string
}

func (b *bench) texts(tank *reservoir, gallons bool) texts {
	return texts{
		high:     fmt.Sprintf("HIGH of bench %q shows water or its wire is open", b.Name),
		leak:     fmt.Sprintf("the floor sensor of bench %q shows water or its wire is open", b.Name),
		weld:     fmt.Sprintf("the pump relay of bench %q is welded: pull the plug and replace the relay", b.Name),
		judging:  fmt.Sprintf("the enable relay stays open until it is known whether the pump relay of bench %q is welded", b.Name),
		standing: fmt.Sprintf("the water of bench %q is not back in reservoir %q", b.Name, tank.Name),
		low:      fmt.Sprintf("reservoir %q is too low: a flood of bench %q needs %s above the %s kept", tank.Name, b.Name, volume(b.Flood, gallons), volume(tank.Keep, gallons)),
	}
}

// perGallon is one US liquid gallon (NIST SP 811, appendix B).
const perGallon Litres = 3.785411784

// volume is one of water as people read it, in litres or in US gallons.
func volume(l Litres, gallons bool) string {
	unit := " L"
	if gallons {
		l, unit = l/perGallon, " gal"
	}
	if l >= 9.95 {
		return strconv.FormatFloat(float64(l), 'f', 0, 64) + unit
	}
	return strings.TrimSuffix(strconv.FormatFloat(float64(l), 'f', 1, 64), ".0") + unit
}

var (
	// noughts are what the library prints of a time without seconds and minutes.
	noughts = []string{"m0s", "h0m"}
	symbols = strings.NewReplacer("h", " h ", "m", " min ", "s", " s")
)

// Spell is a time as a person says it, to the second, a short one to tenths:
// "0.3 s", "12 s", "3 min 7 s", "2 h".
func Spell(d time.Duration) string {
	if d < 10*time.Second {
		return strconv.FormatFloat(d.Round(100*time.Millisecond).Seconds(), 'g', -1, 64) + " s"
	}
	text := d.Round(time.Second).String()
	for _, n := range noughts {
		if strings.HasSuffix(text, n) {
			text = text[:len(text)-2]
		}
	}
	return strings.TrimSpace(symbols.Replace(text))
}
