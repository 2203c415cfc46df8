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

// shows gives the shape and ink that a cell would have; -1 when not known.
type shows func(i int) (shape, ink int)

func (t textCells) plain(i int) (int, int) { return t.want.shape[i], t.want.ink[i] }

// fold has cells show what stands at other places.
func (t textCells) fold(f fold) shows {
	return func(i int) (int, int) {
		shape, ink := t.plain(i)
		from := f.from(i)
		if from == i {
			return shape, ink
		}
		if from < 0 { // what stands outside of the screen is not known
			if f.screen {
				shape = -1
			}
			return shape, -1
		}
		switch {
		case f.screen && f.lanes == allLanes:
			shape = t.want.shape[from]
		case f.screen && t.want.code[i] >= 0 && t.want.code[from] >= 0:
			shape = t.want.font.first[t.want.code[i]&^f.lanes|t.want.code[from]&f.lanes]
		case f.screen:
			shape = -1
		}
		if f.colour {
			ink = t.want.ink[from]
		}
		return shape, ink
	}
}

// weigh is the log-likelihood of the screen where the reference's would show as f says. How often a
// cell is misread is not known beforehand, nor how many cells have the ink of their background.
func (t textCells) weigh(f shows, inks bool) float64 {
	var unseen []int
	glyphs, colours := tally{}, tally{}
	t.seen.drawn(nil)
	t.seen.drawnInks(nil)
	unknown := 0.0
	for i, seen := range t.seen.shape {
		shape, ink := f(i)
		if seen < 0 || t.want.shape[i] < 0 {
			continue
		}
		if shape < 0 { // the hypothesis says nothing of it: anything may stand there
			unknown += t.seen.codeCosts[i] - 1
			continue
		}
		blank := t.want.rowsOf(shape) == 0
		if t.want.blank[i] && !blank && (seen == shape || t.seen.blank[i]) {
			// Nothing shows in the reference: a space, or an ink of the background's colour.
			if seen != shape {
				unseen = append(unseen, i)
			}
			continue
		}
		glyphs.add(shape, seen)
		switch {
		case !inks || t.seen.ink[i] < 0 || t.want.ink[i] < 0:
		case ink >= 0:
			colours.add(ink, t.seen.ink[i])
		default: // any colour may stand there
			unknown += math.Min(-1, t.seen.inkCosts[i])
		}
	}
	return unknown + glyphs.weigh(glyphsMistaken, anyGlyph, t.glyphsApart) + unseenInk(unseen, t.seen) + colours.weigh(inksMistaken, t.anotherInk, t.inksApart)
}

// unsaid is what it takes to write down the cells of which the reference says nothing, so that
// every hypothesis accounts for the same screen.
func (t textCells) unsaid() float64 {
	return t.seen.drawn(func(i int) bool { return t.want.shape[i] < 0 }) + t.seen.drawnInks(func(i int) bool { return t.want.ink[i] < 0 })
}

// against weighs every fault by how well it turns the expected screen into the seen one.
func (t *screenText) against(c *comparison) []hypothesis {
	e, seen := t.e, t.page
	want := pageOf(c.survey, e.p, seen.forms)
	b := textCells{e: e, seen: seen, want: want}
	edge, ground := 0.0, 0.0
	latched := c.border >= 0 && e.s.Border.Colour >= 0 && c.border != e.s.Border.Colour
	if latched {
		edge = -math.Min(otherColour, 2+e.s.Border.Sure)
	}
	if seen.paper != want.paper {
		ground = -otherColour // no lane reaches the background
	}
	rest := b.unsaid()
	edge += ground + rest
	ground += rest
	still := t.time.clean()
	plain := b.weigh(b.plain, true)
	out := []hypothesis{{prior: math.Log(cleanPrior), like: plain + edge + still}}
	add := func(f Fault, share, like float64, why ...string) {
		out = append(out, answer(f, share, like+edge, why...))
	}
	fonts := want.fits && seen.fits
	t.lanesAgainst(b, fonts, plain, still, add)
	if !fonts {
		t.fontless(b, still, add)
	}
	for _, f := range foldsOf(e.p) {
		if f.lanes != allLanes && !fonts {
			continue
		}
		static := b.weigh(b.fold(f), true)
		if b.moved(f) < fewMoved { // what fits better by its blanks alone is misread
			static = math.Min(static, plain)
		}
		add(f.fault, f.share, math.Max(static+still, math.Max(static, plain)+t.foldedInTime(f)), f.explain(e, b.moved(f)))
	}
	for _, u := range turns() {
		var like float64
		if fonts || want.fits {
			p := seen.through(u.rows)
			k := textCells{e: e, seen: p, want: want}
			like = k.weigh(func(i int) (int, int) {
				shape, ink := k.plain(i)
				if shape >= 0 && shape < 256 {
					shape = p.font.first[shape]
				}
				return shape, ink
			}, true)
		} else {
			like = b.weigh(func(i int) (int, int) {
				shape, ink := b.plain(i)
				if shape >= 0 {
					shape = seen.number(u.rows(want.rowsOf(shape)))
				}
				return shape, ink
			}, true)
		}
		add(u.fault, u.share, like+still-scant(want.different()), u.why) // of one character it may be the character
	}
	for _, f := range b.singleCodes() {
		add(f.fault, f.share, f.like+plain+still, f.why)
	}
	for _, h := range t.moving(plain, nil) {
		h.like += edge
		out = append(out, h)
	}
	t.scattered(b, fonts, still, add)
	if latched {
		out = append(out, answer(Fault{Kind: "border-latch", Expected: ptr(c.border), Seen: ptr(e.s.Border.Colour)}, 1, plain+ground+still,
			fmt.Sprintf("the border is %s, the reference has %s", e.p.Colours[e.s.Border.Colour].Name, e.p.Colours[c.border].Name)))
	}
	for _, k := range e.s.Levels.Components {
		like := b.weigh(b.plain, false) + seen.drawnInks(nil) + rest
		gain, changes := k.Gain, false
		for _, pair := range [2][2]int{{want.paper, seen.paper}, {c.border, e.s.Border.Colour}} {
			fits, other := becomes(e.p, k, pair[0], pair[1])
			if changes = changes || other; !fits {
				like -= otherColour
			}
		}
		if changes { // the reference says which colours were meant, so that the palette's fit need not
			gain = math.Max(gain, 0)
		}
		out = append(out, answer(Fault{Kind: "colour-path", Component: k.Name, Level: ptr(k.Level)}, 1/float64(len(e.s.Levels.Components)), like+gain+still, whyPath(k)))
	}
	return out
}

// fewMoved is how many cells must show what a fold puts there.
const fewMoved = 3

// moved counts the cells that a fold changes and that show the change.
func (t textCells) moved(f fold) int {
	n, shows := 0, t.fold(f)
	for i, seen := range t.seen.shape {
		shape, ink := shows(i)
		was, wasInk := t.plain(i)
		if shape >= 0 && seen == shape && shape != was || !f.screen && ink >= 0 && ink != wasInk && ink == t.seen.ink[i] {
			n++
		}
	}
	return n
}

// A singleCode is one code that is wrong wherever it stands, by how much likelier the screen is so.
type singleCode struct {
	fault Fault
	share float64
	like  float64
	why   string
}

// singleCodes finds the codes whose glyph is another one throughout.
func (t textCells) singleCodes() []singleCode {
	became, stands := tally{}, map[int]int{}
	for i, seen := range t.seen.shape {
		if w := t.want.shape[i]; w >= 0 && seen >= 0 {
			became.add(w, seen)
			stands[w]++
		}
	}
	var out []singleCode
	for _, want := range slices.Sorted(maps.Keys(became)) {
		for _, seen := range slices.Sorted(maps.Keys(became[want])) {
			n := became[want][seen]
			if seen == want || n < leastFlips || n*10 < stands[want]*9 {
				continue
			}
			f := Fault{Kind: "character-generator"}
			if want < 256 && t.want.fits {
				f.Codes = []int{want}
			}
			// What it costs as two glyphs that are alike, it need not as one that is wrong.
			gain := t.glyphsApart(want, seen) - math.Log(mistakenAlike)
			out = append(out, singleCode{f, 0.25 / 64, gain, fmt.Sprintf("one character is another one in all %d cells where it stands", stands[want])})
		}
	}
	if len(out) > 3 { // more than a code or two: not single ones
		return nil
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
	// The cells may have been read with the colours that are left.
	d := math.Min(apartYUV(held(from), p.Colours[to].YUV), apartYUV(held(from), held(to)))
	return d < colourApart, from != to
}

// textChroma is the amplitude of a colour signal at its greatest, of white: that of the profiles' colours.
const textChroma = 0.20
