// Package waveform reads sampled composite waveforms in blocks, so that a file of any
// length takes the same memory: what an oscilloscope exports as CSV, WAV of 8 or 16
// bits, bare samples of 8 or 16 bits, and NPY arrays.
//
// A Reader gives float32 samples. They are millivolts where the file says so, or where
// the volts of full scale are known; else full scale is 1000 and only ratios mean
// anything (Info.Absolute). A sample that the file lacks is NaN, so that time stays
// right. What had to be guessed is in Info.Notes.
//
// Sources: the RIFF WAVE definition (Multimedia Programming Interface and Data
// Specifications 1.0, 1991) with its extensible form and, for files over 4 GiB, EBU
// Tech. 3306 (from memory); the NPY format versions 1.0 to 3.0 of the NumPy
// documentation. CSV has no standard here: header styles are common practice, no source.
package waveform
