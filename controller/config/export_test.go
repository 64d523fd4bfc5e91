package config

// Seen reads a file and returns the paths of the keys whose values were read, and
// of those whose numbers are held to what is usual, as they are described.
func Seen(data []byte) (read, held map[string]bool) {
	r := &reader{file: "bench.yaml", positions: map[string]position{}, seen: map[string]bool{}}
	if top, ok := r.document(data); ok {
		r.site(top)
	}
	held = map[string]bool{}
	for _, n := range r.numbers {
		held[n.key.Path] = true
	}
	return r.seen, held
}
