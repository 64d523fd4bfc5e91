// Package packed makes answers small for whoever takes gzip. It is for what is no
// secret: the size of a packed answer tells something of what is in it.
package packed

import (
	"bytes"
	"compress/gzip"
	"net/http"
	"strconv"
	"strings"
)

// Of is data as gzip makes it, at one of its levels, as gzip.BestCompression.
func Of(data []byte, level int) []byte {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, level)
	if err != nil { // the level is none of gzip's own
		panic(err)
	}
	_, _ = z.Write(data) // to memory, which takes all
	_ = z.Close()
	return b.Bytes()
}

// Taken reports whether who asks says that gzip will do (RFC 9110, section 12.5.3).
func Taken(r *http.Request) bool {
	for one := range strings.SplitSeq(strings.Join(r.Header.Values("Accept-Encoding"), ","), ",") {
		name, weight, _ := strings.Cut(one, ";")
		if !strings.EqualFold(strings.TrimSpace(name), "gzip") {
			continue
		}
		q, err := strconv.ParseFloat(strings.TrimPrefix(strings.ReplaceAll(weight, " ", ""), "q="), 64)
		return err != nil || q > 0
	}
	return false
}
