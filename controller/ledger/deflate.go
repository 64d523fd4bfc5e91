package ledger

import (
	"bytes"
	"compress/flate"
	"database/sql/driver"
	_ "embed"
	"fmt"
	"io"

	"modernc.org/sqlite"
)

// The parts of the checkpoint are written at each step of a flood. As JSON each
// takes more than a page, most of it words that are the same every time. Deflated
// with a dictionary of these words, all parts of a small site share one page.

// deflatedSince is the first version of the schema whose parts are deflated.
const deflatedSince = 7

// partWords is the dictionary. It belongs to its version of the schema and never
// changes: what was deflated with it can be read with nothing else.
//
//go:embed schema/7.dict
var partWords []byte

// largestPart bounds what a damaged part can come to.
const largestPart = 16 << 20

// deflater deflates parts one after the other: its tables are most of a megabyte,
// and a checkpoint has a part for each bench.
type deflater struct{ w *flate.Writer }

// part is the text of a part as the ledger holds it.
func (d *deflater) part(text string) []byte {
	var b bytes.Buffer
	if d.w == nil {
		d.w, _ = flate.NewWriterDict(nil, flate.BestCompression, partWords) // fails at a wrong level only
	}
	d.w.Reset(&b)
	_, _ = io.WriteString(d.w, text) // a buffer takes all
	_ = d.w.Close()
	return b.Bytes()
}

// deflatePart is that of one part alone.
func deflatePart(text string) []byte { return new(deflater).part(text) }

// inflatePart is the text of a part that the ledger holds.
func inflatePart(data []byte) (string, error) {
	r := flate.NewReaderDict(bytes.NewReader(data), partWords)
	text, err := io.ReadAll(io.LimitReader(r, largestPart+1))
	switch {
	case err != nil:
		return "", fmt.Errorf("read a part of the checkpoint: %w", err)
	case len(text) > largestPart:
		return "", fmt.Errorf("read a part of the checkpoint: it is larger than %d MiB", largestPart>>20)
	}
	return string(text), nil
}

func init() {
	sqlite.MustRegisterDeterministicScalarFunction("deflate_part", 1, func(_ *sqlite.FunctionContext, args []driver.Value) (driver.Value, error) {
		text, is := args[0].(string)
		if !is {
			return nil, fmt.Errorf("deflate a part of the checkpoint: %T is no text", args[0])
		}
		return deflatePart(text), nil
	})
}
