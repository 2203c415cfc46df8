package text

import (
	"encoding/binary"
	"testing"

	"backporch/video/display"
)

// What each alteration does to one glyph, drawn by hand.
func TestAlterations(t *testing.T) {
	glyph := [8]uint8{0b00111100, 0b01000010, 0b10000001, 0b11111111, 0b10000000, 0b00000001, 0b01010101, 0b00000000}
	for _, c := range []struct {
		name  string
		alter Alteration
		want  [8]uint8
	}{
		{"data bit 0 at 1", DataHeld(0, 1), [8]uint8{0b00111101, 0b01000011, 0b10000001, 0b11111111, 0b10000001, 0b00000001, 0b01010101, 0b00000001}},
		{"data bit 7 at 0", DataHeld(7, 0), [8]uint8{0b00111100, 0b01000010, 0b00000001, 0b01111111, 0b00000000, 0b00000001, 0b01010101, 0b00000000}},
		{"line bit 0 at 0", LinesHeld(0, 0), [8]uint8{0b00111100, 0b00111100, 0b10000001, 0b10000001, 0b10000000, 0b10000000, 0b01010101, 0b01010101}},
		{"line bit 2 at 1", LinesHeld(2, 1), [8]uint8{0b10000000, 0b00000001, 0b01010101, 0b00000000, 0b10000000, 0b00000001, 0b01010101, 0b00000000}},
		{"last 3 at paper", LastHeld(3, 0), [8]uint8{0b00111000, 0b01000000, 0b10000000, 0b11111000, 0b10000000, 0b00000000, 0b01010000, 0b00000000}},
		{"last 2 at ink", LastHeld(2, 1), [8]uint8{0b00111111, 0b01000011, 0b10000011, 0b11111111, 0b10000011, 0b00000011, 0b01010111, 0b00000011}},
		{"pixel of bit 6 copied", PixelCopied(6), [8]uint8{0b00111100, 0b00000010, 0b11000001, 0b11111111, 0b11000000, 0b00000001, 0b00010101, 0b00000000}},
		{"left of each two", PairsAlike(0), [8]uint8{0b00111100, 0b00000011, 0b11000000, 0b11111111, 0b11000000, 0b00000000, 0b00000000, 0b00000000}},
		{"right of each two", PairsAlike(1), [8]uint8{0b00111100, 0b11000000, 0b00000011, 0b11111111, 0b00000000, 0b00000011, 0b11111111, 0b00000000}},
		{"half the rate", HalfRate(), [8]uint8{0b00001111, 0b00110000, 0b11000000, 0b11111111, 0b11000000, 0b00000000, 0b00110011, 0b00000000}},
		{"left half twice", HalfTwice(0), [8]uint8{0b00110011, 0b01000100, 0b10001000, 0b11111111, 0b10001000, 0b00000000, 0b01010101, 0b00000000}},
		{"right half twice", HalfTwice(1), [8]uint8{0b11001100, 0b00100010, 0b00010001, 0b11111111, 0b00000000, 0b00010001, 0b01010101, 0b00000000}},
		{"never loaded", Alike(0b11000000), [8]uint8{0b11000000, 0b11000000, 0b11000000, 0b11000000, 0b11000000, 0b11000000, 0b11000000, 0b11000000}},
		{"mirrored", Mirrored(), [8]uint8{0b00111100, 0b01000010, 0b10000001, 0b11111111, 0b00000001, 0b10000000, 0b10101010, 0b00000000}},
	} {
		if got := c.alter(binary.BigEndian.Uint64(glyph[:])); got != binary.BigEndian.Uint64(c.want[:]) {
			t.Errorf("%s: %064b, want %08b", c.name, got, c.want)
		}
	}
}

// No two alterations make the same of a font.
func TestAlterationsDiffer(t *testing.T) {
	seen := map[[256]uint64]int{}
	f := display.ShippedFont()
	for k, alter := range Alterations() {
		var out [256]uint64
		for code := range out {
			g := f.Glyph(byte(code))
			out[code] = alter(binary.BigEndian.Uint64(g[:]))
		}
		if other, ok := seen[out]; ok {
			t.Errorf("alterations %d and %d are one", other, k)
		}
		seen[out] = k
	}
}
