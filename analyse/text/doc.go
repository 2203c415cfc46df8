// Package text reads cells against a font.
//
// A cell's 64 pixels are compared with every glyph, plain and inverted, each pixel being
// wrong with a small probability of its own: a binomial likelihood in the number of pixels
// that differ. Against the glyphs stands a cell that shows none of them, whose pixels are ink
// with an unknown probability: its evidence is that of a beta-binomial with a flat prior,
// B(1+k, 1+64-k) for k pixels of ink (MacKay, Information Theory, Inference, and Learning
// Algorithms, chapter 3). So a picture is not read as letters, and a sparse one not as full stops.
package text
