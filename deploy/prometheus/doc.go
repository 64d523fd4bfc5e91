// Package prometheus has what a metrics server needs to watch benchtide, and
// the tests that hold it to the real programs of Debian's packages: go test
// -tags prometheus, as ./test runs it.
package prometheus
