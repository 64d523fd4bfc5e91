package ledger

import (
	"encoding/json"
	"fmt"
	"os"
)

// copier keeps the second witness: a file beside the ledger with all that the
// guard goes on from. It belongs to the writing goroutine.
type copier struct {
	path  string
	fault func(step string) error

	now     string      // the grave part of what the file has to hold
	held    string      // that of what is in it
	entries int         // how many of commissioning are in it; -1 when the file has to be written
	seq     int64       // of the checkpoint in it; 0 when unknown
	file    os.FileInfo // as it was written
	trouble error       // why the last write failed
}

// keep has the file hold a checkpoint, where what it holds has to be newer; all
// also has it hold what may wait, such as at the end of the program.
func (c *copier) keep(cp *checkpoint, entries []Commissioning, all bool) error {
	if cp == nil || c.path == "" {
		return nil
	}
	c.now = grave(cp)
	same := c.now == c.held && len(entries) == c.entries && c.trouble == nil
	if same && (!all || cp.Seq == c.seq) {
		return nil
	}
	if c.trouble = c.write(cp, entries); c.trouble == nil {
		c.held, c.entries, c.seq = c.now, len(entries), cp.Seq
	}
	return c.trouble
}

func (c *copier) write(cp *checkpoint, entries []Commissioning) error {
	if err := c.at("witness"); err != nil {
		return fmt.Errorf("write %s: %w", copyText, err)
	}
	parts, err := copyParts(cp, entries)
	if err != nil {
		return err
	}
	text, err := inLines(parts)
	if err != nil {
		return fmt.Errorf("write %s: %w", copyText, err)
	}
	if err := replace(c.path, text); err != nil {
		return fmt.Errorf("write %s: %w", copyText, err)
	}
	c.file, err = os.Stat(c.path)
	return err
}

func (c *copier) at(step string) error {
	if c.fault == nil {
		return nil
	}
	return c.fault(step)
}

// revoke takes away a file that says less than the ledger and cannot be
// replaced: a witness that does not know of a latch is worse than none.
func (c *copier) revoke(cp *checkpoint) {
	if grave(cp) != c.held && os.Remove(c.path) == nil {
		c.held, c.file = "", nil
		_ = syncDir(c.path)
	}
}

// moved reports whether the file is no longer the one that was written.
func (c *copier) moved() bool {
	now, err := os.Stat(c.path)
	return c.file != nil && (err != nil || !os.SameFile(now, c.file) || now.Size() != c.file.Size())
}

func copyParts(cp *checkpoint, entries []Commissioning) (map[string]string, error) {
	parts, err := essence(cp).parts()
	if err != nil {
		return nil, err
	}
	if entries == nil {
		entries = []Commissioning{}
	}
	if err := encode(parts, commissioningPart, entries); err != nil {
		return nil, err
	}
	var h head
	if err := json.Unmarshal([]byte(parts[headPart]), &h); err != nil {
		return nil, err
	}
	h.Sums[commissioningPart] = partSum(commissioningPart, parts[commissioningPart])
	return parts, encode(parts, headPart, h)
}
