package display

import (
	"bufio"
	"bytes"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "make font.bin from font.txt")

// drawFont reads font.txt: a line with the code and the name of a glyph, then its
// 8 lines of 8 pixels.
func drawFont(text []byte) ([]byte, error) {
	raw := make([]byte, 256*8)
	lines := bufio.NewScanner(bytes.NewReader(text))
	code, row := -1, 8
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		switch {
		case row < 8:
			if len(line) != 8 || strings.Trim(line, "#.") != "" {
				return nil, fmt.Errorf("font.txt, line %d: %q is not 8 pixels", n, line)
			}
			for _, pixel := range line {
				raw[code*8+row] <<= 1
				if pixel == '#' {
					raw[code*8+row] |= 1
				}
			}
			row++
		case line == "", line[0] == ';':
		default:
			next := 0
			if _, err := fmt.Sscanf(line, "0x%X ", &next); err != nil || next != code+1 {
				return nil, fmt.Errorf("font.txt, line %d: %q is not the glyph after 0x%02X", n, line, code)
			}
			code, row = next, 0
		}
	}
	if code != 255 || row != 8 {
		return nil, fmt.Errorf("font.txt ends at 0x%02X, line %d", code, row)
	}
	return raw, nil
}

func TestFontBinIsWhatFontTxtDraws(t *testing.T) {
	text, err := os.ReadFile("font.txt")
	if err != nil {
		t.Fatal(err)
	}
	want, err := drawFont(text)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("font.bin", want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile("font.bin")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("font.bin is not what font.txt draws; run with -update")
	}
}

// Glyphs that are alike, or alike when inverted, could not be told apart on a screen.
func TestShippedGlyphsAreDistinct(t *testing.T) {
	seen := map[[8]byte]int{}
	for code, g := range ShippedFont().Glyphs {
		inverse := g
		for i := range inverse {
			inverse[i] = ^inverse[i]
		}
		for _, shape := range [][8]byte{g, inverse} {
			if other, ok := seen[shape]; ok {
				t.Errorf("0x%02X is 0x%02X, or its inverse", code, other)
			}
			seen[shape] = code
		}
	}
	if ShippedFont().Glyph(' ') != [8]byte{} {
		t.Error("the space has ink")
	}
}

// A wrong pixel or two must not turn one printing character into another.
func TestShippedASCIIKeepsItsDistance(t *testing.T) {
	f := ShippedFont()
	for a := 0x20; a <= 0x7E; a++ {
		for b := a + 1; b <= 0x7E; b++ {
			if d := distance(f.Glyph(byte(a)), f.Glyph(byte(b))); d < 2 {
				t.Errorf("%c and %c differ in %d pixels", a, b, d)
			}
		}
	}
}

func distance(a, b [8]byte) int {
	n := 0
	for i := range a {
		for x := a[i] ^ b[i]; x != 0; x &= x - 1 {
			n++
		}
	}
	return n
}

func TestParseFontSizes(t *testing.T) {
	for _, n := range []int{0, 1, 1023, 1025, 2047, 4096} {
		if _, err := ParseFont(make([]byte, n)); err == nil || !strings.Contains(err.Error(), fmt.Sprint(n, " bytes")) {
			t.Errorf("%d bytes: %v", n, err)
		}
	}
	raw := make([]byte, 1024)
	raw[8*5+2] = 0x81
	f, err := ParseFont(raw)
	if err != nil {
		t.Fatal(err)
	}
	if f.Glyph(5)[2] != 0x81 || f.Glyph(5 + 128)[2] != 0x7E || f.Glyph(5 + 128)[0] != 0xFF {
		t.Errorf("128 glyphs: code 5 is %v, its inverse %v", f.Glyph(5), f.Glyph(133))
	}
}
