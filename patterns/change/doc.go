// Package change judges a repair: two captures of a machine, before and after, come to one word.
//
//	fixed          a fault was there and is gone, nothing else is wrong
//	better         a fault is still there and less bad, or one of several is gone; or nothing was
//	               wrong and a measure of the signal has improved
//	same           what was wrong is as wrong as before, or nothing is wrong in either
//	worse          the fault is worse, one has come on top, or a good machine is no longer good
//	another fault  the fault is gone and a different one is there
//
// The verdicts of both captures are taken as probabilities: of being faulty at all, and of each
// fault by what it is (kind, bit, component). Where the fault is the same in both, the measures that
// belong to it decide between better, same and worse, each difference against what the same machine
// gives twice. No word is given that is not more likely than all others together by some margin.
//
// Whether both show the same screen is asked of the edges between pixels, one pixel column of eight
// at a time: a bad bit spoils two of them and leaves the rest. Agreement is Cohen's kappa (Educ.
// Psychol. Meas. 20, 1960, from memory), which an almost empty screen does not fool. Whether it is
// the same machine is for package fingerprint to say; both come out as warnings, and take from how
// sure the word is.
//
// Repeatabilities and bounds: common practice, no source.
package change
