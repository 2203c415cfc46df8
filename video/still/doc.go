// Package still keeps single frames as evidence, exactly as the device gave them, and
// draws annotated copies for people to look at.
//
// # The file
//
// A still is a PNG that any viewer shows: R, G, B made of the frame. R, G, B at 8 bits
// can't hold what the device gave (luma and chroma codes, chroma at half the samples,
// colours outside the gamut), so the planes themselves stand in a private chunk, bpYC, from
// which Read gives the frame back bit for bit. Ancillary and private, it is skipped by
// other programs; not safe to copy, it is dropped by editors that change the picture.
//
//	offset  bytes  bpYC's content, numbers big-endian
//	0       1      version, 1
//	1       4      luma width
//	5       4      luma height
//	9       4      chroma width, 0 without chroma
//	13      4      chroma height
//	17      rest   zlib (RFC 1950): Y, Cb, Cr, row by row, each sample less its left neighbour
//	               modulo 256 (PNG's Sub filter), the first of a row less 0
//
// What is known of the frame stands in iTXt chunks, keys below "backporch:". Chunks, text
// and their checks are those of the PNG specification (W3C, third edition), clauses 5 and 11.
//
// A still is written whole or not at all and never over another file; its SHA-256 is that
// of the file.
package still
