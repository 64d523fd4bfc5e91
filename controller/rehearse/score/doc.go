// Package score holds what the program says of a bench against what then is so. It
// lives on random benches that nature drew, with what their people would know: a file
// with the errors of rule and tape, the times of a stop watch, a diary of top-ups,
// weighings and the log of a sensor. From that evidence, and nothing else, it states
// the figures that people act on. A judge reads what was true off the simulated bench
// after the fact. An estimate is a function of Evidence, which carries no world.
//
// Each figure gets its bias, its errors, how often the truth lay in its span and the
// interval score of that span, which no span can make better by being wider or
// narrower than it is sure of.
package score
