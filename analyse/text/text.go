package text

import (
	"encoding/binary"
	"math"
	"math/bits"
	"strings"

	"backporch/analyse"
	"backporch/video/display"
)

// Options of Read.
type Options struct {
	PixelError float64 // probability that a pixel was recovered wrong; 0 means 0.005
}

// Prior shares; common practice, no source. A screen that is read has few cells of no
// glyph, and few inverted ones.
const (
	noGlyph  = 0.01
	inverted = 0.05
	blank    = 0.3 // a glyph of one colour, against one two-hundred-and-fifty-sixth for others
)

// Marks in Text.Lines.
const (
	Unreadable = '\uFFFD' // no glyph fits
	Graphic    = '\u2592' // a glyph that is no character of ASCII
)

// surelyTurned is how much better, in nats, a whole screen must read inverted to be taken so.
const surelyTurned = 20

// shape is a glyph as the reader compares it.
type shape struct {
	pixels  uint64
	code    int
	inverse bool
	prior   float64 // ln
}

// Read finds the code of every cell. Where glyphs are alike the odds are 0, and the code is the first
// of them that is ASCII, or the first. A 128-glyph font has its inverted glyphs as codes of their own.
//
// A Text display has one background, so that what is ink in a cell is known: an inverted glyph
// is a code of its own there, or none. An Attr display's colours may stand the other way round in any cell.
func Read(cells []analyse.Cell, p *display.Profile, f display.Font, o Options) analyse.Text {
	rows, columns := p.Rows(), p.Columns()
	out := analyse.Text{Codes: make([]int, rows*columns), Odds: make([]float32, rows*columns), Inverse: make([]bool, rows*columns)}
	for i := range out.Codes {
		out.Codes[i] = -1
	}
	wrong := o.PixelError
	if wrong <= 0 || wrong >= 0.5 {
		wrong = 0.005
	}
	if len(f.Glyphs) != 128 && len(f.Glyphs) != 256 {
		cells = nil
	} else {
		out.Glyphs = make([][8]uint8, 256)
		for code := range out.Glyphs {
			out.Glyphs[code] = f.Glyph(byte(code))
		}
	}
	paper, either := Background(cells, p), p.Kind == display.Attr && len(f.Glyphs) == 256
	shapes := shapesOf(f, either)
	read := func(turn bool) (total float64) {
		out.Checked, out.Unknown = 0, 0
		for i := range cells {
			c := &cells[i]
			if c.Row < 0 || c.Row >= rows || c.Column < 0 || c.Column >= columns {
				continue
			}
			pixels := binary.BigEndian.Uint64(c.Bits[:])
			if c.Single && p.Kind == display.Text && c.Paper != paper {
				pixels = ^uint64(0)
			}
			if turn {
				pixels = ^pixels
			}
			at := c.Row*columns + c.Column
			code, inverse, odds, like := match(pixels, shapes, wrong)
			out.Codes[at], out.Inverse[at], out.Odds[at] = code, inverse || turn && code >= 0, odds
			total += like
			out.Checked++
			if code < 0 {
				out.Unknown++
			}
		}
		return total
	}
	// Where a screen has one ink, which of the two colours is the background may have been taken the wrong way round.
	straight := read(false)
	if p.Kind == display.Text && len(f.Glyphs) == 256 && out.Unknown > 0 && read(true) < straight+surelyTurned {
		read(false)
	}
	out.Lines = make([]string, rows)
	for r := range out.Lines {
		var line strings.Builder
		for _, code := range out.Codes[r*columns : (r+1)*columns] {
			line.WriteRune(character(code, len(f.Glyphs)))
		}
		out.Lines[r] = line.String()
	}
	return out
}

// Background is the palette index of a Text display's one paper: that of the cells that show
// two colours, else of the most cells. -1 without cells.
func Background(cells []analyse.Cell, p *display.Profile) int {
	votes := make([]int, len(p.Colours))
	for i := range cells {
		if c := &cells[i]; c.Paper >= 0 && c.Paper < len(votes) {
			votes[c.Paper]++
			if !c.Single {
				votes[c.Paper] += len(cells)
			}
		}
	}
	best := -1
	for i, n := range votes {
		if n > 0 && (best < 0 || n > votes[best]) {
			best = i
		}
	}
	return best
}

// shapesOf lists the glyphs, ASCII first, so that it is taken among equals; turned adds
// inverted ones that are no codes of their own.
func shapesOf(f display.Font, turned bool) []shape {
	if len(f.Glyphs) == 0 {
		return nil
	}
	order := make([]int, 0, 256)
	for code := 0x20; code <= 0x7E; code++ {
		order = append(order, code)
	}
	for code := range 256 {
		if code < 0x20 || code > 0x7E {
			order = append(order, code)
		}
	}
	each := math.Log((1 - noGlyph - blank) / 256)
	plain, inverse := each, each+math.Log(inverted)
	if turned {
		plain += math.Log(1 - inverted)
	}
	var shapes []shape
	for _, code := range order {
		g := f.Glyph(byte(code))
		pixels, common := binary.BigEndian.Uint64(g[:]), 0.0
		if pixels == 0 || ^pixels == 0 {
			common = math.Log(blank * 256)
		}
		shapes = append(shapes, shape{pixels, code, false, plain + common})
		if turned {
			shapes = append(shapes, shape{^pixels, code, true, inverse + common})
		}
	}
	return shapes
}

// match gives the most probable code, -1 when no glyph fits, ln of its probability over that of
// the next code's, or of no glyph at all, and ln of its likelihood.
func match(pixels uint64, shapes []shape, wrong float64) (code int, inverse bool, odds float32, like float64) {
	perWrong, perRight := math.Log(wrong), math.Log1p(-wrong)
	first, second := math.Inf(-1), math.Inf(-1)
	code = -1
	for _, s := range shapes {
		d := float64(bits.OnesCount64(pixels ^ s.pixels))
		l := s.prior + d*perWrong + (64-d)*perRight
		switch {
		case l > first:
			if s.code != code {
				second = first
			}
			first, code, inverse = l, s.code, s.inverse
		case l > second && s.code != code:
			second = l
		}
	}
	none := math.Log(noGlyph) + anything(bits.OnesCount64(pixels))
	if none > first {
		return -1, false, float32(none - first), none
	}
	return code, inverse, float32(first - max(second, none)), first
}

// anything is ln of the probability of 64 pixels with k of ink, their density unknown:
// ln B(1+k, 1+64-k).
func anything(k int) float64 {
	a, _ := math.Lgamma(float64(1 + k))
	b, _ := math.Lgamma(float64(65 - k))
	c, _ := math.Lgamma(66)
	return a + b - c
}

func character(code, glyphs int) rune {
	if glyphs == 128 {
		code &= 127 | math.MinInt // the inverted glyph is the same character; -1 stays below 0
	}
	switch {
	case code < 0:
		return Unreadable
	case code >= 0x20 && code <= 0x7E:
		return rune(code)
	}
	return Graphic
}
