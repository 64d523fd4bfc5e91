// Package metrics shows a site to Prometheus. A Collector is told of every
// turn, counts what happened in it and keeps a snapshot of the site; a scrape
// reads counts and snapshot and never touches the core. Names begin with
// benchtide_, values are in base units, and every set of labels that can occur
// is there from the start, at 0.
package metrics
