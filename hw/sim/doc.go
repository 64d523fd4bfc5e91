// Package sim is the simulated bench.
package sim
