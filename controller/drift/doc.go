// Package drift watches the times of a bench's floods for what changes slowly:
// a screen that clogs, a drain that blocks, pots that come and go, a float that
// was moved, a table that leaks.
//
// It is a function of the floods. State is what is known after some of them,
// Next takes one more, and now and then there is a Finding: the likely cause and
// the chore. Beginning anew, after cleaning or when pots come or go, is the
// zero State.
//
// # Method
//
// Fill, fall and, with an EMPTY switch, drain times are compared as logarithms,
// so that 0.1 is a tenth slower. From each is taken what the pots are expected
// to drink, see Bench. What remains is compared with the baseline of floods of
// the same kind, by whether the pots had time to dry: the median of the first
// twelve at the beginning, of the first forty in the end. A kind that turns up
// later gets its baseline less the change that the other showed by then, so that
// a new stage hides no drift.
//
// The difference feeds a two-sided CUSUM (Page, Biometrika 41:100, 1954) whose
// slack is 3 % for a time that grows and 4 % for one that shrinks, and the
// standard error of the baseline. Its limit grows with the variance of the
// bench's own floods, which the differences between one and the next show, so
// that a bench whose floods scatter is no cause of alarm. No single flood is ever
// a finding, and unless a change is over a quarter most of the last five floods
// have to show it: a float that sticks one time in thirty makes two late ones among
// them every few weeks. Three floods in a row over 15 % are one too, over 40 % one that
// cannot wait, where that is beyond three times the scatter: common practice for
// clogging pumps, no source.
//
// Which cause is likely follows from the direction of the changes together, by
// the nearest of the directions in causes.
//
// # Near a limit
//
// Whatever the baseline, two floods in a row that come within a tenth of the end
// of a window of the guard are a finding. It is that of a bench whose water was
// never timed and is slower than its sheet computes: nothing changes, and the
// bench latches when the reservoir stands a little higher.
//
// # How often it is wrong
//
// In 720 healthy simulated seasons that had no part in finding the factors, 237
// bench-years in three weathers with one to four floods a day, there was no false
// alarm where floods differ by 2 % or less besides a second; a bench-decade had
// 0.04 at 3 %, 0.3 at 5 % and 0.9 at 8 % (BenchmarkFalseAlarms).
//
// Of 300 pumps that lose 2 % a week, all are named at a loss of 9.8 % at the
// latest where floods differ by 1.5 % or less. At 2 % it takes up to 11 %, and at
// 3 % one in ten is named later than at 10 %, or not as what it is
// (BenchmarkWeakPump): the latest are those that flood once a day in mild
// weather, where plants drink less than expected.
package drift
