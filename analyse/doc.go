// Package analyse turns fields into measurements: it says what is there, never
// why. It opens nothing and asks no clock; its functions are pure and safe to run in
// parallel. This package holds the nouns, the packages below it measure, one family
// of quantities each:
//
//	timing   sync: fill, snow, roll, tear, repeats, jitter
//	grid     registration: where the machine's pixels lie in the capture
//	cells    what each pixel and cell shows: pattern, two colours, a third one
//	memory   the display memory that the picture comes from, bit by bit
//	text     cells against a font
//	signal   noise, edges, levels, hue, bars, hum
//	drift    field by field: what has changed, and how level, noise and hue wander
//	rate     rare events: the limit of a rate, two rates compared
//	retention how long memory lasts without power, lane by lane
//	survey   runs all of them in order
//
// A quantity that could not be measured is nil, never 0.
package analyse
