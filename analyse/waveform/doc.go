// Package waveform measures a sampled composite waveform: levels, line and field timing,
// burst, jitter, and what the standards say of them.
//
// A Meter takes samples in pieces of any length, measures stretches of a quarter of a second and
// adds them up, so that a long file needs no more memory than a short one.
//
//	meter.go    stretches, and how they are combined
//	lines.go    each line's 0H, tip and porch
//	clock.go    the line clock; jitter, and what noise makes of it
//	mean.go     the averaged line: sync and burst widths, porches, edges
//	burst.go    amplitude and frequency of the burst
//	levels.go   white, peak to peak
//	census.go   every pulse at sync level by its width; fields
//	testline.go the 2T pulse and bar, where a line carries them
//	limits.go   the standards' tables
//
// 0H is the half-amplitude point of the leading edge of line sync. Each line's is found by least
// squares against the mean edge; the part of its scatter that noise makes, measured with the
// same weights where the line is flat, is taken out of the jitter. Levels are against the
// line's own back porch, so drift, hum and offset do not enter.
//
// Sources: ITU-R BT.1700 (2005), BT.470-6 (1998) where that is silent, SMPTE 170M-2004; ITU-R
// BT.1439 for the K rating. A home computer departs from them by design in places: rows that say
// so are marked as traits (common practice, no source).
package waveform
