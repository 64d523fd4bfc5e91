package safety

import (
	"fmt"
	"testing"
)

// manyBenches is a site of benches at rest: all on one reservoir behind one
// enable relay, or each with a reservoir and an enable relay of its own.
func manyBenches(n int, apart bool) (l Limits) {
	one := site(1)
	bench := one.Benches[0]
	for i := range n {
		if i == 0 || apart {
			bench.Reservoir = len(l.Reservoirs)
			l.Reservoirs = append(l.Reservoirs, one.Reservoirs[0])
			l.Outputs = append(l.Outputs, OutputLimits{Kind: Enable, Enable: -1})
		}
		bench.Name, bench.Pump = fmt.Sprintf("bench_%d", i), len(l.Outputs)
		l.Outputs = append(l.Outputs, OutputLimits{Kind: FloodPump, Enable: 2 * bench.Reservoir})
		l.Benches = append(l.Benches, bench)
	}
	return l
}

// BenchmarkTurn is one turn of the guard with nothing to do.
func BenchmarkTurn(b *testing.B) {
	for _, apart := range []bool{false, true} {
		for _, n := range []int{1, 8, 32, 256} {
			b.Run(fmt.Sprintf("apart=%v/benches=%d", apart, n), func(b *testing.B) {
				rg := newRig(b, manyBenches(n, apart))
				rg.to(ready)
				b.ReportAllocs()
				for b.Loop() {
					rg.g.Observe(rg.now, rg.r)
					rg.g.Allow(rg.now, rg.w)
					rg.g.Next()
				}
			})
		}
	}
}
