package gpio

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
)

// refusal says what could not be had, the likely cause, and what a person can
// do about it.
type refusal struct {
	what, cause, fix string
	err              error // what the kernel said; nil when it was not asked
}

func (r *refusal) Error() string {
	return fmt.Sprintf("%s: %s; %s", r.what, r.cause, r.fix)
}

func (r *refusal) Unwrap() error { return r.err }

const (
	fixGroup  = "add the user that runs this to group gpio and log in again, or start it by its service"
	fixKernel = "use a kernel of version 5.10 or later"
)

// explain turns what the kernel said into a refusal; holder is who holds the
// line, if that is known.
func explain(what string, err error, holder string) *refusal {
	r := &refusal{what: what, err: err}
	switch {
	case errors.Is(err, syscall.EBUSY):
		return busy(what, holder, err)
	case errors.Is(err, fs.ErrPermission):
		r.cause, r.fix = fmt.Sprintf("no permission (%v)", err), fixGroup
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO):
		r.cause, r.fix = fmt.Sprintf("its chip is gone (%v)", err), "check the expander's plug and supply, then start again"
	case errors.Is(err, syscall.ENOTTY), errors.Is(err, syscall.EINVAL):
		r.cause, r.fix = fmt.Sprintf("the kernel does not take such a request (%v)", err), fixKernel
	default:
		r.cause, r.fix = err.Error(), "check the board, its bus and its supply"
	}
	return r
}

func busy(what, holder string, err error) *refusal {
	if holder == "" {
		return &refusal{what, "the kernel itself holds it, as for a UART, I2C or SPI",
			"switch that function off in the board's configuration, or use another line", err}
	}
	return &refusal{what, fmt.Sprintf("it is held by %q", holder), "stop that program or driver, or use another line", err}
}
