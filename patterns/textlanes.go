package patterns

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/analyse/text"
)

// A page is a Text display's screen as its hypotheses need it: what stands in every cell, by
// the picture it makes, since codes with one picture can't be told apart.
type page struct {
	code    []int // by cell: the first code with the cell's glyph; -1 when it is not sure
	shape   []int // by cell: the cells that look alike; below 256 the code, above for what is no glyph; -1 unsure
	ink     []int // by cell: palette index; -1 where none shows or it is not sure
	bits    [][8]uint8
	blank   []bool
	paper   int
	glyphs  [][8]uint8
	first   [256]int // the first code, of ASCII if there is one, with each code's glyph
	fits    bool     // the cells show this font's glyphs
	unsure  int      // cells that were left out
	written int      // cells with something in them
}

// A glyph is taken as read with so few pixels wrong, when the next one has so many more.
// Common practice, no source.
const (
	wrongPixels  = 5
	apartPixels  = 2
	faintInk     = 0.08 // of white: ink that differs less from its paper is not read
	fontFits     = 0.5  // part of the cells with something in them that a font must explain
	sureColour   = 2    // nats
	fewMoreCells = 8    // with fewer cells written on, whether the font fits is not known: it is taken to
)

func pageOf(s *analyse.Survey, e *evidence) *page {
	n := len(s.Cells)
	p := &page{code: make([]int, n), shape: make([]int, n), ink: make([]int, n), blank: make([]bool, n), bits: make([][8]uint8, n), paper: text.Background(s.Cells, e.p)}
	turned := false
	if t := s.Text; t != nil && len(t.Glyphs) == 256 {
		p.glyphs = t.Glyphs
		inverse := 0
		for _, v := range t.Inverse {
			if v {
				inverse++
			}
		}
		turned = inverse*2 > len(t.Inverse)
	}
	p.index()
	fit := 0
	var others [][8]uint8 // cells that are no glyph, one of each sort
	for i := range s.Cells {
		c := &s.Cells[i]
		p.code[i], p.shape[i], p.ink[i] = -1, -1, -1
		pixels, ink := c.Bits, c.Ink
		p.bits[i] = c.Bits
		if c.Single {
			ink = -1
			if p.blank[i] = c.Paper == p.paper; !p.blank[i] {
				ink = c.Paper
				for y := range pixels {
					pixels[y] = 0xff
				}
			}
		}
		if ink >= 0 && c.Sure >= sureColour {
			p.ink[i] = ink
		}
		if turned {
			for y := range pixels {
				pixels[y] = ^pixels[y]
			}
		}
		if ink >= 0 && p.paper >= 0 && math.Abs(e.p.Colours[ink].Y-e.p.Colours[p.paper].Y) < faintInk {
			p.unsure++
			continue
		}
		if !p.blank[i] {
			p.written++
		}
		if code, ok := p.match(pixels); ok {
			p.code[i], p.shape[i] = code, code
			if !p.blank[i] {
				fit++
			}
			continue
		}
		p.shape[i] = 256 + sortOf(&others, pixels)
	}
	p.fits = p.glyphs != nil && (p.written < fewMoreCells || float64(fit) >= fontFits*float64(p.written))
	if !p.fits {
		for i := range p.code {
			p.code[i] = -1
			if p.blank[i] {
				p.shape[i] = ' '
			}
		}
	}
	return p
}

// index finds the codes that share a glyph.
func (p *page) index() {
	seen := map[[8]uint8]int{}
	for code := range p.first {
		p.first[code] = code
	}
	for _, code := range codeOrder() {
		if p.glyphs == nil {
			return
		}
		g := p.glyphs[code]
		if k, ok := seen[g]; ok {
			p.first[code] = k
		} else {
			seen[g] = code
		}
	}
}

// codeOrder is all codes, those of ASCII first.
func codeOrder() []int {
	var out []int
	for code := 0x20; code <= 0x7e; code++ {
		out = append(out, code)
	}
	for code := range 256 {
		if code < 0x20 || code > 0x7e {
			out = append(out, code)
		}
	}
	return out
}

// match is the glyph that the pixels show, if one stands out.
func (p *page) match(pixels [8]uint8) (int, bool) {
	if p.glyphs == nil {
		return -1, false
	}
	best, least, next := -1, 99, 99
	for code, g := range p.glyphs {
		if p.first[code] != code {
			continue
		}
		switch d := apartBy(pixels, g); {
		case d < least:
			best, least, next = code, d, least
		case d < next:
			next = d
		}
	}
	return best, least <= wrongPixels && (least == 0 || next-least >= apartPixels)
}

func apartBy(a, b [8]uint8) int {
	d := 0
	for y := range a {
		d += bits.OnesCount8(a[y] ^ b[y])
	}
	return d
}

// sortOf is the index of what looks like the pixels, as noise leaves it.
func sortOf(sorts *[][8]uint8, pixels [8]uint8) int {
	for k, s := range *sorts {
		if apartBy(s, pixels) <= apartPixels+1 {
			return k
		}
	}
	*sorts = append(*sorts, pixels)
	return len(*sorts) - 1
}

// force holds a bit of a code or nibble at a level.
func force(v, bit, level int) int { return v&^(1<<bit) | level<<bit }

// textHypotheses weighs what can be wrong with a Text display.
func textHypotheses(e *evidence, against *comparison) []hypothesis {
	p := pageOf(e.s, e)
	free := freeText(e, p)
	if against == nil || against.survey == nil {
		return free
	}
	want := pageOf(against.survey, e)
	// Another screen than the reference's, as on a display of bitmaps: classify.go has the same.
	written := p.drawnShapes() + p.drawnInks(e.p.Columns())
	for i := range free {
		free[i].like -= written
		if k := free[i].fault; k == nil || k.Kind != "power-up-pattern" && k.Kind != "blank-picture" {
			free[i].like += math.Log(otherScreen)
			free[i].other = true
		}
	}
	return merge(free, againstText(e, p, want, against))
}

// freeText weighs a screen that nothing is known of beforehand.
func freeText(e *evidence, p *page) []hypothesis {
	alive, dead := blankText(e, p)
	out := []hypothesis{{prior: math.Log(cleanPrior), like: alive}}
	add := func(kind string, f Fault, share, like float64, why ...string) {
		k := kindOf(kind)
		f.Class, f.Kind = k.Class, k.Name
		out = append(out, hypothesis{fault: &f, prior: math.Log(k.Prior * share), like: like, why: why})
	}
	codes, inks := newCodeOdds(p), newInkOdds(e, p)
	clean := codes.weigh(-1, 0, false)
	for bit := range 8 {
		for level := range 2 {
			odds := math.Max(-40, math.Min(60, codes.weigh(bit, level, false)-clean))
			add("data-bit-stuck", Fault{Bit: ptr(bit), Level: ptr(level), Memory: "screen"}, screenShare/16, alive+odds, codes.why(bit, level)...)
		}
		odds := logSum(codes.weigh(bit, 0, true), codes.weigh(bit, 1, true)) - math.Ln2 - clean
		moving, why := flickerOdds(e, bit)
		add("data-bit-weak", Fault{Bit: ptr(bit), Memory: "screen"}, screenShare/8, alive+math.Max(-40, math.Min(60, odds))+moving-1,
			append(why, codes.whyWeak(bit)...)...)
	}
	plain := inks.weigh(-1, 0)
	for bit := range 4 {
		for level := range 2 {
			odds := math.Max(-40, math.Min(60, inks.weigh(bit, level)-plain))
			add("data-bit-stuck", Fault{Bit: ptr(bit), Level: ptr(level), Memory: "colour"}, colourShare/8, alive+odds, inks.why(bit, level)...)
		}
	}
	add("blank-picture", Fault{}, 1, dead)
	for _, c := range e.s.Levels.Components {
		add("colour-path", Fault{Component: c.Name, Level: ptr(c.Level)}, 1.0/float64(len(e.s.Levels.Components)), alive+c.Gain, whyPath(c))
	}
	if odds, ok := p.wakeOdds(e); ok {
		add("power-up-pattern", Fault{}, 1, alive+odds)
	}
	return out
}

// screenShare is how many of the lanes that fail are the screen memory's, the rest the colour memory's: eight chips
// against one of another sort. Common practice, no source.
const (
	screenShare = 0.75
	colourShare = 1 - screenShare
)

func whyPath(c analyse.Component) string {
	state := "at nothing"
	if c.Level == 1 {
		state = "at its greatest"
	}
	return fmt.Sprintf("the colours of border and picture are the display's with %s %s, and not as they should be", c.Name, state)
}

// blankText weighs a picture area of one colour: on a machine that draws, and on a dead one.
func blankText(e *evidence, p *page) (alive, dead float64) {
	colour, ok := e.blank()
	if !ok {
		return 0, -1e4
	}
	border := e.s.Border.Colour
	even := 1 / float64(len(e.p.Colours))
	edge, own := 1.0, 1.0 // of the border on a dead machine; of border and paper on one that draws
	if border >= 0 {
		edge = even
		if own = (1 - borderIsPaper) * even * even; border == colour {
			own = borderIsPaper * even
		}
	}
	dead = math.Log(0.02 * edge)
	if colour == 0 || colour == border {
		dead = math.Log(0.48 * edge)
	}
	return math.Log(emptyScreen * own), dead
}

// flickerOdds is the log-likelihood ratio of a weak lane for the cells whose code changes over
// time: those of a weak lane change in its bit alone.
func flickerOdds(e *evidence, bit int) (odds float64, why []string) {
	t := e.s.Text
	if t == nil || t.Changes == nil {
		return 0, nil
	}
	k, n := 0, 0
	for _, c := range t.Changes {
		if c.Code < 0 || t.Codes[c.At] < 0 {
			continue
		}
		n++
		if t.Codes[c.At]^c.Code == 1<<bit {
			k++
		}
	}
	if k < 2 {
		return 0, nil
	}
	// Two codes that noise confuses differ in this bit alone once in forty.
	chance := float64(k)*math.Log(1.0/40) + float64(n-k)*math.Log(39.0/40)
	odds = betaSequence(k, n, 9, 1) - chance
	return math.Max(-10, math.Min(60, odds)), []string{fmt.Sprintf("%d of the %d characters that change over time change in bit %d of the code alone", k, n, bit)}
}

func (e *evidence) blankSeen() bool {
	_, ok := e.blank()
	return ok
}
