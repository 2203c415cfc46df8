// Package signal measures the quality of the signal that a registered picture came by:
// noise, edges, hum, fixed bars, hue, saturation and level, chroma's delay, dot crawl and cross-colour.
//
// The definitions follow ITU-R BT.1439 as far as a decoded frame allows: unweighted
// signal-to-noise ratio is 20 log10(L/sigma), L being white less black; sync and burst are not in
// the frame. A decoder's noise reduction, comb filter and automatic gain alter all of these, so
// they compare captures of one chain and are no broadcast measurements.
//
// What the picture should be is known pixel by pixel, so flat areas and edges are taken where
// the picture has them and not guessed from the samples. A quantity for which
// the picture has no such place is nil.
package signal
