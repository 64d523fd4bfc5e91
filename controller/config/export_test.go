package config

// Seen reads a file and returns the paths of the keys whose values were read,
// as they are described.
func Seen(data []byte) map[string]bool {
	r := &reader{file: "bench.yaml", positions: map[string]position{}, seen: map[string]bool{}}
	if top, ok := r.document(data); ok {
		r.site(top)
	}
	return r.seen
}
