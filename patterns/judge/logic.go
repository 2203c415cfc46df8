package judge

import (
	"fmt"
	"math"

	"backporch/patterns"
	"backporch/video/display"
)

// logicHypotheses lists every answer with its likelihood for a screen that nothing is
// known of beforehand.
func logicHypotheses(e *evidence) []patterns.Hypothesis {
	out := []patterns.Hypothesis{{Prior: math.Log(patterns.CleanPrior), Like: e.colours(nothing{}, nil) + e.blankOdds(false)}}
	if fill, ok := e.wholeFill(); ok {
		out[0].Like = math.Max(out[0].Like, fill)
	}
	if e.p.Kind == display.Attr {
		stuck, weak, register := patterns.KindOf("data-bit-stuck"), patterns.KindOf("data-bit-weak"), patterns.KindOf("shift-register")
		for bit := range 8 {
			for level := range 2 {
				out = append(out, e.stuck(stuck, bit, level), e.tap(register, bit, level))
			}
			out = append(out, e.weak(weak, bit))
		}
		e.flickering(out)
		path := patterns.KindOf("colour-path")
		for c, name := range componentNames {
			for level := range 2 {
				h := patterns.Hypothesis{
					Fault: &patterns.Fault{Class: path.Class, Kind: path.Name, Component: name, Level: ptr(level)},
					Prior: math.Log(path.Prior / 6), Like: e.colours(component{c, level}, nil) + e.blankOdds(false),
				}
				out = append(out, h)
			}
		}
		latch := patterns.KindOf("border-latch")
		for bit := range 3 {
			for level := range 2 {
				if e.s.Border.Colour < 0 || e.s.Border.Colour>>bit&1 != level {
					continue
				}
				expected := e.s.Border.Colour ^ 1<<bit
				out = append(out, patterns.Hypothesis{
					Fault: &patterns.Fault{Class: latch.Class, Kind: latch.Name, Expected: &expected, Seen: ptr(e.s.Border.Colour)},
					Prior: math.Log(latch.Prior / 6), Like: e.colours(latchBit{bit, level}, nil) + e.blankOdds(false),
				})
			}
		}
	}
	blank := patterns.KindOf("blank-picture")
	out = append(out, patterns.Hypothesis{
		Fault: &patterns.Fault{Class: blank.Class, Kind: blank.Name}, Prior: math.Log(blank.Prior),
		Like: e.blankOdds(true),
	})
	wake := patterns.KindOf("power-up-pattern")
	if like, ok := e.wakeOdds(); ok && !e.without(termWoken) {
		out = append(out, patterns.Hypothesis{
			Fault: &patterns.Fault{Class: wake.Class, Kind: wake.Name}, Prior: math.Log(wake.Prior),
			Like: out[0].Like + like,
		})
	}
	good := e.colours(nothing{}, nil) + e.blankOdds(false)
	// A lane that breaks with its like is weak, or dead at some addresses, or folded: what speaks for the lane speaks for all of these.
	lane := func(bit int) float64 { return weakest(out, bit, good) }
	out = append(out, e.byAddress(good, lane)...)
	return e.moving(out, good)
}

// weakest is the likelihood of a weak lane, or of nothing wrong if that is likelier.
func weakest(list []patterns.Hypothesis, bit int, nothing float64) float64 {
	for i := range list {
		if f := list[i].Fault; f != nil && f.Kind == "data-bit-weak" && *f.Bit == bit {
			return math.Max(nothing, list[i].Like)
		}
	}
	return nothing
}

var componentNames = [3]string{"blue", "red", "green"} // by bit of the colour

func ptr[T any](v T) *T { return &v }

// stuck weighs a lane that always reads level: the patterns must have it, and
// the same bit of every colour byte. In each pair of colours, what covers more may be ink after all.
func (e *evidence) stuck(k *patterns.Kind, bit, level int) patterns.Hypothesis {
	h := e.column(bit, level, lane{bit, level})
	h.Fault, h.Prior = &patterns.Fault{Class: k.Class, Kind: k.Name, Bit: &bit, Level: &level}, math.Log(k.Prior/16)
	if bit == 7 {
		h.Like -= e.flashAgainst(level)
	}
	return h
}

// tap weighs a stage of the shift register that always gives level: the patterns have it as with a stuck lane, and the colours hold.
func (e *evidence) tap(k *patterns.Kind, bit, level int) patterns.Hypothesis {
	h := e.column(bit, level, nothing{})
	h.Fault, h.Prior = &patterns.Fault{Class: k.Class, Kind: k.Name, Level: &level}, math.Log(k.Prior/32)
	if len(h.Why) > 0 {
		h.Why = []string{fmt.Sprintf("pixel %d of the 8 of a cell is one colour in nearly every cell, and the colours hold", 8-bit)}
	}
	return h
}

// flashAgainst is what cells that flash, or don't, cost a colour byte's bit 7 that is held; nothing where the capture is too short to show.
func (e *evidence) flashAgainst(level int) float64 {
	if !seenFlash(e.s, e.p) {
		return 0
	}
	n := 0
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		if c.Single || math.Abs(e.p.Colours[c.Ink].Y-e.p.Colours[c.Paper].Y) < 0.35 {
			continue // it hardly shows
		}
		if c.Flash != (level == 1) {
			n++
		}
	}
	return math.Min(12, 3*float64(n))
}

// column weighs a column of pixels that is the same in every cell, and what is held of the colours.
func (e *evidence) column(bit, level int, held change) patterns.Hypothesis {
	var h patterns.Hypothesis
	var all run
	perError := e.perError()
	turned := make([]bool, len(e.groups))
	for i, g := range e.groups {
		best, like := run{}, math.Inf(-1)
		for _, inverse := range []bool{false, true} {
			if inverse && g.ink < 0 {
				continue
			}
			r := e.laneRun(g, bit, level, inverse, perError)
			l := g.orientation(inverse)
			if l += e.forbidden(g, held, inverse) - r.cost; l > like {
				best, like, turned[i] = r, l, inverse
			}
		}
		all.add(best)
		h.Like -= best.cost
		if g.ink >= 0 {
			h.Like += g.orientation(turned[i]) - g.orientation(false)
		}
	}
	h.Like += e.colours(held, turned)
	h.Like += e.blankOdds(false)
	if !e.without(termOdd) {
		h.Like += math.Min(all.odd(bit), e.mayBeGap(bit))
	}
	if all.of > 0 {
		h.Like += e.single(level, held)
	}
	if all.of > 0 && all.against*50 < all.of {
		h.Why = []string{fmt.Sprintf("bit %d of the pattern reads %d in %d of %d places that show it", bit, level, all.of-all.against, all.of)}
	}
	return h
}

// mayBeGap bounds what an even column says of a lane, nats: where the picture's place is open, it may be the gap between letters.
func (e *evidence) mayBeGap(bit int) float64 {
	shifts := e.s.Registration.Shifts
	if len(shifts) < 2 {
		return laneLimit
	}
	gap := 0.0
	for _, s := range shifts {
		if lane := ((bit+s.Pixels)%8 + 8) % 8; lane == 0 || lane == 7 {
			gap += s.Probability
		}
	}
	if gap <= 0 {
		return laneLimit
	}
	return -math.Log(math.Min(1, gap))
}

// perError is what one bit costs that goes against a hypothesis: the picture
// misreads about as many bits as break with their like outside the worst lane.
func (e *evidence) perError() float64 {
	wrong, of, worst := 0, 0, 0
	for b := range 8 {
		wrong += e.flips[b]
		of += e.sites[b]
		if e.flips[b] > e.flips[worst] {
			worst = b
		}
	}
	wrong -= e.flips[worst]
	of -= e.sites[worst]
	rate := (float64(wrong) + 1) / (float64(of) + 1000)
	return math.Min(5, -math.Log(rate)) // one cell in a hundred may be misread as a whole
}

// wholeFill is the log-likelihood of a memory that a test has filled with one byte, pattern
// and colours alike; ok is false for any other screen.
func (e *evidence) wholeFill() (like float64, ok bool) {
	if e.p.Kind != display.Attr || e.main == nil || len(e.main.cells)*10 < len(e.s.Cells)*9 {
		return 0, false
	}
	if colour, even := e.blank(); even && e.edgeless() {
		return 0, false // blankOdds has these
	} else if even && colour&7 != 0 { // 0x00 and 0xFF show one colour, whichever it is
		return math.Log(patterns.FillScreen/2) + e.anyBorder(), true
	}
	for rows, n := range e.main.patterns {
		if n*10 < len(e.s.Cells)*9 || !repeats(rows) {
			continue
		}
		for _, fill := range [2]byte{0x55, 0xaa} { // 0x00 and 0xFF show no pattern
			colour := display.SplitColour(fill)
			here := rows[0] == fill && e.main.ink&7 == colour.Ink&7 && e.main.paper&7 == colour.Paper&7
			turned := rows[0] == ^fill && e.main.ink&7 == colour.Paper&7 && e.main.paper&7 == colour.Ink&7
			if here || turned {
				return math.Log(patterns.FillScreen/4) + math.Log(borderShare[max(e.s.Border.Colour, 0)&7]), true
			}
		}
	}
	return 0, false
}

// single weighs cells of one colour under a lane that reads 1: they would show
// a column of ink, unless ink and paper are alike there; a lane held in the colours makes those alike that differ in that bit alone. Blocks of
// another colour than most of the paper are as often ink all over, which shows nothing.
func (e *evidence) single(level int, held change) float64 {
	if level == 0 {
		return 0
	}
	like, alike := 0.0, patterns.InkIsPaper
	if l, ok := held.(lane); ok && l.bit < 6 {
		alike += 1.0 / 7
	}
	for _, g := range e.groups {
		switch {
		case g.ink >= 0 || len(g.cells) < 3:
		case e.main != nil && !e.p.Alike(g.paper, e.main.paper):
			like += math.Log(math.Max(4*alike, 0.5))
		default:
			like += math.Log(4 * alike)
		}
	}
	return like
}

// weak weighs a lane that is wrong here and there, or now and then.
func (e *evidence) weak(k *patterns.Kind, bit int) patterns.Hypothesis {
	h := patterns.Hypothesis{
		Fault: &patterns.Fault{Class: k.Class, Kind: k.Name, Bit: &bit},
		Prior: math.Log(k.Prior / 8),
	}
	scatter, scattered := e.scattering(bit)
	times := e.unsteady(bit)
	// A weak lane without a wrong bit would look like a good machine; it must then not gain from it.
	if e.flips[bit]+e.flicker[bit] == 0 && times == 0 && scatter == 0 {
		h.Like = e.colours(nothing{}, nil) + e.blankOdds(false) - 3
		return h
	}
	h.Like = e.colours(nothing{}, nil) + e.blankOdds(false) + e.scattered(bit, scatter) + times - 1
	if e.flips[bit] > 0 {
		h.Why = append(h.Why, fmt.Sprintf("bit %d breaks in %d ways with cells that are alike in every other bit (%d cells compared); the next worst lane in %d", bit, e.flips[bit], e.sites[bit], nextWorst(e.flips, bit)))
	}
	if scatter > 3 {
		h.Why = append(h.Why, fmt.Sprintf("bit %d of the colours is another in %d cells among cells like them", bit, scattered))
	}
	if e.together(bit) > 3 {
		h.Why = append(h.Why, fmt.Sprintf("bit %d changes as a whole from field to field", bit))
	} else if e.flicker[bit] > 0 {
		h.Why = append(h.Why, fmt.Sprintf("bit %d changes over time in %d cells; the next worst lane in %d", bit, e.flicker[bit], nextWorst(e.flicker, bit)))
	}
	if n := e.recolours[bit]; n > 0 {
		h.Why = append(h.Why, fmt.Sprintf("bit %d of the colour byte is another for single lines of %d cells; the next worst lane in %d", bit, n, nextWorst(e.recolours, bit)))
	}
	return h
}

// placesLimit bounds what the places say at which a lane is wrong, nats.
const placesLimit = 30.0

// scattered is what bits say that break with cells like theirs, and dots of the colours that are worth so much.
func (e *evidence) scattered(bit int, dots float64) float64 {
	return math.Min(placesLimit, excess(e.flips, bit, cellEnds)+dots)
}

// mostlyInTime is the part of all movement that is of one frequency from which on what is left of it, here and there, is hardly a lane's. Common
// practice, no source.
const mostlyInTime = 0.9

// unsteady is the evidence of a lane that changes over time, bit by bit or all at once in some fields.
func (e *evidence) unsteady(bit int) float64 {
	known := math.Min(30, 0.6*excess(e.flicker, bit, 1)+e.together(bit)) // flicker also comes from what nothing here models
	if m := e.s.Motion; m != nil {
		if m.Rhythm > mostlyInTime {
			known *= 0.2
		}
		known = math.Max(0, known+math.Min(0, arrhythmic(m)))
	}
	return math.Max(known, e.laneMoving(bit))
}

// flickering gives weak lanes that move as a whole what a lane that is stuck there would have: in
// the mean of many fields they look like one, and the movement speaks against that.
func (e *evidence) flickering(list []patterns.Hypothesis) {
	for i := range list {
		weak := list[i].Fault
		if weak == nil || weak.Kind != "data-bit-weak" || e.together(*weak.Bit) < 3 {
			continue
		}
		for k := range list {
			if f := list[k].Fault; f != nil && f.Kind == "data-bit-stuck" && *f.Bit == *weak.Bit {
				if like := list[k].Like + e.together(*weak.Bit); like > list[i].Like {
					list[i].Like = like
					list[i].Why = []string{fmt.Sprintf("bit %d changes as a whole from field to field", *weak.Bit)}
				}
			}
		}
	}
}

// leastMove is what a lane's mean moves at the least when all of it goes wrong in some fields, codes rms: stripes of a
// colour move by the subcarrier's crawl.
const leastMove = 3.0

// together weighs how much a lane as a whole moves against the others, in the mean of all its pixels.
func (e *evidence) together(bit int) float64 {
	m := e.s.Memory
	if m == nil || m.Moves[bit] < leastMove {
		return 0
	}
	if seen := e.motion(); seen != nil && e.s.Other == nil && seen.ByLane[bit] < 20 {
		return 0 // bit by bit it stands still: it is something else that moves
	}
	second := 0.0
	for b, v := range m.Moves {
		if b != bit {
			second = math.Max(second, v)
		}
	}
	z := math.Log((m.Moves[bit]+0.05)/(second+0.05)) / laneScatter
	if z <= 0 {
		return 0
	}
	return math.Min(25, z*z/2)
}

func nextWorst(counts [8]int, but int) int {
	worst := 0
	for b, n := range counts {
		if b != but {
			worst = max(worst, n)
		}
	}
	return worst
}
