// Package composite makes and reads sampled composite video waveforms.
//
// A waveform is a row of float32 samples in millivolts, blanking level 0, at any
// steady rate, mostly about four times the colour subcarrier. [Encoder] makes one
// from lines of machine pixels, with the machine's own line and field length and
// its own subcarrier; [Decoder] turns one into fields as a capture device does: it
// finds sync in the waveform itself, so weak sync, noise or no signal show as jitter,
// tearing, roll or snow, because the same thing went wrong.
//
// The decoder in the order of the signal:
//
//	sync.go    slices sync, keeps a line flywheel (0H to a part of a sample), black and gain
//	field.go   finds the field sync pulse, counts lines
//	burst.go   locks to the burst, finds the PAL V switch, kills colour without a burst
//	line.go    resamples a line on the BT.601 grid, parts luma and chroma, quantises
//	decode.go  ties them together
//
// Find makes out sync in a waveform of unknown level, offset and polarity; Rewind lets a decoder
// begin with what it found, so that a file's first field counts.
//
//	find.go    polarity, levels, line period, every pulse at sync level, standard
//	slicing.go the slicing level at which most pulses are like line sync
//
// 0H is the half-amplitude point of the leading edge of line sync; all filters are
// symmetric, so they shift nothing against it.
//
// Sources: ITU-R BT.1700 (PAL levels and timing), SMPTE 170M (NTSC), ITU-R BT.601
// (sampling grid). Flywheel, gain and killer constants are common practice, no source.
package composite
