package daemon

import (
	"bytes"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

// heldWriter is a terminal that is held until it is let go.
type heldWriter struct {
	bytes.Buffer
	letGo chan struct{}
}

func (w *heldWriter) Write(p []byte) (int, error) {
	<-w.letGo
	return w.Buffer.Write(p)
}

func TestLinesAreNeverWaitedForAndTheirLossIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &heldWriter{letGo: make(chan struct{})}
		l := newLines(w)
		fmt.Fprintln(l, "first")
		synctest.Wait() // it is being written
		for range linesKept + 3 {
			fmt.Fprintln(l, "more")
		}
		close(w.letGo)
		l.Close()
		assert.Equal(t, linesKept+2, bytes.Count(w.Bytes(), []byte("\n")))
		assert.Contains(t, w.String(), "first\n(3 lines were lost: nobody read them)\nmore\n")
	})
}

func TestTheEndDoesNotWaitForATerminalThatIsHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &heldWriter{letGo: make(chan struct{})}
		l := newLines(w)
		fmt.Fprintln(l, "first")
		begun := time.Now()
		l.Close()
		assert.Equal(t, linesGrace, time.Since(begun))
		close(w.letGo)
	})
}
