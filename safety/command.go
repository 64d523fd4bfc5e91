package safety

// MaxOutputs is the largest number of outputs a site may have.
const MaxOutputs = 512

// Command says which outputs are energised. Its zero value means everything
// off. Only the guard can mint a Command that energises anything, and a board
// accepts nothing else, so no other code can switch a pump on.
type Command struct {
	bits [MaxOutputs / 64]uint64
}

// On reports whether output i (its index in Limits.Outputs) is energised.
func (c Command) On(i int) bool {
	return i >= 0 && i < MaxOutputs && c.bits[i/64]&(1<<(i%64)) != 0
}

// Any reports whether any output at all is energised.
func (c Command) Any() bool { return c != Command{} }

func (c *Command) set(i int) { c.bits[i/64] |= 1 << (i % 64) }
