// Package mutant turns one change of a program on. The mutants of a package are
// compiled into it all together, each behind its number; the environment says
// which one is on, and no number means none.
package mutant

import (
	"cmp"
	"fmt"
	"os"
	"strconv"
	"sync/atomic"
)

var on, _ = strconv.Atoi(os.Getenv("MUTANT"))

// reached is the file to which the numbers of the changes go that would have made
// a difference where they stand; nil where nobody asks.
var (
	reached, _ = os.Create(os.Getenv("MUTANT_REACHED"))
	known      [1 << 16]atomic.Bool // allocates nothing, which tests may count
)

// On reports whether a change is on.
func On(n int) bool {
	if reached != nil && !known[n].Swap(true) {
		fmt.Fprintln(reached, n)
	}
	return on == n
}

type number interface {
	~int | ~int8 | ~int16 | ~int32 | ~int64 | ~uint | ~uint8 | ~uint16 | ~uint32 | ~uint64 | ~float32 | ~float64
}

// Less is a < b, and a <= b when n is on.
func Less[T cmp.Ordered](n int, a, b T) bool { return a < b || a == b && On(n) }

// More is a > b, and a >= b when n is on.
func More[T cmp.Ordered](n int, a, b T) bool { return a > b || a == b && On(n) }

// Most is a <= b, and a < b when n is on.
func Most[T cmp.Ordered](n int, a, b T) bool { return a < b || a == b && !On(n) }

// Least is a >= b, and a > b when n is on.
func Least[T cmp.Ordered](n int, a, b T) bool { return a > b || a == b && !On(n) }

// And is a && b, and a || b when n is on.
func And(n int, a bool, b func() bool) bool {
	if On(n) {
		return a || b()
	}
	return a && b()
}

// Or is a || b, and a && b when n is on.
func Or(n int, a bool, b func() bool) bool {
	if On(n) {
		return a && b()
	}
	return a || b()
}

// Add is a + b, and a - b when n is on.
func Add[T number](n int, a, b T) T {
	if On(n) {
		return a - b
	}
	return a + b
}

// Sub is a - b, and a + b when n is on.
func Sub[T number](n int, a, b T) T {
	if On(n) {
		return a + b
	}
	return a - b
}

// Mul is a × b, and a / b when n is on.
func Mul[T number](n int, a, b T) T {
	if On(n) {
		return a / b
	}
	return a * b
}

// Div is a / b, and a × b when n is on.
func Div[T number](n int, a, b T) T {
	if On(n) {
		return a * b
	}
	return a / b
}

// Neg is -a, and a when n is on.
func Neg[T number](n int, a T) T {
	if On(n) {
		return a
	}
	return -a
}
