package display

import (
	_ "embed"
	"fmt"
)

// A Font is the glyphs of a character display in the order of its codes: 8 bytes a
// glyph, top line first, the leftmost pixel in bit 7.
type Font struct {
	Glyphs [][8]byte // 256, or 128 where bit 7 of a code shows the glyph inverted
}

//go:embed font.bin
var shipped []byte

// ShippedFont is the font drawn for this project: codes 0x20 to 0x7E are ASCII,
// 256 glyphs.
func ShippedFont() Font {
	f, err := ParseFont(shipped)
	if err != nil {
		panic(err) // embedded; its test would have failed
	}
	return f
}

// ParseFont reads a raw font: 8 bytes a glyph, 128 or 256 glyphs.
func ParseFont(raw []byte) (Font, error) {
	if len(raw) != 128*8 && len(raw) != 256*8 {
		return Font{}, fmt.Errorf("a font has 128 or 256 glyphs of 8 bytes (1024 or 2048 bytes), this one has %d bytes", len(raw))
	}
	f := Font{Glyphs: make([][8]byte, len(raw)/8)}
	for i := range f.Glyphs {
		copy(f.Glyphs[i][:], raw[i*8:])
	}
	return f, nil
}

// Glyph is the picture of a code, inverted for codes from 128 on of a 128-glyph font.
func (f Font) Glyph(code byte) [8]byte {
	if len(f.Glyphs) == 256 || code < 128 {
		return f.Glyphs[code]
	}
	g := f.Glyphs[code&127]
	for i := range g {
		g[i] = ^g[i]
	}
	return g
}
