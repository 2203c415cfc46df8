package text

import (
	"errors"
	"fmt"
	"math/bits"
	"slices"
	"strconv"

	"backporch/analyse"
	"backporch/video/display"
)

// A Lesson is a font learned from a screen whose text is known.
type Lesson struct {
	Font   display.Font // glyphs that did not show are those of the font to begin with, or empty
	Glyphs []Glyph      // those that showed, by code
	Cells  int          // cells that were used
	Odd    int          // of those, the ones that differ from the others of their code
	Place  analyse.Shift
}

// A Glyph is one that was learned, from so many cells.
type Glyph struct{ Code, Cells int }

// Errors of Learn.
var (
	ErrNoText = errors.New("no cell of the text is on the screen")
	ErrOther  = errors.New("cells of one code differ")
)

// mostOdd is the part of the cells that may differ from the others of their code: more, and the text is
// not the screen's. A glyph differs that has more pixels wrong than noise leaves. Common practice, no source.
const (
	mostOdd    = 0.05
	sameGlyph  = 3
	oddPenalty = 20 // a place at which one more cell in twenty is odd is so many nats less probable
)

// Learn makes a font of a good machine's cells and the codes that they hold, -1 where that is not known.
// Of the places that the picture may have it takes the one at which cells of one code are alike. base, which may be nil, has the
// glyphs to begin with.
func Learn(cells []analyse.Cell, p *display.Profile, codes []int, places []analyse.Shift, base *display.Font) (*Lesson, error) {
	if p.Kind != display.Text {
		return nil, errors.New("a bitmap display has no character generator")
	}
	if len(cells) != p.Rows()*p.Columns() || len(codes) != len(cells) {
		return nil, fmt.Errorf("%d cells and %d codes for a screen of %d", len(cells), len(codes), p.Rows()*p.Columns())
	}
	picture := pixels(cells, p)
	if len(places) == 0 {
		places = []analyse.Shift{{Probability: 1}}
	}
	var best *Lesson
	score := 0.0
	for _, at := range places {
		l := learnAt(picture, p, codes, at, base)
		if l.Cells == 0 {
			continue
		}
		s := at.Probability - oddPenalty*float64(l.Odd)/float64(l.Cells)
		if best == nil || s > score {
			best, score = l, s
		}
	}
	switch {
	case best == nil:
		return nil, ErrNoText
	case float64(best.Odd) > mostOdd*float64(best.Cells)+1:
		return best, fmt.Errorf("%w in %d of %d cells", ErrOther, best.Odd, best.Cells)
	}
	return best, nil
}

// pixels are the picture's lines, a byte of ink a pixel.
func pixels(cells []analyse.Cell, p *display.Profile) []uint8 {
	out := make([]uint8, p.Width*p.Height)
	paper := Background(cells, p)
	for i := range cells {
		c := &cells[i]
		for y := range 8 {
			row := c.Bits[y]
			if c.Single && c.Paper != paper {
				row = 0xff
			}
			for x := range 8 {
				out[(c.Row*8+y)*p.Width+c.Column*8+x] = row >> (7 - x) & 1
			}
		}
	}
	return out
}

func learnAt(picture []uint8, p *display.Profile, codes []int, at analyse.Shift, base *display.Font) *Lesson {
	l := &Lesson{Font: display.Font{Glyphs: make([][8]byte, 256)}, Place: at}
	if base != nil {
		for code := range l.Font.Glyphs {
			l.Font.Glyphs[code] = base.Glyph(byte(code))
		}
	}
	seen := map[int][][8]byte{}
	for i, code := range codes {
		if code < 0 || code > 255 {
			continue
		}
		left, top := i%p.Columns()*8+at.Pixels, i/p.Columns()*8+at.Lines
		if left < 0 || top < 0 || left+8 > p.Width || top+8 > p.Height {
			continue // not whole on the picture as it was read
		}
		var g [8]byte
		for y := range g {
			for x := range 8 {
				g[y] |= picture[(top+y)*p.Width+left+x] << (7 - x)
			}
		}
		seen[code] = append(seen[code], g)
	}
	for code := range 256 {
		list := seen[code]
		if len(list) == 0 {
			continue
		}
		g := vote(list)
		for _, one := range list {
			if apart(one, g) > sameGlyph {
				l.Odd++
			}
		}
		l.Cells += len(list)
		l.Font.Glyphs[code] = g
		l.Glyphs = append(l.Glyphs, Glyph{code, len(list)})
	}
	return l
}

// vote is the glyph that most of the cells show, pixel by pixel; of two that differ the first.
func vote(list [][8]byte) (g [8]byte) {
	for y := range g {
		for x := range 8 {
			n := 0
			for _, one := range list {
				n += int(one[y] >> x & 1)
			}
			if 2*n > len(list) || 2*n == len(list) && list[0][y]>>x&1 == 1 {
				g[y] |= 1 << x
			}
		}
	}
	return g
}

func apart(a, b [8]byte) int {
	n := 0
	for y := range a {
		n += bits.OnesCount8(a[y] ^ b[y])
	}
	return n
}

// Codes reads a text as the codes of a screen: a line a row, from the top, a character a cell; what is past
// the end of a line is blank, \xNN is the code NN, \\ a backslash, and \? a cell of which nothing is said. Rows that are not there are unknown.
func Codes(data string, p *display.Profile) ([]int, error) {
	out := slices.Repeat([]int{-1}, p.Rows()*p.Columns())
	row, column, rest := 0, 0, data
	next := func(code int) error {
		if row >= p.Rows() {
			return fmt.Errorf("line %d: the screen has %d rows", row+1, p.Rows())
		}
		if column >= p.Columns() {
			return fmt.Errorf("line %d: longer than the screen's %d columns", row+1, p.Columns())
		}
		out[row*p.Columns()+column] = code
		column++
		return nil
	}
	for rest != "" {
		c := rest[0]
		rest = rest[1:]
		code := int(c)
		switch {
		case c == '\r':
			continue
		case c == '\n':
			for column < p.Columns() && row < p.Rows() {
				if err := next(' '); err != nil {
					return nil, err
				}
			}
			row, column = row+1, 0
			continue
		case c == '\\' && len(rest) > 0 && rest[0] == '\\':
			rest = rest[1:]
		case c == '\\' && len(rest) > 0 && rest[0] == '?':
			code, rest = -1, rest[1:]
		case c == '\\' && len(rest) > 2 && rest[0] == 'x':
			v, err := strconv.ParseUint(rest[1:3], 16, 8)
			if err != nil {
				return nil, fmt.Errorf("line %d: \\%s is no code: write \\xNN with two hexadecimal digits", row+1, rest[:3])
			}
			code, rest = int(v), rest[3:]
		case c == '\\' || c < ' ' || c > '~':
			return nil, fmt.Errorf("line %d, column %d: write what is no ASCII character as \\xNN, and a backslash as \\\\", row+1, column+1)
		}
		if err := next(code); err != nil {
			return nil, err
		}
	}
	if column > 0 {
		for column < p.Columns() {
			if err := next(' '); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}
