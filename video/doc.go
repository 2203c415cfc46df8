// Package video brings pictures in and takes stills out; it knows no fault and
// no verdict. This package holds the nouns, the packages below it the work:
//
//	capture    capture devices and recorded files
//	live       a source read for hours, whatever befalls it
//	source     a SOURCE word to a device, file, folder or still
//	waveform   files of sampled waveforms, read in blocks
//	composite  sampled composite waveforms: find sync, encode and decode
//	display    how a display machine builds its raster from memory
//	still      lossless stills with their text chunks
//	simulator  a machine with faults, its composite chain, a capture device
//
// # Words
//
// A frame is what a capture device delivers: usually two fields woven, line by
// line. A field is one vertical scan. A home computer's picture is not
// interlaced, so each field is one whole machine picture and the two fields of
// a frame are two successive ones. A line is one horizontal scan; sample i of a
// line is at x = i. Luma is brightness, chroma the two colour differences. A
// cell is an 8 x 8 place of the display that has its own colours or its own
// character code. A lane is one data bit of the display memory, whatever
// carries it: chip, socket, track, multiplexer or buffer.
//
// Sample codes are those of ITU-R BT.601: luma 16 black, 235 white; colour
// differences 128 neutral, 16 to 240. A device may use the full range 0 to 255
// instead; analysis finds out which.
package video
