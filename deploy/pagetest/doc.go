// Package pagetest looks at the page with a real browser: the program on its
// simulated bench for what takes time, and a staged site for each state that a
// bench can be in. axe-core looks for what keeps people out, and acorn for
// script that an old phone would not read.
//
// All of it is behind the build tag pagetest; the script run beside this file
// fetches the browser and both libraries and runs the tests. With PICTURES set
// to a directory they leave pictures of the views there.
package pagetest
