// Package solution does the arithmetic of a nutrient solution: how much stock,
// water or fresh solution takes it to a wanted strength, what it comes to when
// plants take water and leave salts, what a meter's reading means at 25 °C and
// on another maker's scale, what a recipe holds, and how much oxygen the water
// can hold.
//
// Strength is electrical conductivity, EC, which rises nearly evenly with the
// salts in a dilute solution: mixing is taken as additive. Of a concentrate
// that does not hold, so its EC has to be that which its dilution shows times
// the dilution, or better a dose calibrated with the grower's own meter (Stock).
//
// The Mix functions answer the questions of the command line: a value, its
// unit, and words for a person. The package is pure; values that cannot be are
// refused with the range.
package solution
