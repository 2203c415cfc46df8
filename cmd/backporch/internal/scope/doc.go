// Package scope renders what was measured of a sampled waveform: as text for a terminal,
// and as a picture of the averaged line with its levels and times marked, for a report.
package scope
