package patterns

import (
	"math"
	"testing"

	"backporch/analyse"
)

// Of a colour of which a bit is open nothing is known but that it is one all over the cell: it does not let each pixel choose.
func TestOpenBitIsNoWildcard(t *testing.T) {
	c := &comparison{soft: 1, columns: 1}
	seen := &analyse.Cell{Paper: 7, Ink: 5, Bits: [8]uint8{1: 0x38, 2: 0x6c}}
	p := tile{rows: [8]uint8{1: 0x28, 2: 0x6c}, ink: 5, paper: 7, openPaper: 2}
	if _, n := c.differ(p, seen); n != 1 {
		t.Errorf("a pixel that is ink where paper 7 or 5 should be: %.0f wrong, want 1", n)
	}
	// With the open bit at 0 in all of the cell it would be of one colour.
	seen = &analyse.Cell{Paper: 5, Ink: 5, Single: true}
	if _, n := c.differ(p, seen); n != 0 {
		t.Errorf("a cell all of the colour that the open bit allows: %.0f wrong, want 0", n)
	}
}

// Pixels beside an edge that are misread in one cell of a few are a decoder's doing: they cost less than others. Where as many are wrong away
// from edges it is no decoder.
func TestEdgesAreMisread(t *testing.T) {
	build := func(atEdge, flat bool) (*comparison, *evidence) {
		c := &comparison{soft: 1, columns: 32}
		e := &evidence{s: &analyse.Survey{}}
		for i := range 768 {
			good := analyse.Cell{Row: i / 32, Column: i % 32, Paper: 7, Ink: 0}
			for y := 2; y < 6; y++ {
				good.Bits[y] = 0x3c
			}
			bad := good
			if atEdge {
				bad.Bits[i%4+2] ^= 0x40 >> (i / 7 % 2 * 5) // beside the stroke, on either side
			}
			if flat {
				bad.Bits[0] ^= 1 << (i / 5 % 8)
			}
			c.cells, e.s.Cells = append(c.cells, good), append(e.s.Cells, bad)
		}
		return c, e
	}
	for _, test := range []struct{ edge, flat, soft bool }{{false, false, false}, {true, false, true}, {true, true, false}} {
		c, e := build(test.edge, test.flat)
		perPixel := c.errorRates(e)
		if soft := c.soft < 0.85; soft != test.soft {
			t.Errorf("wrong at edges %v, elsewhere %v: a pixel at an edge costs %.2f of %.1f nats", test.edge, test.flat, c.soft, perPixel)
		}
	}
}

// Hypotheses of a picture that none explains differ by less than their likelihoods say; those of one that is read well differ by as much.
func TestCalmed(t *testing.T) {
	list := func(best float64) []hypothesis {
		return []hypothesis{{like: best - 20}, {like: best, fault: &Fault{Kind: "data-bit-stuck", Bit: ptr(1)}}, {like: best - 30, fault: &Fault{Kind: "border-latch"}}}
	}
	latch := func(h *hypothesis) float64 {
		if h.fault != nil && h.fault.Kind == "border-latch" {
			return 10
		}
		return 0
	}
	few := calmed(list(-20), nil, nil, false, latch)
	if d := few[1].like - few[0].like; math.Abs(d-20) > 1e-9 {
		t.Errorf("a picture read well: the stuck lane is %.1f nats ahead, want 20", d)
	}
	many := calmed(list(-10*usualLeft), nil, nil, false, latch)
	if d := many[1].like - many[0].like; math.Abs(d-2) > 1e-9 {
		t.Errorf("ten times as much misread: the stuck lane is %.1f nats ahead, want 2", d)
	}
	// What the border says, 10 nats, stands: 40 nats of cells are behind, a tenth of that counts.
	if d := many[2].like - many[1].like; math.Abs(d-(10-4)) > 1e-9 {
		t.Errorf("the border's latch is %.1f nats ahead, want 6", d)
	}
}
