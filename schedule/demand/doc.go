// Package demand says how much water plants in pots use and how long a pot
// lasts between floods.
//
// The way goes in four steps. Weather, a Day or an Hour with what was read of
// it, becomes reference evapotranspiration, the water in mm (litres a square
// metre) that short grass would use: Place.Reference after the FAO-56
// Penman–Monteith equation, or Cover.Reference under glass. A Crop's factor by
// age makes it the use of these plants. A Pot holds so much, gives up a part of
// that easily, and drinks in a flood according to the time it stands in water.
// Batch.Need puts the three together: hours a pot lasts, floods a day, litres.
//
// What a day's record lacks is filled in as FAO-56 says, and the result lists
// what was assumed. Values that cannot be are refused with the range.
//
// "FAO-56" is Allen, Pereira, Raes, Smith, Crop evapotranspiration, FAO
// Irrigation and Drainage Paper 56, 1998. The package is pure.
package demand
