package ledger

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/measure/cost"
)

// growth is over how many years of a bench costs are followed.
var growth = []int{1, 2, 4, 8}

// BenchmarkMonth is the question of the last 30 days of so many years.
func BenchmarkMonth(b *testing.B) {
	for _, n := range growth {
		b.Run(fmt.Sprintf("years=%d", n), func(b *testing.B) {
			l, _ := open(b, b.TempDir(), Options{Limits: limits, Zone: dublin})
			since := years(b, l, n).AddDate(0, 0, -30)
			begun := cost.Used()
			for b.Loop() {
				rows, err := l.Floods(b.Context(), Query{Since: since})
				require.NoError(b, err)
				require.NotEmpty(b, rows)
			}
			cost.Report(b, begun)
		})
	}
}

// BenchmarkOpen is the start on so many years, sound or not being looked at.
func BenchmarkOpen(b *testing.B) {
	for _, n := range growth {
		b.Run(fmt.Sprintf("years=%d", n), func(b *testing.B) {
			dir := b.TempDir()
			l, _ := open(b, dir, Options{Limits: limits, Zone: dublin})
			years(b, l, n)
			require.NoError(b, l.Close())
			begun := cost.Used()
			for b.Loop() {
				l, _, err := Open(dir, Options{Limits: limits, Zone: dublin})
				require.NoError(b, err)
				require.NoError(b, l.Close())
			}
			cost.Report(b, begun)
		})
	}
}
