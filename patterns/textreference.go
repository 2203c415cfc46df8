package patterns

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// Of how many a cell's glyph and ink are one where no hypothesis explains them: more than there are glyphs, for
// what is misread is none of them.
const (
	glyphsMistaken = 1024
	inksMistaken   = 16
	otherColour    = 25.0 // nats for a border or background of a colour that it should not have
)

// textCells are the cells of a screen beside those of a good machine.
type textCells struct {
	e          *evidence
	seen, want *page
}

// shows gives the shape and ink that a cell would have with a bit of its code or of its colour held at
// a level; -1 when not known, blank when nothing would show.
type shows func(i int) (shape, ink int, blank bool)

func (t textCells) plain(i int) (int, int, bool) {
	return t.want.shape[i], t.want.ink[i], t.want.blank[i]
}

func (t textCells) code(bit, level int) shows {
	return func(i int) (int, int, bool) {
		shape, ink, blank := t.plain(i)
		if c := t.want.code[i]; c >= 0 {
			shape = t.want.first[force(c, bit, level)]
			blank = t.want.glyphs[shape] == [8]uint8{}
		}
		return shape, ink, blank
	}
}

func (t textCells) colour(bit, level int) shows {
	return func(i int) (int, int, bool) {
		shape, ink, blank := t.plain(i)
		if ink >= 0 {
			if ink = force(ink, bit, level); ink == t.want.paper {
				return shape, -1, true
			}
		}
		return shape, ink, blank
	}
}

// same tells whether a cell shows a shape: a glyph by its code, anything else by its pixels.
func (t textCells) same(i, shape int, blank bool) bool {
	if blank || t.seen.blank[i] {
		return blank && t.seen.blank[i]
	}
	if shape < 256 && t.seen.shape[i] < 256 {
		return shape == t.seen.shape[i]
	}
	return shape == t.want.shape[i] && apartBy(t.seen.bits[i], t.want.bits[i]) <= wrongPixels
}

// weigh is the log-likelihood of the screen where the reference's would show as f says. How often a
// cell is misread is not known beforehand, nor how many cells have the ink of their background.
func (t textCells) weigh(f shows, inks bool) float64 {
	var hidden, unseen int
	glyphs, colours := tally{}, tally{}
	for i := range t.seen.shape {
		shape, ink, blank := f(i)
		if t.seen.shape[i] < 0 || shape < 0 || t.want.shape[i] < 0 {
			continue
		}
		same := t.same(i, shape, blank)
		if t.want.blank[i] && !blank && (same || t.seen.blank[i]) {
			// Nothing shows in the reference: a space, or an ink of the background's colour.
			if hidden++; !same {
				unseen++
			}
			continue
		}
		t.count(glyphs, i, shape, blank, same)
		if inks && ink >= 0 && t.seen.ink[i] >= 0 {
			colours.add(ink, t.seen.ink[i])
		}
	}
	return glyphs.weigh(glyphsMistaken) + betaSequence(unseen, hidden, 0.3, 30) + colours.weigh(inksMistaken)
}

// count adds a cell to a tally of glyphs; what is blank on one side only can't be mistaken glyph by glyph.
func (t textCells) count(glyphs tally, i, shape int, blank, same bool) {
	switch {
	case same:
		glyphs.add(shape, shape)
	case blank || t.seen.blank[i]:
		glyphs.add(shape, unmistakable)
	default:
		glyphs.add(shape, sort0+t.seen.shape[i])
	}
}

// unsaid is what it takes to write down the cells of which the reference says nothing, so that
// every hypothesis accounts for the same screen.
func (t textCells) unsaid() float64 {
	rest := *t.seen
	rest.shape, rest.ink = slices.Clone(t.seen.shape), slices.Clone(t.seen.ink)
	for i := range rest.shape {
		if t.want.shape[i] >= 0 {
			rest.shape[i] = -1
		}
		if t.want.ink[i] >= 0 {
			rest.ink[i] = -1
		}
	}
	return rest.drawnShapes() + rest.drawnInks(t.e.p.Columns())
}

// A tally counts what shows in place of what, in cells.
type tally map[int]map[int]int

// Marks in a tally beside shapes: shapes that were seen and are not the expected ones are kept apart from
// those by sort0, for without a font both pages number theirs by themselves.
const (
	unmistakable = -2
	sort0        = 1 << 20
)

func (t tally) add(want, seen int) {
	if t[want] == nil {
		t[want] = map[int]int{}
	}
	t[want][seen]++
}

// weigh is the log-likelihood of a tally with so many symbols. Cells are misread one by one at a rate that is not
// known beforehand; or, here and there, one glyph or colour is taken for one other wherever it stands: two that are alike
// on this capture's path.
func (t tally) weigh(symbols float64) float64 {
	each := math.Log(symbols)
	cells, wrong, like := 0, 0, 0.0
	for _, want := range slices.Sorted(maps.Keys(t)) { // in order: sums of floats depend on it
		all, odd, most := 0, 0, 0
		for seen, n := range t[want] {
			all += n
			if seen == want {
				continue
			}
			if odd += n; seen != unmistakable {
				most = max(most, n)
			}
		}
		cells += all
		alike := betaSequence(most, all, 1, 1) - each + math.Log(mistakenAlike)
		if most >= 2 && alike > -float64(most)*(each+misreadCell) {
			like += alike
			odd -= most
		}
		wrong += odd
	}
	return like + betaSequence(wrong, cells, 0.5, 50) - float64(wrong)*each
}

const (
	mistakenAlike = 0.02 // of the glyphs or colours of a screen are taken for one other
	misreadCell   = 4.0  // nats: a cell misread by itself
	leastFlips    = 3    // cells that a weak lane must explain: fewer are misread as well
	leastSteady   = 10   // cells of a lane from which on it is known to be always so
)

// weak is the log-likelihood of a lane that shows its forced value in some cells, and how many
// of those that could show it do.
func (t textCells) weak(f shows) (like float64, flipped, of int) {
	glyphs, colours := tally{}, tally{}
	for i := range t.seen.shape {
		shape, ink, blank := f(i)
		was, wasInk, wasBlank := t.plain(i)
		if t.seen.shape[i] < 0 || shape < 0 || was < 0 {
			continue
		}
		could := shape != was || ink != wasInk || blank != wasBlank
		fits := func(shape, ink int, blank bool) bool {
			return t.same(i, shape, blank) && (ink < 0 || t.seen.ink[i] < 0 || ink == t.seen.ink[i])
		}
		if could && fits(shape, ink, blank) {
			flipped++
			of++
			continue
		}
		if could && fits(was, wasInk, wasBlank) {
			of++
		}
		t.count(glyphs, i, was, wasBlank, t.same(i, was, wasBlank))
		if wasInk >= 0 && t.seen.ink[i] >= 0 {
			colours.add(wasInk, t.seen.ink[i])
		}
	}
	like = glyphs.weigh(glyphsMistaken) + colours.weigh(inksMistaken) + betaSequence(flipped, of, 0.5, 3)
	return like, flipped, of
}

// againstText weighs every fault by how well it turns the expected screen into the seen one.
func againstText(e *evidence, seen, want *page, against *comparison) []hypothesis {
	t := textCells{e: e, seen: seen, want: want}
	edge, ground := 0.0, 0.0
	latched := against.border >= 0 && e.s.Border.Colour >= 0 && against.border != e.s.Border.Colour
	if latched {
		edge = -math.Min(otherColour, 2+e.s.Border.Sure)
	}
	if seen.paper != want.paper {
		ground = -otherColour // no lane reaches the background
	}
	edge += ground
	edge, ground = edge-t.unsaid(), ground-t.unsaid()
	plain := t.weigh(t.plain, true)
	out := []hypothesis{{prior: math.Log(cleanPrior), like: plain + edge}}
	add := func(kind string, f Fault, share, like float64, why ...string) {
		k := kindOf(kind)
		f.Class, f.Kind = k.Class, k.Name
		out = append(out, hypothesis{fault: &f, prior: math.Log(k.Prior * share), like: like, why: why})
	}
	lanes := func(memory string, bit int, share float64, held func(bit, level int) shows) {
		var weak []float64
		most, cells := 0, 0
		for level := range 2 {
			f := held(bit, level)
			like, flipped, of := t.weak(f)
			stuck := t.weigh(f, true)
			if of >= leastSteady { // the cells that the lane changes, in which it does so but for those misread
				always := betaSequence(of-flipped, of, 0.5, 50) - float64(of-flipped)*math.Log(glyphsMistaken)
				stuck = math.Max(stuck, like-betaSequence(flipped, of, 0.5, 3)+always)
			}
			if flipped < leastFlips {
				like = math.Min(like, plain)
			}
			weak = append(weak, like)
			if flipped > most {
				most, cells = flipped, of
			}
			add("data-bit-stuck", Fault{Bit: ptr(bit), Level: ptr(level), Memory: memory}, share/2, stuck+edge,
				fmt.Sprintf("%d of the %d cells that bit %d of the %s held at %d would change show just that", flipped, of, bit, memory, level))
		}
		moving, why := 0.0, []string(nil)
		if memory == "screen" {
			moving, why = flickerOdds(e, bit)
		}
		if most > 0 {
			why = append(why, fmt.Sprintf("bit %d of the %s differs from the reference in %d of %d cells, and no other bit does there", bit, memory, most, cells))
		}
		add("data-bit-weak", Fault{Bit: ptr(bit), Memory: memory}, share, logSum(weak...)-math.Ln2+edge+moving, why...)
	}
	if want.fits && seen.fits {
		for bit := range 8 {
			lanes("screen", bit, screenShare/8, t.code)
		}
	}
	for bit := range 4 {
		lanes("colour", bit, colourShare/4, t.colour)
	}
	if latched {
		add("border-latch", Fault{Expected: ptr(against.border), Seen: ptr(e.s.Border.Colour)}, 1, plain+ground,
			fmt.Sprintf("the border is %s, the reference has %s", e.p.Colours[e.s.Border.Colour].Name, e.p.Colours[against.border].Name))
	}
	for _, c := range e.s.Levels.Components {
		like := t.weigh(t.plain, false) - seen.drawnInks(e.p.Columns()) - t.unsaid()
		gain, changes := c.Gain, false
		for _, pair := range [2][2]int{{want.paper, seen.paper}, {against.border, e.s.Border.Colour}} {
			fits, other := becomes(e.p, c, pair[0], pair[1])
			if changes = changes || other; !fits {
				like -= otherColour
			}
		}
		if changes { // the reference says which colours were meant, so that the palette's fit need not
			gain = math.Max(gain, 0)
		}
		add("colour-path", Fault{Component: c.Name, Level: ptr(c.Level)}, 1/float64(len(e.s.Levels.Components)), like+gain, whyPath(c))
	}
	return out
}

// colourApart is how far, in parts of white, a colour may lie from what it should be.
const colourApart = 0.12

// becomes tells whether one palette colour, a component of it held, shows as another, and whether that
// is another colour. Colours that are not known fit.
func becomes(p *display.Profile, c analyse.Component, from, to int) (fits, other bool) {
	if from < 0 || to < 0 {
		return true, false
	}
	held := func(i int) video.YUV {
		v := p.Colours[i].YUV
		level := float64(c.Level)
		switch c.Name {
		case "luma":
			v.Y = level
		case "cb":
			v.U = textChroma * level
		case "cr":
			v.V = textChroma * level
		}
		return v
	}
	apart := func(a, b video.YUV) float64 {
		return math.Hypot(a.Y-b.Y, math.Hypot(a.U-b.U, a.V-b.V))
	}
	// The cells may have been read with the colours that are left.
	d := math.Min(apart(held(from), p.Colours[to].YUV), apart(held(from), held(to)))
	return d < colourApart, from != to
}

// textChroma is the amplitude of a colour signal at its greatest, of white: that of the profiles' colours.
const textChroma = 0.20
