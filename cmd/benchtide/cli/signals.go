package cli

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

// UntilSignal returns a context that ends when the program is asked to stop or its
// terminal goes away; a second signal ends the program at once.
func UntilSignal(ctx context.Context) (context.Context, context.CancelFunc) {
	return UntilOneOf(ctx, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
}

// UntilOneOf is UntilSignal for these signals. A reader that closes its end of a
// pipe is no reason to die with a pump on.
func UntilOneOf(ctx context.Context, stops ...os.Signal) (context.Context, context.CancelFunc) {
	signal.Ignore(syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(ctx, stops...)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}
