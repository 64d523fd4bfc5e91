// Package nature is what the simulated world is left to by chance: for each seed
// a bench that is not quite the one in its file. A nature is data, a table with a
// row for each thing that is drawn, its unit, its shape, its span and where that
// span comes from. Three are here: Kind is the plain bench, on which nothing is
// drawn; Wild is a bench as one builds it; Second has other shapes than Wild, and
// things that go together, and is there to try what was found out on Wild.
//
// Only the simulated world may read it. What estimates, forecasts or advises and
// knew it would agree with itself instead of with a bench.
package nature
