// Package editortest has the language server that editors use for YAML judge site
// files by the schema of the package. Every line of planted.yaml that holds a mistake
// says so at its end: the server has to find each at its line and nothing else, and to
// say nothing about the good files.
//
// It is behind the build tag editortest; the script run beside this file fetches the
// server and runs the test.
package editortest
