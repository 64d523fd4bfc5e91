package campaign

import (
	"context"
	"sync"
)

// InOrder has live called for each number below n, by so many workers at the same
// time, at least one, and hands what came of them to take in the order of the numbers.
// progress, unless nil, is told the share that was taken. The error is the first of
// take's, or ctx's; no worker is left then.
func InOrder[T any](ctx context.Context, n, workers int, progress func(float64), live func(context.Context, int) T, take func(int, T) error) error {
	ctx, stop := context.WithCancel(ctx)
	var work sync.WaitGroup
	defer work.Wait()
	defer stop()
	lives, next := make([]chan T, n), make(chan int)
	for i := range lives {
		lives[i] = make(chan T, 1)
	}
	for range max(workers, 1) {
		work.Go(func() {
			for i := range next {
				lives[i] <- live(ctx, i)
			}
		})
	}
	work.Go(func() {
		defer close(next)
		for i := range n {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	})
	for i, c := range lives {
		select {
		case l := <-c:
			if err := take(i, l); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
		if progress != nil {
			progress(float64(i+1) / float64(n))
		}
	}
	return nil
}
