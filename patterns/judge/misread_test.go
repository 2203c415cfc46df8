package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
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
	list := func(best float64) []patterns.Hypothesis {
		return []patterns.Hypothesis{{Like: best - 20}, {Like: best, Fault: &patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(1)}}, {Like: best - 30, Fault: &patterns.Fault{Kind: "border-latch"}}}
	}
	latch := func(h *patterns.Hypothesis) float64 {
		if h.Fault != nil && h.Fault.Kind == "border-latch" {
			return 10
		}
		return 0
	}
	few := calmed(list(-20), nil, nil, nil, false, latch)
	if d := few[1].Like - few[0].Like; math.Abs(d-20) > 1e-9 {
		t.Errorf("a picture read well: the stuck lane is %.1f nats ahead, want 20", d)
	}
	many := calmed(list(-10*usualLeft), nil, nil, nil, false, latch)
	if d := many[1].Like - many[0].Like; math.Abs(d-2) > 1e-9 {
		t.Errorf("ten times as much misread: the stuck lane is %.1f nats ahead, want 2", d)
	}
	// What the border says, 10 nats, stands: 40 nats of cells are behind, a tenth of that counts.
	if d := many[2].Like - many[1].Like; math.Abs(d-(10-4)) > 1e-9 {
		t.Errorf("the border's latch is %.1f nats ahead, want 6", d)
	}
}

// What a lane's failing bits cost to spell out is no misreading: a picture of which nothing else is misread is not calmed.
func TestSpellingIsNoMisreading(t *testing.T) {
	spelling := -20 * usualLeft
	list := []patterns.Hypothesis{{Like: spelling - 40}, {Like: spelling - 5, Spelt: spelling, Fault: &patterns.Fault{Kind: "data-bit-weak", Bit: ptr(1)}}}
	none := func(*patterns.Hypothesis) float64 { return 0 }
	out := calmed(list, nil, nil, nil, false, none)
	if d := out[1].Like - out[0].Like; math.Abs(d-35) > 1e-9 {
		t.Errorf("the weak lane is %.1f nats ahead, want 35", d)
	}
}

// A hypothesis that knows nothing of the picture, and spells all of it, makes it no better read.
func TestKnowingNothingCalmsNothing(t *testing.T) {
	none := func(*patterns.Hypothesis) float64 { return 0 }
	list := []patterns.Hypothesis{{Like: -10 * usualLeft}, {Like: -10*usualLeft + 20, Fault: &patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(1), Level: ptr(0)}}}
	alone := calmed(append([]patterns.Hypothesis(nil), list...), nil, nil, nil, false, none)
	all := -20 * usualLeft
	beside := calmed(append(list, patterns.Hypothesis{Like: all, Spelt: all, Fault: &patterns.Fault{Kind: "line-counter", CounterBit: ptr(7)}}), nil, nil, nil, false, none)
	if a, b := alone[1].Like-alone[0].Like, beside[1].Like-beside[0].Like; math.Abs(a-b) > 1e-9 || b > 5 {
		t.Errorf("the stuck lane is %.2f nats ahead, %.2f beside one that knows nothing; want the same, and 2", a, b)
	}
}

// Beside a bad path what is misread says half of what it would, where much is.
func TestSpoiltPathHalves(t *testing.T) {
	list := func(nothing float64) []patterns.Hypothesis {
		return []patterns.Hypothesis{{Like: nothing}, {Like: nothing + 20, Gain: []float64{20, 20, 20}, Fault: &patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(1), Level: ptr(0)}}}
	}
	none := func(*patterns.Hypothesis) float64 { return 0 }
	context, doubted := []int{0, 1, 2}, []bool{false, false, false}
	ahead := func(nothing float64, spoilt bool) float64 {
		out := calmed(list(nothing), context, doubted, make([]bool, 3), spoilt, none)
		return out[1].Like - out[0].Like
	}
	if good, bad := ahead(-10*usualLeft, false), ahead(-10*usualLeft, true); good <= 0 || math.Abs(bad-good/2) > 1e-9 {
		t.Errorf("by a good path %.3f nats ahead, by a bad one %.3f, want half", good, bad)
	}
	if good, bad := ahead(-30, false), ahead(-30, true); good != bad || math.Abs(good-20) > 1e-9 {
		t.Errorf("little misread: %.3f nats ahead and %.3f by a bad path, want 20", good, bad)
	}
}

// What cells hardly read say for a hypothesis is shrunk, and with it in the same measure what they say for the others, so that their order stays;
// one that nothing wrong is better than stays as far below that. The best stays where it was: another screen is held against what it leaves misread.
func TestCalmedKeepsOrder(t *testing.T) {
	lane := func(bit int) *patterns.Fault { return &patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(bit)} }
	list := []patterns.Hypothesis{
		{Like: -40},
		{Like: -10, Gain: []float64{30, 0, 0, 0}, Fault: lane(1)},
		{Like: -20, Gain: []float64{20, 0, 0, 0}, Fault: lane(2)},
		{Like: -25, Fault: lane(3)}, // by cells not known
		{Like: -55, Gain: []float64{-15, 0, 0, 0}, Fault: lane(4)},
	}
	none := func(*patterns.Hypothesis) float64 { return 0 }
	// All of 30 nats is one observation: 30²/30²/2.
	good := -10 - 0.5
	want := []float64{good, good + 0.5, good + 0.5*20/30, good + 0.5*15/30, good - 15}
	for i, h := range calmed(list, []int{0, 1, 1, 2}, []bool{true, true, true, true}, make([]bool, 4), false, none) {
		if math.Abs(h.Like-want[i]) > 1e-9 {
			t.Errorf("hypothesis %d: %.4f, want %.4f", i, h.Like, want[i])
		}
	}
}

// Gains by sorts of cells, by hand: (sum)² / (sum of the sorts' squares) / 2.
func TestBySorts(t *testing.T) {
	for _, c := range []struct {
		gain    []float64
		context []int
		want    float64
	}{
		{[]float64{3, 4, 5}, []int{0, 1, 2}, 144.0 / 50 / 2},
		{[]float64{3, 4, 5}, []int{0, 0, 1}, 144.0 / 74 / 2},
		{[]float64{3, 4, 5}, []int{0, 0, 0}, 0.5},
		{[]float64{300, 400, 500}, []int{0, 0, 1}, 144.0 / 74 / 2}, // sure of each as one may be
		{[]float64{2, 2, 2, 2, 2, 2, 2, 2}, []int{0, 1, 2, 3, 4, 5, 6, 7}, 4},
		{[]float64{5, -2, 1}, []int{0, 1, 2}, 16.0 / 30 / 2},
		{[]float64{5, -6, 1}, []int{0, 1, 2}, 0},
		{[]float64{5, -9, 1}, []int{0, 1, 2}, 0},
		{[]float64{0, 0, 0}, []int{0, 1, 2}, 0},
	} {
		if got := bySorts(c.gain, c.context); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v in sorts %v: %.4f, want %.4f", c.gain, c.context, got, c.want)
		}
	}
}

// Cells that are read well stand at their word, the others by their sorts; in a capture of which much is misread all of them do.
func TestBorneOut(t *testing.T) {
	no := []bool{false, false, false}
	for _, c := range []struct {
		name    string
		gain    []float64
		doubted []bool
		plain   []bool
		all     bool
		want    float64
	}{
		{"none doubted", []float64{10, 3, 4}, no, no, false, 17},
		{"two doubted, of one sort", []float64{10, 3, 4}, []bool{false, true, true}, no, false, 10.5},
		{"two doubted, of two", []float64{10, 3, 4}, []bool{true, true, false}, no, false, 4 + 169.0/109/2},
		{"those read well speak against it", []float64{-10, 3, 4}, []bool{false, true, true}, no, false, 0.5},
		{"all", []float64{10, 3, 4}, no, no, true, 289.0 / 149 / 2},
		{"all but one of a plain colour", []float64{10, 3, 4}, no, []bool{true, false, false}, true, 10.5},
		{"all but one that no decoder spoils so", []float64{wholly, 3, 4}, no, no, true, wholly + 0.5},
	} {
		if got := borneOut(c.gain, []int{0, 1, 1}, c.doubted, c.plain, c.all); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %.4f, want %.4f", c.name, got, c.want)
		}
	}
}

// A decoder makes the same of bytes moved round or inverted, whatever their order, and of a pair of colours either way round.
func TestContexts(t *testing.T) {
	of := func(ink, paper int, rows ...uint8) analyse.Cell {
		c := analyse.Cell{Ink: ink, Paper: paper}
		for y := range c.Bits {
			c.Bits[y] = rows[y%len(rows)]
		}
		return c
	}
	c := &comparison{cells: []analyse.Cell{
		of(0, 7, 0xaa, 0x0f),                   // 0
		of(0, 7, 0x55, 0x0f),                   // moved by one: the same
		of(0, 7, 0xc3, 0x55),                   // moved by two, in another order
		of(7, 0, 0xf0, 0xaa),                   // inverted, colours the other way round
		of(0, 7, 0xaa, 0x07),                   // 1: another byte
		of(0, 6, 0xaa, 0x0f),                   // 2: another colour
		{Paper: 7, Ink: -1, Single: true},      // 3
		{Paper: 7, Ink: 2, Single: true},       // the ink does not show
		{Paper: 6, Ink: -1, Single: true},      // 4
		of(0, 7, 0xaa, 0x0f, 0x0f, 0xaa, 0xd5), // 5: one byte more
		of(0, 7, 0x13),                         // 6
		of(0, 7, 0x26),                         // moved by one, which is not its inverse
		of(0, 7, 0x31),                         // the other way
		of(0, 7, 0xec),                         // inverted, which is not it moved
		of(0, 7, 0x0b),                         // 7: as many pixels, mirrored
	}}
	want := []int{0, 0, 0, 0, 1, 2, 3, 3, 4, 5, 6, 6, 6, 6, 7}
	for i, got := range c.contexts() {
		if got != want[i] {
			t.Errorf("cell %d is of sort %d, want %d", i, got, want[i])
		}
	}
}

// Cells are in doubt where either capture hardly read them, and two colours show; a stated fill is meant as it is stated.
func TestDoubted(t *testing.T) {
	sure, hardly, one := analyse.Cell{Sure: 9}, analyse.Cell{Sure: 2}, analyse.Cell{Sure: 2, Single: true}
	c := &comparison{cells: []analyse.Cell{sure, hardly, sure, one, sure}, survey: &analyse.Survey{}}
	s := &analyse.Survey{Cells: []analyse.Cell{sure, sure, hardly, sure, one}}
	want := []bool{false, true, true, false, false}
	for i, got := range c.doubted(s) {
		if got != want[i] {
			t.Errorf("cell %d: %v", i, got)
		}
	}
	c.survey = nil
	for i, got := range c.doubted(s) {
		if got {
			t.Errorf("cell %d of a fill is in doubt", i)
		}
	}
}
