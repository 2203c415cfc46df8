package characters

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/analyse/cells"
	"backporch/patterns"
	"backporch/patterns/nats"
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
	e          *Screen
	seen, want *page
}

// blanksInk is an ink that stands where nothing shows: which is not known, but where a screen is cleared it is the same all over.
const blanksInk = -2

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
			if ink = t.want.ink[from]; ink < 0 && t.want.blank[from] {
				ink = blanksInk
			}
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
	var cleared words
	for i, seen := range t.seen.shape {
		shape, ink := f(i)
		if seen < 0 || t.want.shape[i] < 0 {
			continue
		}
		if shape < 0 { // the hypothesis says nothing of it: anything may stand there
			if unknown += t.seen.codeCosts[i]; !t.seen.blank[i] || !t.want.blank[i] {
				unknown--
			}
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
		case ink == blanksInk:
			unknown -= cleared.cost(t.seen.ink[i], 1.0/inksMistaken)
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
func (t *screenText) against() []patterns.Hypothesis {
	e, seen := t.e, t.page
	want := pageOf(e.Reference, e.Profile, seen.forms)
	want.doubtInks(seen)
	if !want.fits || !seen.fits {
		seen.settle(want, 0)
	}
	seen.doubt(e.Survey.Cells, want)
	b := textCells{e: e, seen: seen, want: want}
	edge, ground := 0.0, 0.0
	latched := e.ReferenceBorder >= 0 && e.Survey.Border.Colour >= 0 && e.ReferenceBorder != e.Survey.Border.Colour
	if latched {
		edge = -math.Min(otherColour, 2+e.Survey.Border.Sure)
	}
	if seen.paper != want.paper {
		ground = -otherColour // no lane reaches the background
	}
	rest := b.unsaid()
	edge += ground + rest
	ground += rest
	still := t.time.clean()
	plain := b.weigh(b.plain, true)
	good := plain
	if like, ok := b.cursor(); ok {
		good = math.Max(plain, like)
	}
	out := []patterns.Hypothesis{{Prior: math.Log(patterns.CleanPrior), Like: good + edge + still}}
	add := func(f patterns.Fault, share, like float64, why ...string) {
		out = append(out, answer(f, share, like+edge, why...))
	}
	fonts, odd := want.fits && seen.fits, b.oddInks()
	t.lanesAgainst(b, fonts, plain, still, add)
	if !want.fits && !seen.fits { // a lane makes of no glyphs of the font any, nor of glyphs none
		t.fontless(b, plain, still, add)
		t.foldedLanes(b, still, add)
	}
	t.fontlessLines(b, still, add) // also where the font has the letters alone
	for _, f := range append(foldsOf(e.Profile), lateFolds(e.Profile)...) {
		if f.lanes != allLanes && !fonts {
			continue
		}
		static := b.weigh(b.fold(f), true)
		n, others := b.moved(f)
		if n < fewMoved || n <= others || !f.screen && b.fewInks(n, odd) { // what fits better by its blanks alone is misread
			static = math.Min(static, plain)
		}
		add(f.fault, f.share, math.Max(static+still, math.Max(static, plain)+t.foldedInTime(f)), f.explain(e, n))
	}
	float := func(columns string, share float64) {
		if like, n := b.constant(nats.ColumnsNamed(columns)); n >= leastFloating {
			add(patterns.Fault{Kind: "cell-fetch", Columns: columns}, share, like+still,
				fmt.Sprintf("%d of the cells in the columns %s show one character in place of what the reference has there", n, columns))
		}
	}
	float("odd", 0.125)
	float("even", 0.125)
	for n := 1; n < seen.columns-4; n++ { // of the last ones a path may make what stands beside them
		float(fmt.Sprintf("after %d", n), 0.125/float64(seen.columns))
	}
	if want.fits || !seen.fits { // else the characters are the font's, and it is the reference that was misread
		for _, u := range turns() {
			like := b.turned(u, plain) + still - nats.Scant(want.different()) // of one character it may be the character
			add(u.fault, u.share, like, u.why)
			if f, share, ok := u.lineOfGlyphs(); ok {
				add(f, share, like, u.why)
			}
		}
	}
	t.neverLoadedAgainst(b, plain, still, add)
	if f, like, why, ok := b.wrongCodes(plain); ok {
		add(f, 0.25, like+still, why)
	}
	for _, h := range t.moving(plain, nil) {
		h.Like += edge
		out = append(out, h)
	}
	t.linesInTime(func(h hold) float64 {
		if !fonts && h.fault.Memory == "screen" {
			return plain
		}
		return math.Max(plain, b.weigh(b.hold(h), true))
	}, add)
	t.placesInTime(plain, add)
	t.turnsInTime(plain, add)
	t.scattered(b, fonts, still, add)
	if latched {
		out = append(out, answer(patterns.Fault{Kind: "border-latch", Expected: new(e.ReferenceBorder), Seen: new(e.Survey.Border.Colour)}, 1, good+ground+still,
			fmt.Sprintf("the border is %s, the reference has %s", e.Profile.Colours[e.Survey.Border.Colour].Name, e.Profile.Colours[e.ReferenceBorder].Name)))
	}
	for _, k := range e.Survey.Levels.Components {
		like := b.weigh(b.plain, false) + rest
		if inks, choice, most := b.heldInks(k); most {
			like += inks + choice
		} else if h := cells.Held(e.Survey.Levels.Components); h != nil && h.Beside && *h == k { // read with the colours that are left, inks are as the reference's
			like = plain + rest
		} else { // the colours were read with those that are left, so that any ink may show; and what fits better is misread
			like = math.Min(like+seen.drawnInks(nil), plain+rest)
		}
		gain, changes := k.Gain, false
		for _, pair := range [2][2]int{{want.paper, seen.paper}, {e.ReferenceBorder, e.Survey.Border.Colour}} {
			fits, other := becomes(e.Profile, k, pair[0], pair[1])
			if changes = changes || other; !fits {
				like -= otherColour
			}
		}
		if changes && !k.Beside { // the reference says which colours were meant, so that the palette's fit need not
			gain = math.Max(gain, 0)
		}
		out = append(out, answer(patterns.Fault{Kind: "colour-path", Component: k.Name, Level: new(k.Level)}, 1/float64(len(e.Survey.Levels.Components)), like+gain+still, whyPath(k)))
	}
	return out
}

// fewMoved is how many cells must show what a fold puts there; of such as show nothing now that many more, for what is hardly read shows nothing
// either. Common practice, no source.
const (
	fewMoved = 3
	fewLost  = 4 * fewMoved
)

// moved counts the cells that a fold changes and that show the change, and those that show something else; of cells that show nothing now it
// takes more than a few.
func (t textCells) moved(f fold) (n, others int) {
	lost, shows := 0, t.fold(f)
	cleared, most := map[int]int{}, -1 // what shows with the ink of blanks
	for i, ink := range t.seen.ink {
		if _, is := shows(i); is == blanksInk && ink >= 0 && !f.screen {
			if cleared[ink]++; most < 0 || cleared[ink] > cleared[most] {
				most = ink
			}
		}
	}
	for i, seen := range t.seen.shape {
		shape, ink := shows(i)
		was, wasInk := t.plain(i)
		if ink == blanksInk {
			ink = most
		}
		switch {
		case shape >= 0 && seen == shape && shape != was, !f.screen && ink >= 0 && wasInk >= 0 && ink != wasInk && ink == t.seen.ink[i]:
			if n++; t.seen.blank[i] {
				lost++
			}
		case f.screen && shape >= 0 && seen >= 0 && was >= 0 && seen != shape && shape != was, !f.screen && ink >= 0 && wasInk >= 0 && ink != wasInk && t.seen.ink[i] >= 0:
			others++
		}
	}
	if lost < fewLost && f.screen {
		n -= lost
	}
	return n, others
}

// heldInks is the log-likelihood of the inks with a component of the colours held: each of the reference's shows as one colour, any of
// those that it can't be told from then, and the rest is misread. choice is what it
// takes to choose them, most tells whether most cells whose colour that changes show another one.
func (t textCells) heldInks(k analyse.Component) (like, choice float64, most bool) {
	pairs := tally{}
	for i, seen := range t.seen.ink {
		if w := t.want.ink[i]; w >= 0 && seen >= 0 && t.seen.shape[i] >= 0 && t.want.shape[i] >= 0 {
			pairs.add(w, seen)
		}
	}
	colours := tally{}
	changed, of := 0, 0
	for _, w := range slices.Sorted(maps.Keys(pairs)) {
		often, shows, could := 0, w, 0
		for c := range t.e.Profile.Colours {
			if fits, _ := becomes(t.e.Profile, k, w, c); !fits {
				continue
			}
			could++
			if n := pairs[w][c]; n > often {
				often, shows = n, c
			}
		}
		if apartYUV(heldAt(t.e.Profile, k, w), t.e.Profile.Colours[w].YUV) > colourApart {
			for _, n := range pairs[w] {
				of += n
			}
			if shows != w {
				changed += often
			}
		}
		choice -= math.Log(math.Max(1, float64(could)))
		for _, seen := range slices.Sorted(maps.Keys(pairs[w])) {
			for range pairs[w][seen] {
				switch seen {
				case shows:
					colours.add(w, w)
				case w:
					colours.add(w, shows)
				default:
					colours.add(w, seen)
				}
			}
		}
	}
	return colours.weigh(inksMistaken, t.anotherInk, t.inksApart), choice, 2*changed > of
}

// colourApart is how far, in parts of white, a colour may lie from what it should be.
const colourApart = 0.12

// becomes tells whether one palette colour, a component of it held, shows as another, and whether that
// is another colour. Colours that are not known fit.
func becomes(p *display.Profile, c analyse.Component, from, to int) (fits, other bool) {
	if from < 0 || to < 0 {
		return true, false
	}
	held := func(i int) video.YUV { return heldAt(p, c, i) }
	d := apartYUV(held(from), p.Colours[to].YUV)
	if c.Gain > 0 { // the cells may have been read with the colours that are left; not where the colours speak against it
		d = math.Min(d, apartYUV(held(from), held(to)))
	}
	return d < colourApart, from != to
}

// heldAt is a palette colour with a component held.
func heldAt(p *display.Profile, c analyse.Component, i int) video.YUV {
	v := p.Colours[i].YUV
	level := float64(c.Level)
	switch c.Name {
	case "luma":
		v.Y = level
	case "cb":
		v.U = greatestChroma * level
	case "cr":
		v.V = greatestChroma * level
	}
	return v
}

// greatestChroma is the amplitude of a colour signal at its greatest, of white: that of the profiles' colours.
const greatestChroma = 0.20
