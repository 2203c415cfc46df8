package judge

import (
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// An image is an expected screen as the bytes of the display memory behind it. Known has the bits that a picture of it
// shows: a cell of one colour hides its ink, and what lies beyond the display's part of the memory is never seen.
type image struct {
	p      *display.Profile
	bytes  []uint8
	known  []uint8
	blank  []bool          // bytes of cells of one colour, whose pixels may be either way
	lines  [][8]int        // addresses of each cell's lines
	colour []int           // and of its colour byte
	places map[content]int // the first cell that shows it, once asked for
}

func newImage(p *display.Profile, cells []analyse.Cell) *image {
	size := 1 << (p.RowBits + p.ColumnBits)
	m := &image{p: p, bytes: make([]uint8, size), known: make([]uint8, size), blank: make([]bool, size), lines: make([][8]int, len(cells)), colour: make([]int, len(cells))}
	for i := range cells {
		c := &cells[i]
		for y := range 8 {
			a := p.BitmapAddress(c.Row*8+y, c.Column)
			m.lines[i][y] = a
			m.bytes[a], m.known[a], m.blank[a] = c.Bits[y], 0xff, c.Single
		}
		a := p.CellAddress(c.Row, c.Column)
		m.colour[i] = a
		ink, known := c.Ink, uint8(0xff)
		if c.Single {
			ink, known = c.Paper, 0xf8
		}
		m.bytes[a], m.known[a] = display.JoinColour(display.AttrColour{Ink: ink, Paper: c.Paper, Flash: c.Flash}), known
	}
	return m
}

// first is the first cell that shows something on a machine that fetches what it should.
func (m *image) first(shows content) (cell int, ok bool) {
	if m.places == nil {
		m.places = map[content]int{}
		for i := len(m.lines) - 1; i >= 0; i-- {
			lines, colour := m.straight(i)
			m.places[content{lines, colour}] = i
		}
	}
	cell, ok = m.places[shows]
	return cell, ok
}

// A glimpse is a byte with the bits of it that are known.
type glimpse struct{ value, known uint8 }

func (m *image) read(a int) glimpse {
	if a < 0 || a >= len(m.bytes) {
		return glimpse{}
	}
	return glimpse{m.bytes[a], m.known[a]}
}

// readColour is read for a colour byte: those of the bitmap are known as far as their pixels show.
func (m *image) readColour(a int) glimpse {
	if a >= 0 && a < len(m.blank) && m.blank[a] {
		return glimpse{}
	}
	return m.read(a)
}

// mixed takes some lanes of one byte from another.
func (g glimpse) mixed(other glimpse, lanes uint8) glimpse {
	return glimpse{g.value&^lanes | other.value&lanes, g.known&^lanes | other.known&lanes}
}

// tile is a cell made of eight lines and a colour byte; hidden counts the pixels whose side nobody knows.
func (m *image) tile(lines *[8]glimpse, colour glimpse) (t tile, hidden int) {
	for y, g := range lines {
		t.rows[y] = g.value
		t.hidden[y] = ^g.known
		hidden += 8 - bits.OnesCount8(g.known)
	}
	c := display.SplitColour(colour.value)
	t.ink, t.paper = c.Ink, c.Paper
	open := ^colour.known
	t.openInk, t.openPaper = int(open&0x07), int(open>>3&0x07)
	if open&0x40 != 0 {
		t.openInk, t.openPaper = t.openInk|8, t.openPaper|8
	}
	if t.openInk&7 == 7 {
		t.ink, t.openInk = -1, 0
	}
	if t.openPaper&7 == 7 {
		t.paper, t.openPaper = -1, 0
	}
	return t, hidden
}
