package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
)

// Krichevsky and Trofimov's sequence probabilities by hand: one of two 1/8, two of two 3/8, one of one 1/2.
func TestOpenBitsCost(t *testing.T) {
	cell := func(paper int) *analyse.Cell { return &analyse.Cell{Single: true, Paper: paper, Ink: -1} }
	var o openBits
	from := tile{ink: -1, paper: 6, openPaper: 1}
	o.count(&from, cell(7))
	o.count(&from, cell(6))
	both := tile{ink: -1, paper: 6, openPaper: 3}
	o.count(&both, cell(7)) // bit 0: two of three, bit 1: one of one
	known := tile{ink: -1, paper: 6}
	o.count(&known, cell(7))
	want := -math.Log(1.0/8*(1.5/3)) - math.Log(1.0/2)
	if got := o.cost(); math.Abs(got-want) > 1e-9 {
		t.Errorf("%.6f nats, want %.6f", got, want)
	}
	// Of an ink only cells that show one tell.
	ink := tile{ink: 6, paper: 0, openInk: 1}
	o.count(&ink, cell(0))
	o.count(&ink, &analyse.Cell{Paper: 0, Ink: 7})
	want += math.Ln2
	if got := o.cost(); math.Abs(got-want) > 1e-9 {
		t.Errorf("with an ink %.6f nats, want %.6f", got, want)
	}
	// A cell that was read the other way round shows the paper as its ink.
	var turned openBits
	turned.count(&from, &analyse.Cell{Paper: 2, Ink: 7})
	if turned.paper.set[0] != 1 || turned.paper.of[0] != 1 {
		t.Errorf("read the other way round: %+v", turned)
	}
}

// What was black takes its brightness from the cell's other colour, and has either where that is black or unknown.
func TestLitAfter(t *testing.T) {
	for _, c := range []struct{ was, now, want tile }{
		{tile{ink: 12, paper: 8}, tile{ink: 14, paper: 10}, tile{ink: 14, paper: 10}},
		{tile{ink: 12, paper: 0}, tile{ink: 14, paper: 2}, tile{ink: 14, paper: 10}},
		{tile{ink: 4, paper: 8}, tile{ink: 6, paper: 10}, tile{ink: 6, paper: 2}},
		{tile{ink: -1, paper: 0}, tile{ink: -1, paper: 2}, tile{ink: -1, paper: 2, openPaper: 8}},
		{tile{ink: 0, paper: 8}, tile{ink: 2, paper: 10}, tile{ink: 2, paper: 10, openInk: 8, openPaper: 8}},
		{tile{ink: 1, paper: 0}, tile{ink: 0, paper: 0}, tile{ink: 0, paper: 0}},
	} {
		if got := c.now.litAfter(c.was); got != c.want {
			t.Errorf("%+v from %+v: %+v, want %+v", c.now, c.was, got, c.want)
		}
	}
}

// Where colour is lost the border's colour accuses no latch; where it is not, it does as before.
func TestBorderWithoutColour(t *testing.T) {
	for _, lost := range []float64{0.1, 0.9} {
		logic := []patterns.Hypothesis{{Like: -12}, {Like: -2, Fault: &patterns.Fault{Kind: "border-latch"}}}
		dazzled(logic, []patterns.Hypothesis{{Like: 1 - lost}, {Like: lost, Fault: &patterns.Fault{Kind: "colour-lost"}}}, nil)
		want := -2.0
		if lost > 0.5 {
			want = -12
		}
		if logic[1].Like != want {
			t.Errorf("colour lost with %.1f: %.1f nats, want %.1f", lost, logic[1].Like, want)
		}
	}
}

// A comb takes the border's colour into the picture's first and last line: an empty picture stays one. In another line it is drawn.
func TestBlankBesideBorder(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, c := range []struct {
		row, line int
		want      bool
	}{{0, 0, true}, {23, 7, true}, {0, 1, false}, {5, 0, false}, {23, 0, false}} {
		s := &analyse.Survey{}
		for i := range p.Rows() * p.Columns() {
			cell := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Single: true, Ink: -1, Sure: 20}
			if cell.Row == c.row && i%3 == 0 {
				cell.Single, cell.Ink, cell.Bits[c.line] = false, 2, 0x49
			}
			s.Cells = append(s.Cells, cell)
		}
		if _, got := gather(s, p).blank(); got != c.want {
			t.Errorf("row %d, line %d: blank %v", c.row, c.line, got)
		}
	}
}

// What all colours say of a lane of their memory counts for it once it is plain, less what the pixels say against it.
func TestHeldLane(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, c := range []struct {
		name       string
		gain, cell float64 // of the colours, of the pixels
		want       float64
	}{
		{"not plain", plainlyHeld, 3, -18},
		{"plain", 28, 3, 28},
		{"pixels against it", 28, -10, 18},
		{"as before where that is more", 28, -60, -18},
	} {
		e := &evidence{p: p, s: &analyse.Survey{}}
		e.s.Levels.Lanes = []analyse.HeldLane{{Bit: 0, Level: 0, Gain: c.gain}, {Bit: 1, Level: 0, Gain: 90}}
		list := []patterns.Hypothesis{{}, {Like: -18, Gain: []float64{c.cell}, Fault: &patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(0), Level: ptr(0)}}}
		e.heldBack(list)
		if got := list[1].Like; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.1f nats, want %.1f", c.name, got, c.want)
		}
	}
}

// Where the path has changed all colours a lane that is wrong in the colours alone is none; one that is wrong in the bitmap too is, and so is any by a good path.
func TestTinted(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	cells := make([]analyse.Cell, p.Rows()*p.Columns())
	for i := range cells {
		cells[i] = analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Single: true, Ink: -1, Paper: 7}
	}
	for _, c := range []struct {
		name       string
		kind       string
		bitmap     int // bytes of it that are wrong
		want, like float64
	}{
		{"colours alone, level too low", "level-low", 0, -50, -30},
		{"in the bitmap as well", "level-low", 30, -30, -30},
		{"by a path that leaves colours", "hum", 0, -30, -30},
		{"worse than good already", "hue-shift", 0, -60, -60},
	} {
		m := &comparison{memory: newImage(p, cells), wrong: make([]uint8, 1<<(p.RowBits+p.ColumnBits))}
		for k := range 40 {
			m.wrong[p.ColourBase+7*k] = 1 << 3
		}
		for k := range c.bitmap {
			m.wrong[11*k] = 1 << 3
		}
		logic := []patterns.Hypothesis{{Like: -50}, {Like: c.like, Fault: &patterns.Fault{Kind: "data-bit-weak", Bit: ptr(3)}}}
		m.tinted(logic, []patterns.Hypothesis{{Like: 0.2}, {Like: 0.8, Fault: &patterns.Fault{Kind: c.kind}}})
		if logic[1].Like != c.want {
			t.Errorf("%s: %.0f nats, want %.0f", c.name, logic[1].Like, c.want)
		}
	}
}

// Of what lanes share one has no more than its part: a lane by itself is neither the supply's nor decay.
func TestOneLaneIsNoSupply(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	s := &analyse.Survey{}
	for i := range p.Rows() * p.Columns() {
		s.Cells = append(s.Cells, analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Ink: 0, Paper: 7, Sure: 20, Bits: [8]uint8{0x3c, 0x42, 0x42, 0x7e, 0x42, 0x42}})
	}
	e := gather(s, p)
	m := &comparison{cells: s.Cells, columns: p.Columns(), soft: 1, border: -1}
	image, _ := m.behind(e)
	for _, lanes := range []int{1, 8} {
		wrong := make([]uint8, len(image.bytes))
		for k := range 500 {
			wrong[12*k] = uint8(1<<lanes - 1)
		}
		const plain = 4000 * 7.0 // what eight lanes cost bit by bit
		for _, h := range m.allLanes(e, image, wrong, 7, plain, 0) {
			if alone := h.Like < -plain; alone != (lanes == 1) {
				t.Errorf("%d lanes, %s: %.0f nats where nothing wrong has %.0f", lanes, h.Fault.Kind, h.Like, -plain)
			}
		}
	}
}
