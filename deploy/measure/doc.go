// Measure prints what benchtide costs: each budget with the figure that this
// machine gives beside it, the daemon at rest beside Debian's
// prometheus-node-exporter in the same run, and how costs grow with the number
// of benches and of event-stream clients. Run it by deploy/measure/run.
//
// Times are of the processor where the budget is of a core, since other programs
// on the machine change those least; the delay of the loop is by the clock, and
// the table says how busy the machine was.
//
// With -against COMMIT it measures that commit and this tree in turns instead, and
// has benchstat compare them.
package main
