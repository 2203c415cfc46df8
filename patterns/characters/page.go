package characters

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/video/display"
)

// A page is a Text display's screen as its hypotheses need it: what stands in every cell, by
// the picture it makes, since codes with one picture can't be told apart.
type page struct {
	rows    []uint64 // by cell: the pixels, top line first, leftmost in the highest bit; 1 is ink
	faint   []bool   // by cell: ink too near to the background to be read
	blank   []bool
	ink     []int // palette index; -1 where none shows or it is not sure
	paper   int
	turned  bool // paper shows as ink
	columns int
	font    *glyphs // nil without one
	forms   *forms
	unsaid  []bool // by cell: whether its character is left out; nil: none's is
	shape   []int  // below 256 the first code with the cell's glyph, above a form that is no glyph; -1 unsure
	code    []int  // the same, -1 for forms, and everywhere if the font is not the screen's
	fits    bool   // the cells show this font's glyphs
	space   int    // what shows where nothing is written
	written int    // cells with something in them

	looks               []*[256]float64 // of its sorts of characters, as resembles has it; nil: not asked for
	codeCosts, inkCosts []float64       // what drawn and drawnInks have worked out
}

// glyphs are a font, by code.
type glyphs struct {
	rows     [256]uint64
	*order                // of its codes
	first    [256]int     // the first code, of ASCII if there is one, with each code's glyph
	drawings []drawing    // of ASCII's characters; nil: not asked for
	part     [256]float64 // how often what shows as each code's glyph is that code, and not another with the same
}

// forms are pictures of cells that are no glyphs, numbered from 256 on; a screen and its
// reference share them, so that what looks alike has one number.
type forms struct{ rows []uint64 }

// A glyph is taken as read with so few pixels wrong, when the next one has so many more.
// Common practice, no source.
const (
	wrongPixels  = 5
	apartPixels  = 2
	faintInk     = 0.08 // of white: ink that differs less from its paper is not read
	fontFits     = 0.5  // part of the cells with something in them that a font must explain
	sureColour   = 4    // nats
	fewMoreCells = 8    // with fewer cells written on, whether the font fits is not known: it is taken to
)

// fontOf gives the glyphs that a survey was read with; nil without any.
func fontOf(s *analyse.Survey) *glyphs {
	if s.Text == nil || len(s.Text.Glyphs) != 256 {
		return nil
	}
	g := &glyphs{}
	for code, rows := range s.Text.Glyphs {
		g.rows[code] = binary.BigEndian.Uint64(rows[:])
	}
	g.index()
	return g
}

// index finds the codes that share a glyph, and the order of all.
func (g *glyphs) index() {
	if g.order == nil {
		g.order = orderOf(&g.rows)
	}
	seen := map[uint64]int{}
	for _, code := range g.codeOrder() {
		if k, ok := seen[g.rows[code]]; ok {
			g.first[code] = k
		} else {
			seen[g.rows[code]] = code
			g.first[code] = code
		}
	}
	var sum [256]float64
	for code, k := range g.first {
		sum[k] += symbolGuess(g.means[code])
	}
	for code, k := range g.first {
		g.part[code] = symbolGuess(g.means[code]) / sum[k]
	}
}

// lanes tells which single bits may turn what shows as one code into what shows as another, and the fewest bits that do.
func (g *glyphs) lanes(was, now int) (alone, fewest int) {
	fewest = was ^ now
	for a, k := range g.first {
		if k != was {
			continue
		}
		for b, k := range g.first {
			if k != now {
				continue
			}
			if n := bits.OnesCount(uint(a ^ b)); n == 1 {
				alone |= a ^ b
			} else if n >= bits.OnesCount(uint(fewest)) {
				continue
			}
			fewest = a ^ b
		}
	}
	return alone, fewest
}

// codeOrder is all codes, those that stand for ASCII's first.
func (g *glyphs) codeOrder() []int {
	var out, others []int
	for code, means := range g.means {
		if means >= ' ' && means <= '~' {
			out = append(out, code)
		} else {
			others = append(others, code)
		}
	}
	return append(out, others...)
}

// space is what shows where nothing is written.
func (g *glyphs) space() int { return g.first[g.stands[' ']] }

// match is the glyph that the pixels show, if one stands out.
func (g *glyphs) match(pixels uint64) (int, bool) {
	best, least, next := -1, 99, 99
	for code, rows := range g.rows {
		if g.first[code] != code {
			continue
		}
		switch d := bits.OnesCount64(pixels ^ rows); {
		case d < least:
			best, least, next = code, d, least
		case d < next:
			next = d
		}
	}
	return best, least <= wrongPixels && (least == 0 || next-least >= apartPixels)
}

// number is the form that looks like the pixels, as noise leaves it.
func (f *forms) number(pixels uint64) int {
	for k, rows := range f.rows {
		if bits.OnesCount64(rows^pixels) <= apartPixels+1 {
			return 256 + k
		}
	}
	f.rows = append(f.rows, pixels)
	return 255 + len(f.rows)
}

// rowsOf gives the pixels of a shape.
func (p *page) rowsOf(shape int) uint64 {
	switch {
	case shape > 255:
		return p.forms.rows[shape-256]
	case p.font != nil:
		return p.font.rows[shape]
	}
	return 0
}

// number is the shape that pixels are read as.
func (p *page) number(pixels uint64) int {
	if p.font != nil {
		if code, ok := p.font.match(pixels); ok {
			return code
		}
	}
	if pixels == 0 {
		return ' '
	}
	return p.forms.number(pixels)
}

// pageOf reads a survey's cells as a page.
func pageOf(s *analyse.Survey, p *display.Profile, f *forms) *page {
	return pageFrom(s, p, f, s.Cells)
}

// pageBeside reads them beside a good machine's screen. Where all cells have the same two colours, which of them is the background
// is open, and the reference says it: no lane reaches the background.
func pageBeside(s, reference *analyse.Survey, p *display.Profile, f *forms) *page {
	out := pageOf(s, p, f)
	if reference == nil {
		return out
	}
	ground := text.Background(reference.Cells, p)
	if ground >= 0 && ground == out.paper && out.turned != mostlyTurned(reference) { // the same ground is the same in both
		return pageOn(s, p, f, s.Cells, ground, !out.turned)
	}
	if ground < 0 || ground == out.paper {
		return out
	}
	both, of := 0, 0
	for i := range s.Cells {
		if c := &s.Cells[i]; !c.Single {
			if of++; c.Paper == ground || c.Ink == ground {
				both++
			}
		}
	}
	if of == 0 || float64(both) < groundIn*float64(of) {
		return out
	}
	return pageOn(s, p, f, turnedOver(s.Cells, ground), ground, mostlyTurned(reference))
}

// mostlyTurned tells whether most of a screen's characters were read with ink and paper changed.
func mostlyTurned(s *analyse.Survey) bool {
	if s.Text == nil {
		return false
	}
	n := 0
	for _, v := range s.Text.Inverse {
		if v {
			n++
		}
	}
	return n*2 > len(s.Text.Inverse)
}

// groundIn is the part of the cells of two colours that must have a colour as one of theirs if it is to be the background: all but
// those misread. Common practice, no source.
const groundIn = 0.95

// turnedOver is the cells with this background.
func turnedOver(cells []analyse.Cell, ground int) []analyse.Cell {
	out := slices.Clone(cells)
	for i := range out {
		c := &out[i]
		if c.Single || c.Ink != ground {
			continue
		}
		c.Paper, c.Ink = c.Ink, c.Paper
		for y := range c.Bits {
			c.Bits[y] = ^c.Bits[y]
		}
	}
	return out
}

// pageFrom does so with cells in place of the survey's.
func pageFrom(s *analyse.Survey, p *display.Profile, f *forms, cells []analyse.Cell) *page {
	return pageOn(s, p, f, cells, text.Background(s.Cells, p), mostlyTurned(s))
}

// pageOn does so on a background that is known, as paper or (turned) as ink.
func pageOn(s *analyse.Survey, p *display.Profile, f *forms, cells []analyse.Cell, paper int, turned bool) *page {
	n := len(cells)
	out := &page{
		rows: make([]uint64, n), faint: make([]bool, n), blank: make([]bool, n), ink: make([]int, n),
		paper: paper, columns: p.Columns(), font: fontOf(s), forms: f, turned: turned,
	}
	for i := range cells {
		c := &cells[i]
		pixels, ink := binary.BigEndian.Uint64(c.Bits[:]), c.Ink
		if c.Single {
			pixels, ink = 0, -1
			if c.Paper != out.paper {
				pixels, ink = ^uint64(0), c.Paper
			}
		}
		if out.ink[i] = -1; ink >= 0 && c.Sure >= sureColour && !hardlyApart(c) {
			out.ink[i] = ink
		}
		if turned {
			pixels = ^pixels
		}
		out.rows[i], out.blank[i] = pixels, pixels == 0
		out.faint[i] = ink >= 0 && out.paper >= 0 && math.Abs(p.Colours[ink].Y-p.Colours[out.paper].Y) < faintInk
	}
	out.read()
	return out
}

// hardlyApart tells of a cell that is read as another than the good machine's while the two pictures don't say so.
func hardlyApart(c *analyse.Cell) bool { return c.Apart > 0 && c.Apart < patterns.PlainlyApart }

// read finds shape and code of every cell, and whether the font is the screen's.
func (p *page) read() {
	n := len(p.rows)
	p.shape, p.code, p.written, p.codeCosts = make([]int, n), make([]int, n), 0, nil
	fit, shown := 0, 0 // cells with a glyph of the font, of those whose glyph could be another font's
	known := map[uint64]int{}
	for i, pixels := range p.rows {
		p.code[i], p.shape[i] = -1, -1
		if p.faint[i] || p.unsaid != nil && p.unsaid[i] {
			continue
		}
		shape, ok := known[pixels]
		if !ok {
			shape = p.number(pixels)
			known[pixels] = shape
		}
		p.shape[i] = shape
		matched := shape < 256 && p.font != nil
		full := matched && barred(pixels) // other fonts have these too
		if !p.blank[i] {
			p.written++
			if !full {
				shown++
			}
		}
		if matched {
			p.code[i] = shape
			if !p.blank[i] && !full {
				fit++
			}
		}
	}
	p.fits = p.font != nil && (shown < fewMoreCells || float64(fit) >= fontFits*float64(shown))
	if p.space = ' '; p.fits {
		p.space = p.font.space()
	} else {
		for i := range p.code {
			p.code[i] = -1
			if p.blank[i] && p.shape[i] >= 0 {
				p.shape[i] = ' '
			}
		}
	}
}

// through is the page as a machine with other glyphs would show it: the font's, each changed by f.
func (p *page) through(f func(rows uint64) uint64) *page {
	out := *p
	if p.font != nil {
		g := &glyphs{order: p.font.order}
		for code, rows := range p.font.rows {
			g.rows[code] = f(rows)
		}
		g.index()
		out.font = g
	}
	out.read()
	return &out
}

// different is how many sorts of cell stand on the page.
func (p *page) different() int {
	seen := map[int]bool{}
	for _, s := range p.shape {
		if s >= 0 {
			seen[s] = true
		}
	}
	return len(seen)
}

// only is the code that stands in all cells that were read, of a page with no other; -1 where none was.
func (p *page) only() int {
	for _, s := range p.shape {
		if s >= 0 {
			return s
		}
	}
	return -1
}

// force holds a bit of a code or nibble at a level.
func force(v, bit, level int) int { return v&^(1<<bit) | level<<bit }
