// Package simulator is a bench without hardware: a machine with faults, its
// composite output, and the device that captures it.
//
//	screens.go   what the machine's program has written to its memory
//	machine.go   memory -> raster: fetch, character generator, palette, border
//	chain.go     composite output: level, sync, bandwidth, ringing, hum, ghost, noise
//	device.go    the capture device: a decoder with errors of its own, what it shows without a signal
//	bench.go     ties them together and weaves the frames
//	catalogue.go the kinds of fault, from faults_ram.go, faults_video.go, faults_signal.go;
//	             each acts by hooks where it would in the machine
//	faults.go    a fault's particulars, and how they are written
//	random.go    scenarios by seed
//	truth.go     what is wrong and where the picture really lies
//
// Everything follows from [Scenario], seed included, so a capture can be made again.
// Noise is fresh in every field. [Truth] is for tests, practice and demonstration;
// nothing that judges a picture may see it.
//
// Ranges of random traits: common practice, no source, unless a comment says otherwise.
package simulator
