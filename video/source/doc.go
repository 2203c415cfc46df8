// Package source opens what a SOURCE word names: a capture device (its path, or its
// number), a recorded file, a still (PNG, JPEG, BMP, TIFF), or a folder of stills in the order
// of their names, numbers in them by value.
//
// A sampled waveform (CSV, WAV, NPY, bare samples) is decoded in software to the frames that a
// capture device would give.
//
// What a file is, its first bytes say, not its name. A still of our own gives the very
// frame that the device gave; a JPEG gives its codes as stored; R, G, B of other pictures
// become BT.601 codes and Info.RGB says so.
package source
