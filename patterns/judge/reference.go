package judge

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/floats"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// A comparison is what the screen should show, cell by cell.
type comparison struct {
	cells  []analyse.Cell
	groups []reading
	text   *analyse.Text
	survey *analyse.Survey // nil: no capture
	border int             // palette index, -1 when not known
	dim    bool            // brightness was a guess here or in the capture: it is not compared
	// loose names the colours (without their brightness) that most cells show at the other brightness: that
	// is how the two captures' levels were read, and no lane's doing.
	loose [8]bool
	// faint marks cells whose brightness either capture was not sure of.
	faint []bool
	// vague has the pixels of which either capture was not sure whether they are ink: narrow patterns that a decoder's notch hides.
	vague [][8]uint8
	// unsure marks cells whose colours either capture was not sure of.
	unsure  []bool
	columns int
	soft    float64 // what a pixel at an edge weighs of one elsewhere, once the error rates are known
	what    string
	spoilt  bool    // the capture came by a path that is bad
	memory  *image  // behind the cells, once asked for
	wrong   []uint8 // the bits by address that are not as memory has them, with it
}

// A reading is the cells of one pair of colours, of which either may be the ink.
type reading struct {
	cells []int
	cover float64 // mean part of a cell that has the ink as read
}

// compareWith takes a good machine's survey; nil when it could not be read.
func compareWith(e *evidence, r *analyse.Survey) *comparison {
	p := e.p
	if len(r.Cells) == 0 {
		return nil
	}
	ref := gather(r, p)
	c := &comparison{cells: r.Cells, text: r.Text, survey: r, border: -1, soft: 1, what: "the reference", dim: e.dim || ref.dim}
	if r.Border.Seen && r.Border.Sure > 2 {
		c.border = r.Border.Colour
	}
	c.columns = p.Columns()
	c.loosen(e)
	c.faint = faint(e.s, r, p)
	c.vague = vague(e.s, r, p)
	c.unsure = unsure(e.s, r, p)
	for _, g := range ref.groups {
		c.groups = append(c.groups, reading{g.cells, g.cover})
	}
	return c
}

// written is what it takes to write the screen down, ln: of pixels that either capture does not show nobody pays anything.
func (c *comparison) written(e *evidence) float64 {
	if c.vague == nil {
		return floats.Sum(e.drawn())
	}
	e.drawn()
	sum := 0.0
	for i := range e.lines {
		for y, lost := range c.vague[i] {
			sum += e.lines[i][y] * float64(8-bits.OnesCount8(lost)) / 8
		}
		sum += e.lines[i][8]
	}
	return sum
}

// cost is what a prediction pays for the cells that depart from it. In each pair of colours either may
// be the ink; the fault is put to the cells as they then are. each is by cell.
func (c *comparison) cost(e *evidence, change predict, perPixel float64) (total float64, each []float64) {
	return c.costIn(e, change, perPixel, false)
}

// costIn is cost with all cells in flash's other phase, if so.
func (c *comparison) costIn(e *evidence, change predict, perPixel float64, other bool) (total float64, each []float64) {
	pay := func(i int, t tile) float64 {
		_, n := c.differ(change(t), &e.s.Cells[i])
		if other {
			n = math.Inf(1)
		}
		if n > 0 && (other || c.cells[i].Flash || e.s.Cells[i].Flash) { // the captures may stand in different phases
			for _, swapped := range t.turned(&e.s.Cells[i]) {
				_, m := c.differ(change(swapped), &e.s.Cells[i])
				n = min(n, m)
			}
		}
		return c.paid(n, change(t), &e.s.Cells[i], perPixel)
	}
	each = make([]float64, len(c.cells))
	if c.groups == nil {
		for i := range c.cells {
			each[i] = pay(i, tileOf(&c.cells[i]))
		}
		return misreadCells(each), each
	}
	orientations := 0.0
	for _, g := range c.groups {
		usual, other := make([]float64, 0, len(g.cells)), make([]float64, 0, len(g.cells))
		for _, i := range g.cells {
			t := tileOf(&c.cells[i])
			a, b := pay(i, t), pay(i, t.inverted())
			// A cell that is covered about evenly, or mostly by the ink, may be either.
			covered := 0
			for _, b := range t.rows {
				covered += bits.OnesCount8(b)
			}
			if covered > evenlyUsed {
				usual = append(usual, math.Min(a, b))
			} else {
				usual = append(usual, a)
			}
			if 64-covered > evenlyUsed && covered > 0 {
				other = append(other, math.Min(a, b))
			} else {
				other = append(other, b)
			}
		}
		o := &group{cover: g.cover}
		if turn := o.orientation(false) - o.orientation(true); floats.Sum(other)+turn < floats.Sum(usual) {
			usual, orientations = other, orientations+turn
		}
		for k, i := range g.cells {
			each[i] = usual[k]
		}
	}
	return orientations + misreadCells(each), each
}

// hypotheses weighs every fault by how well it turns the expected screen into the seen one.
func (c *comparison) hypotheses(e *evidence) []patterns.Hypothesis {
	perPixel := c.errorRates(e)
	edge := func(expected int) float64 { // the border's part
		if c.border < 0 || e.s.Border.Colour < 0 || c.alike(expected, e.s.Border.Colour) {
			return 0
		}
		return -math.Min(12, 2+e.s.Border.Sure)
	}
	same := func(p tile) tile { return p }
	plain, good := c.cost(e, same, perPixel)
	out := []patterns.Hypothesis{{Prior: math.Log(patterns.CleanPrior), Like: edge(c.border) - plain}}
	if places := c.places(e, perPixel, plain, edge(c.border)); len(places) > 0 {
		out[0].Like = math.Max(out[0].Like, places[0].Like)
		out = append(out, places[1:]...)
	}

	stuck, weak := patterns.KindOf("data-bit-stuck"), patterns.KindOf("data-bit-weak")
	for bit := range 8 {
		lane := c.laneOnly(e, bit, perPixel)
		wrong, of := lane.bits.sum(), lane.of.sum()
		for level := range 2 {
			paid, each := c.cost(e, e.stuckAt(bit, level), perPixel)
			if bit == flashBit && level == 1 && !seenFlash(e.s, e.p) { // all cells flash, and a short capture may show the other phase
				if turned, by := c.costIn(e, e.stuckAt(bit, level), perPixel, true); turned+math.Ln2 < paid {
					paid, each = turned+math.Ln2, by
				}
			}
			h := patterns.Hypothesis{
				Gain:  gains(good, each),
				Fault: &patterns.Fault{Class: stuck.Class, Kind: stuck.Name, Bit: ptr(bit), Level: ptr(level)},
				Prior: math.Log(stuck.Prior / 16), Like: edge(c.border) - paid - nats.Scant(lane.cells) - c.minor(e, e.stuckAt(bit, level)),
			}
			if wrong > 0 {
				h.Why = []string{fmt.Sprintf("bit %d differs from %s in %d of %d places, and reading %d throughout explains them", bit, c.what, wrong, of, level)}
			}
			out = append(out, h)
		}
		spelt := lane.spelt()
		h := patterns.Hypothesis{
			Fault: &patterns.Fault{Class: weak.Class, Kind: weak.Name, Bit: ptr(bit)}, Prior: math.Log(weak.Prior / 8), Gain: gains(good, lane.each),
			Like: edge(c.border) - lane.rest + spelt - nats.Scant(lane.cells) + e.unsteady(bit), Spelt: spelt,
		}
		if wrong > 0 {
			h.Why = []string{fmt.Sprintf("bit %d differs from %s in %d of %d places, every other lane agrees", bit, c.what, wrong, of)}
		}
		out = append(out, h)
	}
	e.flickering(out)
	path := patterns.KindOf("colour-path")
	for b, name := range componentNames {
		for level := range 2 {
			expected := -1
			if c.border >= 0 {
				expected, _ = forceColours(c.border, 0, b, level)
			}
			paid, each := c.cost(e, componentAt(b, level), perPixel)
			gain, better := gains(good, each), 0
			for _, g := range gain {
				if g > 0 {
					better++
				}
			}
			out = append(out, patterns.Hypothesis{
				Fault: &patterns.Fault{Class: path.Class, Kind: path.Name, Component: name, Level: ptr(level)},
				Prior: math.Log(path.Prior / 6), Like: edge(expected) - paid - nats.Scant(better), Gain: gain,
			})
		}
	}
	if seen := e.s.Border.Colour; c.border >= 0 && seen >= 0 && !c.alike(c.border, seen) {
		latch := patterns.KindOf("border-latch")
		out = append(out, patterns.Hypothesis{
			Fault: &patterns.Fault{Class: latch.Class, Kind: latch.Name, Expected: ptr(c.border), Seen: ptr(seen)},
			Prior: math.Log(latch.Prior), Like: -plain,
			Why: []string{fmt.Sprintf("the border is %s, %s has %s", e.p.Colours[seen].Name, c.what, e.p.Colours[c.border].Name)},
		})
	}
	contexts := c.contexts()
	out = calmed(out, contexts, c.doubted(e.s), c.plainly(e.s), c.spoilt, func(h *patterns.Hypothesis) float64 {
		switch f := h.Fault; {
		case f != nil && f.Kind == "border-latch":
			return 0
		case f != nil && f.Kind == "colour-path" && c.border >= 0:
			expected, _ := forceColours(c.border, 0, slices.Index(componentNames[:], f.Component), *f.Level)
			return edge(expected)
		case f != nil && f.Kind == "data-bit-weak":
			return edge(c.border) + e.unsteady(*f.Bit)
		}
		return edge(c.border)
	})
	e.heldBack(out)
	c.byAddress(e, out, contexts)
	out = c.flashing(e, out)
	return e.moving(out, out[0].Like)
}

// alikeHeld, nats, is by how much a held signal must explain all colours better than any lane for them alone to tell the two apart. Common practice, no source.
const alikeHeld = 2.0

// plainlyHeld is the gain of all colours together, nats, from which on they do not speak against a held signal.
const plainlyHeld = 10.0

// heldBack holds a colour signal that is held to what all colours say of it together: where it would change nothing of the good machine's picture, what
// fits better with it is misread. A lane of the colours' memory gains what all colours say of it, for strokes whose colours are hardly read one by
// one say it all together; what it does to the pixels it answers for as it did. The first hypothesis is that of a good machine.
func (e *evidence) heldBack(list []patterns.Hypothesis) {
	lane := 0.0
	for _, k := range e.s.Levels.Lanes {
		lane = math.Max(lane, k.Gain)
	}
	for i := range list {
		f := list[i].Fault
		if f == nil || f.Level == nil {
			continue
		}
		h := &list[i]
		if f.Kind == "data-bit-stuck" && f.Memory == "" {
			for _, k := range e.s.Levels.Lanes {
				if k.Bit == *f.Bit && k.Level == *f.Level && k.Gain > plainlyHeld && e.p.Kind == display.Attr {
					h.Like = math.Max(h.Like, list[0].Like+math.Min(k.Gain, foldLimit)+math.Min(0, floats.Sum(h.Gain)))
				}
			}
			continue
		}
		if f.Kind != "colour-path" {
			continue
		}
		for _, k := range e.s.Levels.Components {
			switch {
			case !k.Beside || k.Name != f.Component || k.Level != *f.Level:
			case k.Gain < plainlyHeld:
				h.Like = math.Min(h.Like, list[0].Like+math.Max(k.Gain, 0))
			case lane > k.Gain-alikeHeld: // a lane makes such colours too: the cells tell the two apart
				h.Like = math.Max(h.Like, list[0].Like+math.Min(k.Gain, foldLimit)+math.Min(0, floats.Sum(h.Gain)))
			default:
				h.Like = math.Max(h.Like, list[0].Like+math.Min(k.Gain, foldLimit))
			}
		}
	}
}

// minorLane is what it costs, in nats, to accuse a lane that explains less of what differs than it leaves, or fewer cells than soleCells: strokes that a
// decoder spoils are as many. Common practice, no source.
const (
	minorLane = 12.0
	soleCells = 4
)

// minor is that cost for a change: cells that it brings nearer to what is seen against half of those that differ with it, too.
func (c *comparison) minor(e *evidence, change predict) float64 {
	better, left := 0, 0
	for i := range e.s.Cells {
		seen, t := &e.s.Cells[i], tileOf(&c.cells[i])
		_, before := c.differ(t, seen)
		_, turned := c.differ(t.inverted(), seen)
		before = math.Min(before, turned)
		_, after := c.differ(change(t), seen)
		_, turned = c.differ(change(t.inverted()), seen)
		after = math.Min(after, turned)
		if after < before {
			better++
		}
		if after > 0 {
			left++
		}
	}
	if 2*better < left || better < soleCells {
		return minorLane
	}
	return 0
}
