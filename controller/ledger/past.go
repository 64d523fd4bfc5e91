package ledger

import (
	"context"
	"slices"

	"benchtide/controller"
)

// Past returns floods as the controller had them, their benches by index in
// benches; floods of other benches are left out. As with Floods, after an error
// they may be all there is.
func (l *Ledger) Past(ctx context.Context, q Query, benches []string) ([]controller.Flood, error) {
	found, err := l.floods(ctx, q)
	past := make([]controller.Flood, 0, len(found))
	for _, f := range found {
		if f.Bench = slices.Index(benches, f.bench); f.Bench >= 0 {
			past = append(past, f.Flood)
		}
	}
	return past, err
}
