// Package cells reads what each cell of a registered picture shows: the pattern of
// its 64 pixels and its two colours.
//
// A pixel of some 140 ns is narrower than the decoder's impulse response, and a notch at
// the subcarrier takes much of the finest patterns away, so that a threshold on each pixel is
// not enough. The luma of a line on the pixel grid is modelled as the pixels' levels
// through a symmetric filter of nine taps. Filter, levels and pixels are found in turn: the filter by
// least squares on decided pixels (decision-directed identification, as in adaptive
// equalisers; Proakis, Digital Communications, chapter 10, from memory), the pixels by
// single and paired changes that lower the sum of squares (iterated conditional modes; Besag,
// J. R. Statist. Soc. B 48, 1986, from memory), the colours of a cell by the likelihood of
// every pair that the display can make, luma and chroma together.
//
// The capture's gain, black level, saturation and hue are unknowns of their own,
// fitted so that the colours seen fall on the display's palette; the screen tells them apart as far as it
// has colours.
package cells
