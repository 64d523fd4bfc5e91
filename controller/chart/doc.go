// Package chart draws numbers over time as pictures in SVG that stand by
// themselves: lines, bars, points and limits on two axes, with a legend. It knows
// nothing of benches. The same numbers draw the same bytes.
package chart
