package patterns

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse"
	"backporch/video/display"
)

// A comparison is what the screen should show, cell by cell.
type comparison struct {
	cells  []analyse.Cell
	text   *analyse.Text
	border int  // palette index, -1 when not known
	bytes  bool // the memory behind the cells is known, not only what shows
	what   string
}

// compareWith takes a good machine's survey; nil when it could not be read.
func compareWith(r *analyse.Survey) *comparison {
	if len(r.Cells) == 0 {
		return nil
	}
	c := &comparison{cells: r.Cells, text: r.Text, border: -1, what: "the reference"}
	if r.Border.Seen && r.Border.Sure > 2 {
		c.border = r.Border.Colour
	}
	return c
}

// compareFill takes a memory that holds one byte throughout.
func compareFill(p *display.Profile, fill byte) *comparison {
	if p.Kind != display.Attr {
		return nil
	}
	c := &comparison{border: -1, bytes: true, what: fmt.Sprintf("a memory of 0x%02X", fill)}
	colour := display.SplitColour(fill)
	for row := range p.Rows() {
		for column := range p.Columns() {
			cell := analyse.Cell{Row: row, Column: column, Ink: colour.Ink, Paper: colour.Paper, Flash: colour.Flash}
			for y := range cell.Bits {
				cell.Bits[y] = fill
			}
			c.cells = append(c.cells, cell)
		}
	}
	return c
}

// A tile is one cell as a hypothesis predicts it; ink -1 is an ink that was never seen.
type tile struct {
	rows       [8]uint8
	ink, paper int
}

func tileOf(c *analyse.Cell) tile { return tile{c.Bits, c.Ink, c.Paper} }

// alike tells whether two palette indices look the same; -1 is unknown and
// black is black at either brightness.
func alike(a, b int) bool { return a == b || a < 0 || b < 0 || a&7 == 0 && b&7 == 0 }

// differ counts the pixels in which a seen cell departs from a predicted one, by lane.
func differ(p tile, seen *analyse.Cell) (by [8]int, total int) {
	ii, ip := alike(p.ink, seen.Ink), alike(p.ink, seen.Paper)
	pi, pp := alike(p.paper, seen.Ink), alike(p.paper, seen.Paper)
	for y, b := range p.rows {
		s := seen.Bits[y]
		var wrong uint8
		if !ii {
			wrong |= b & s
		}
		if !ip {
			wrong |= b &^ s
		}
		if !pi {
			wrong |= s &^ b
		}
		if !pp {
			wrong |= ^(b | s)
		}
		for wrong != 0 {
			lane := bits.TrailingZeros8(wrong)
			by[lane]++
			total++
			wrong &= wrong - 1
		}
	}
	return by, total
}

// predict is a change of memory or colours put to a cell; known says that the ink of
// a cell that shows none is known all the same.
type predict func(p tile) tile

func (e *evidence) stuckAt(bit, level int) predict {
	return func(p tile) tile {
		mask := uint8(1 << bit)
		for y := range p.rows {
			if level == 1 {
				p.rows[y] |= mask
			} else {
				p.rows[y] &^= mask
			}
		}
		p.ink, p.paper = forceColours(p.ink, p.paper, bit, level)
		return p
	}
}

// forceColours holds a bit of the colour byte behind two palette indices.
func forceColours(ink, paper, bit, level int) (int, int) {
	set := func(v, b int) int {
		if v < 0 {
			return v
		}
		return v&^(1<<b) | level<<b
	}
	switch {
	case bit < 3:
		ink = set(ink, bit)
	case bit < 6:
		paper = set(paper, bit-3)
	case bit == 6:
		ink, paper = set(ink, 3), set(paper, 3)
	}
	return ink, paper
}

func componentAt(bit, level int) predict {
	return func(p tile) tile {
		p.ink, _ = forceColours(p.ink, p.paper, bit, level)
		_, p.paper = forceColours(p.ink, p.paper, bit+3, level)
		return p
	}
}

// errorRate is the share of pixels that differ from the expected ones outside the worst lane: what the
// picture misreads, or what no lane explains.
func (c *comparison) errorRate(e *evidence) float64 {
	var by [8]int
	for i := range e.s.Cells {
		d, total := differ(tileOf(&c.cells[i]), &e.s.Cells[i])
		if total > 24 { // another cell altogether
			continue
		}
		for lane, n := range d {
			by[lane] += n
		}
	}
	sum, worst := 0, 0
	for _, n := range by {
		sum += n
		worst = max(worst, n)
	}
	return (float64(sum-worst) + 1) / (float64(len(e.s.Cells)*56) + 20000)
}

// cost is what a prediction pays for the cells that depart from it.
func (c *comparison) cost(e *evidence, change predict, perPixel float64) float64 {
	sum := 0.0
	for i := range e.s.Cells {
		seen := &e.s.Cells[i]
		_, n := differ(change(tileOf(&c.cells[i])), seen)
		if n == 0 {
			continue
		}
		paid := math.Min(float64(n)*perPixel, 2*perPixel+6)
		if seen.Sure < 2 {
			paid /= 2
		}
		sum += paid
	}
	return sum
}

// hypotheses weighs every fault by how well it turns the expected screen into the seen one.
func (c *comparison) hypotheses(e *evidence) []hypothesis {
	perPixel := -math.Log(c.errorRate(e))
	edge := func(expected int) float64 { // the border's part
		if c.border < 0 || e.s.Border.Colour < 0 || alike(expected, e.s.Border.Colour) {
			return 0
		}
		return -math.Min(12, 2+e.s.Border.Sure)
	}
	same := func(p tile) tile { return p }
	plain := c.cost(e, same, perPixel)
	out := []hypothesis{{prior: math.Log(cleanPrior), like: edge(c.border) - plain}}

	stuck, weak := kindOf("data-bit-stuck"), kindOf("data-bit-weak")
	for bit := range 8 {
		for level := range 2 {
			h := hypothesis{
				fault: &Fault{Class: stuck.Class, Kind: stuck.Name, Bit: ptr(bit), Level: ptr(level)},
				prior: math.Log(stuck.Prior / 16), like: edge(c.border) - c.cost(e, e.stuckAt(bit, level), perPixel),
			}
			out = append(out, h)
		}
		wrong, of, rest := c.laneOnly(e, bit, perPixel)
		h := hypothesis{
			fault: &Fault{Class: weak.Class, Kind: weak.Name, Bit: ptr(bit)}, prior: math.Log(weak.Prior / 8),
			like: edge(c.border) - rest + betaSequence(wrong, of, 0.5, 3) + math.Min(30, excess(e.flicker, bit)),
		}
		if wrong > 0 {
			h.why = []string{fmt.Sprintf("bit %d differs from %s in %d of %d places, every other lane agrees", bit, c.what, wrong, of)}
		}
		out = append(out, h)
	}
	path := kindOf("colour-path")
	for b, name := range componentNames {
		for level := range 2 {
			expected := -1
			if c.border >= 0 {
				expected, _ = forceColours(c.border, 0, b, level)
			}
			out = append(out, hypothesis{
				fault: &Fault{Class: path.Class, Kind: path.Name, Component: name, Level: ptr(level)},
				prior: math.Log(path.Prior / 6), like: edge(expected) - c.cost(e, componentAt(b, level), perPixel),
			})
		}
	}
	if seen := e.s.Border.Colour; c.border >= 0 && seen >= 0 && !alike(c.border, seen) {
		latch := kindOf("border-latch")
		out = append(out, hypothesis{
			fault: &Fault{Class: latch.Class, Kind: latch.Name, Expected: ptr(c.border), Seen: ptr(seen)},
			prior: math.Log(latch.Prior), like: -plain,
			why: []string{fmt.Sprintf("the border is %s, %s has %s", e.p.Colours[seen].Name, c.what, e.p.Colours[c.border].Name)},
		})
	}
	return out
}

// laneOnly counts the bits of one lane that are wrong, those it could be wrong in,
// and what the cells pay for everything else.
func (c *comparison) laneOnly(e *evidence, bit int, perPixel float64) (wrong, of int, rest float64) {
	mask := uint8(1 << bit)
	for i := range e.s.Cells {
		seen := &e.s.Cells[i]
		expected := tileOf(&c.cells[i])
		// What this lane alone can turn the cell into: its colours as seen if they
		// differ in this bit only, its pattern as seen in this lane.
		best := expected
		for level := range 2 {
			ink, paper := forceColours(expected.ink, expected.paper, bit, level)
			if alike(ink, seen.Ink) && alike(paper, seen.Paper) && !(alike(expected.ink, seen.Ink) && alike(expected.paper, seen.Paper)) {
				best.ink, best.paper = ink, paper
				wrong++
				break
			}
		}
		of += 9
		for y := range best.rows {
			if d := (best.rows[y] ^ seen.Bits[y]) & mask; d != 0 && !seen.Single {
				best.rows[y] ^= d
				wrong++
			}
		}
		if _, n := differ(best, seen); n > 0 {
			rest += math.Min(float64(n)*perPixel, 2*perPixel+6)
		}
	}
	return wrong, of, rest
}

// betaSequence is the log-probability of one sequence of k events in n trials
// whose rate has a Beta(a, b) prior.
func betaSequence(k, n int, a, b float64) float64 {
	lbeta := func(x, y float64) float64 {
		lx, _ := math.Lgamma(x)
		ly, _ := math.Lgamma(y)
		lxy, _ := math.Lgamma(x + y)
		return lx + ly - lxy
	}
	return lbeta(float64(k)+a, float64(n-k)+b) - lbeta(a, b)
}
