package text

import "math/bits"

// An Alteration changes the pixels of every glyph alike, as a fault between the character generator and the picture does: top line
// first, leftmost pixel in the highest bit.
type Alteration func(glyph uint64) uint64

// EachLine changes every line of a glyph by itself.
func EachLine(f func(line uint8) uint8) Alteration {
	return func(glyph uint64) uint64 {
		var out uint64
		for shift := 0; shift < 64; shift += 8 {
			out |= uint64(f(uint8(glyph>>shift))) << shift
		}
		return out
	}
}

// DataHeld holds a data bit of the generator, one column of pixels, at a level.
func DataHeld(bit, level int) Alteration {
	return EachLine(func(b uint8) uint8 { return b&^(1<<bit) | uint8(level)<<bit })
}

// LinesHeld holds a bit of the number of the glyph's line at a level.
func LinesHeld(bit, level int) Alteration {
	return func(glyph uint64) uint64 {
		var out uint64
		for y := range 8 {
			out = out<<8 | glyph>>(56-8*(y&^(1<<bit)|level<<bit))&0xff
		}
		return out
	}
}

// LastHeld has the last n pixels of each line at paper (0) or ink (1).
func LastHeld(n, level int) Alteration {
	mask := uint8(1)<<n - 1
	if level == 0 {
		return EachLine(func(b uint8) uint8 { return b &^ mask })
	}
	return EachLine(func(b uint8) uint8 { return b | mask })
}

// PixelCopied has the pixel of a bit like its left neighbour.
func PixelCopied(bit int) Alteration {
	return EachLine(func(b uint8) uint8 { return b&^(1<<bit) | b>>1&(1<<bit) })
}

// PairsAlike has the pixels of each line alike in twos, as where the register shifts at every second pulse of its clock alone and is loaded in
// halves: each shows the left one of the two (0) or the right one (1).
func PairsAlike(shown int) Alteration {
	return EachLine(func(b uint8) uint8 {
		if shown == 0 {
			b &= 0xaa
			return b | b>>1
		}
		b &= 0x55
		return b | b<<1
	})
}

// HalfRate has the first half of each line drawn twice as wide, as where the register shifts at half its rate.
func HalfRate() Alteration {
	return EachLine(func(b uint8) uint8 {
		var out uint8
		for bit := range 8 {
			out |= b >> (4 + bit/2) & 1 << bit
		}
		return out
	})
}

// HalfTwice has one half of each line, the left one (0) or the right one (1), drawn in the place of both, as where the register is loaded anew after
// four pixels, or its other half is the first one's.
func HalfTwice(shown int) Alteration {
	return EachLine(func(b uint8) uint8 {
		half := b >> (4 * (1 - shown)) & 0x0f
		return half<<4 | half
	})
}

// Alike has the same in all lines of all glyphs, as where the register is never loaded.
func Alike(line uint8) Alteration { return EachLine(func(uint8) uint8 { return line }) }

// Mirrored has left and right changed round.
func Mirrored() Alteration { return EachLine(bits.Reverse8) }

// Alterations lists those that leave a glyph at its place: one that comes a pixel early or late may as well lie there.
func Alterations() []Alteration {
	var out []Alteration
	for level := range 2 {
		for bit := range 8 {
			out = append(out, DataHeld(bit, level))
		}
		for bit := range 3 {
			out = append(out, LinesHeld(bit, level))
		}
		for n := 2; n < 8; n++ { // the last one alone is data bit 0
			out = append(out, LastHeld(n, level))
		}
	}
	for bit := range 7 {
		out = append(out, PixelCopied(bit))
	}
	return append(out, PairsAlike(0), PairsAlike(1), HalfRate(), HalfTwice(0), HalfTwice(1), Mirrored())
}
