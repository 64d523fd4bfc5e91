package hw

import "fmt"

// OutputError says that one output may not be as commanded.
type OutputError struct {
	Output int    // index in safety.Limits.Outputs
	Name   string // as in the file
	Behind bool   // its chip is behind a bus: nothing that this program or its machine does brings it back
	Err    error
}

func (e *OutputError) Error() string { return fmt.Sprintf("drive output %q: %v", e.Name, e.Err) }

// Unwrap is the error of the line.
func (e *OutputError) Unwrap() error { return e.Err }

// OutputErrors takes an error of Board.Apply apart. The rest is what is not
// about one output.
func OutputErrors(err error) (outputs []*OutputError, rest []error) {
	switch e := err.(type) {
	case nil:
	case *OutputError:
		outputs = append(outputs, e)
	case interface{ Unwrap() []error }:
		for _, inner := range e.Unwrap() {
			o, r := OutputErrors(inner)
			outputs, rest = append(outputs, o...), append(rest, r...)
		}
	default:
		rest = append(rest, err)
	}
	return outputs, rest
}
