// Package screentest makes screens of a Text display for tests: as they would be read, without a picture.
package screentest

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/video/display"
)

// Typed is a Text display's survey as it would be read, without a picture: white on blue.
func Typed(t testing.TB, codes []int, ink func(i int) int) (*analyse.Survey, *display.Profile) {
	t.Helper()
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	p, err := display.Find(all, "text-40x25-50")
	if err != nil {
		t.Fatal(err)
	}
	f := display.ShippedFont()
	s := &analyse.Survey{Border: analyse.Border{Colour: 14, Seen: true, Uniform: true, Sure: 20}}
	s.Sync.State, s.Registration.OK = analyse.Locked, true
	s.Text = &analyse.Text{Glyphs: make([][8]uint8, 256)}
	for code := range s.Text.Glyphs {
		s.Text.Glyphs[code] = f.Glyph(byte(code))
	}
	for i, code := range codes {
		c := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Bits: f.Glyph(byte(code)), Paper: 8, Ink: ink(i), Sure: 20}
		if c.Bits == [8]uint8{} || c.Ink == c.Paper {
			c.Single, c.Ink, c.Bits = true, -1, [8]uint8{}
		}
		s.Cells = append(s.Cells, c)
		s.Text.Codes = append(s.Text.Codes, code)
		s.Text.Inverse = append(s.Text.Inverse, false)
		s.Text.Odds = append(s.Text.Odds, 20)
	}
	s.Text.Checked = len(codes)
	return s, p
}

// Page is a screen of 40 by 25 codes with words in 30 columns.
func Page(rng *rand.Rand) []int {
	words := "10 PRINT HELLO: REM the quick brown fox 20 GOTO 10 (C) Bench 16K Test, PASS "
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
		if i%40 < 30 {
			codes[i] = int(words[(i+i/40*7+rng.IntN(2))%len(words)])
		}
	}
	return codes
}

// White is the ink of every cell.
func White(int) int { return 3 }

// Strange gives a survey's cells the glyphs of a font that is not at hand.
func Strange(s *analyse.Survey, codes []int) {
	rng := rand.New(rand.NewPCG(8, 8))
	var other [256][8]uint8
	for c := range other {
		for y := range 8 {
			other[c][y] = uint8(rng.Uint32())
		}
	}
	other[' '] = [8]uint8{}
	for i, code := range codes {
		c := &s.Cells[i]
		c.Bits, c.Single, c.Ink = other[code], code == ' ', 3
		if c.Single {
			c.Ink = -1
		}
	}
}

// Program is a screen of lines of a program, a space in the rest.
func Program(lines int) []int {
	words := []string{"PRINT", "GOTO", "FOR K=", "NEXT K", "DATA", "REM the", "INPUT A", "LET B="}
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for line := range lines {
		for k, c := range fmt.Sprintf("%d %s%d", 100+10*line, words[line*5%len(words)], line*37%100) {
			codes[line*40+k] = int(c)
		}
	}
	return codes
}

// OtherHand is the shipped font as another hand might draw it: slanted.
func OtherHand() *[256][8]uint8 {
	out := &[256][8]uint8{}
	f := display.ShippedFont()
	for code := range out {
		v := f.Glyph(byte(code))
		rows := binary.BigEndian.Uint64(v[:])
		if code != ' ' {
			rows = rows>>1&(0x7f7f7f7f<<32) | rows&0xffffffff
		}
		binary.BigEndian.PutUint64(out[code][:], rows)
	}
	return out
}

// Handwritten draws a screen's codes with another font.
func Handwritten(s *analyse.Survey, codes []int, font *[256][8]uint8) {
	for i, code := range codes {
		c := &s.Cells[i]
		c.Bits = font[code]
		if c.Single, c.Ink = c.Bits == [8]uint8{}, 3; c.Single {
			c.Ink = -1
		}
	}
}

// WideLetters draws letters as wide as their cells, of a font that is not known.
var WideLetters = map[byte]string{
	'L': "#....... #....... #....... #....... #....... #....... #######. ........",
	'O': ".#####.. #.....#. #.....#. #.....#. #.....#. #....##. .####... ........",
	'A': "...#.... .##.##.. #.....#. #.....#. #######. #.....#. #.....#. ........",
	'D': "#####... #....##. #.....#. #.....#. #.....#. #.....#. ######.. ........",
	'E': "#######. #....... #....... #####... #....... #....... #######. ........",
	'T': "#######. ...#.... ...#.... ...#.... ...#.... ...#.... ...#.... ........",
	'2': ".####... #....##. ......#. ....##.. ...#.... .##..... #######. ........",
	' ': "........ ........ ........ ........ ........ ........ ........ ........",
}

// Pixels are the rows of a drawing of eight lines of "." and "#".
func Pixels(drawing string) (rows [8]uint8) {
	for y, line := range strings.Fields(drawing) {
		for x := range 8 {
			if line[x] == '#' {
				rows[y] |= 0x80 >> x
			}
		}
	}
	return rows
}

// Menu is a screen of codes as menus and titles have it, without any figure.
func Menu() []int {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for row, line := range []string{"ROBOT MENU", "Port robot sprite disk", "Copy data and save", "Letter print keys", "River joy maze", "Clock robot keys", "Quit while box", "Use arrows then ENTER"} {
		for k := range len(line) {
			codes[40*(2*row+3)+8+k] = int(line[k])
		}
	}
	return codes
}
