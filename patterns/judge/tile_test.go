package judge

import (
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// The colour in strokes is the one that covers a third of the cell or less.
func TestStrokeOf(t *testing.T) {
	for _, c := range []struct {
		rows [8]uint8
		want int
	}{
		{[8]uint8{}, noStroke},
		{[8]uint8{0x10, 0x10, 0x10}, inkStroke},
		{[8]uint8{0xff, 0xff, 0x1f}, inkStroke},            // 21 pixels
		{[8]uint8{0xff, 0xff, 0x3f}, noStroke},             // 22
		{[8]uint8{0xff, 0xff, 0xff, 0xff, 0xff}, noStroke}, // 40
		{[8]uint8{0xff, 0xff, 0xff, 0xff, 0xff, 7}, paperStroke},
		{[8]uint8{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xfe}, paperStroke},
		{[8]uint8{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}, noStroke},
	} {
		if got := strokeOf(&c.rows); got != c.want {
			t.Errorf("%x: %d, want %d", c.rows, got, c.want)
		}
	}
}

// Another colour of strokes is no difference where either capture is not sure of the cell's colours: chroma has no pixels. Their pattern is, and
// so is the colour of what they stand on, and where both are sure.
func TestColourOfStrokes(t *testing.T) {
	stroke := [8]uint8{1: 0x10, 2: 0x10, 3: 0x38, 4: 0x10} // 6 pixels
	moved := stroke
	moved[2] = 0x20
	for _, c := range []struct {
		name       string
		rows       [8]uint8
		ink, paper int
		unsure     bool
		wrong      float64
	}{
		{"as expected", stroke, 2, 7, true, 0},
		{"another ink, unsure", stroke, 3, 7, true, 0},
		{"another ink, sure", stroke, 3, 7, false, 6},
		{"another pattern and ink, unsure", moved, 3, 7, true, 2},
		{"another paper, unsure", stroke, 2, 6, true, 58},
	} {
		m := &comparison{soft: 1, columns: 1, unsure: []bool{c.unsure}}
		seen := &analyse.Cell{Bits: c.rows, Ink: c.ink, Paper: c.paper}
		want := tile{rows: stroke, ink: 2, paper: 7}
		if _, n := m.differ(want, seen); n != c.wrong {
			t.Errorf("%s: %.0f pixels wrong, want %.0f", c.name, n, c.wrong)
		}
		// The same picture with the colours the other way round, on either side.
		turned := tileOf(seen).inverted()
		seen.Bits, seen.Ink, seen.Paper = turned.rows, turned.ink, turned.paper
		if _, n := m.differ(want, seen); n != c.wrong {
			t.Errorf("%s, seen inverted: %.0f pixels wrong, want %.0f", c.name, n, c.wrong)
		}
		if _, n := m.differ(want.inverted(), seen); n != c.wrong {
			t.Errorf("%s, both inverted: %.0f pixels wrong, want %.0f", c.name, n, c.wrong)
		}
	}
}

// Colours are in doubt where the less sure of the two captures is below the limit; a Text display's are not judged so.
func TestUnsure(t *testing.T) {
	list := func(sure ...float32) *analyse.Survey {
		s := &analyse.Survey{}
		for _, v := range sure {
			s.Cells = append(s.Cells, analyse.Cell{Sure: v})
		}
		return s
	}
	seen, good := list(20, 3, 20, sureStroke), list(20, 20, 3, sureStroke)
	got := unsure(seen, good, analysetest.Profile(t, "attr-256x192-50"))
	for i, want := range []bool{false, true, true, false} {
		if got[i] != want {
			t.Errorf("cell %d: %v", i, got[i])
		}
	}
	if unsure(seen, good, analysetest.Profile(t, "text-40x25-50")) != nil {
		t.Error("cells of a Text display are in doubt")
	}
}

// A screen is striped where nine cells of ten show one pattern of both colours, but for two lines each.
func TestStriped(t *testing.T) {
	bars := [8]uint8{0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55}
	spoilt := func(lines int) analyse.Cell {
		c := analyse.Cell{Bits: bars}
		for y := range lines {
			c.Bits[y] = 0x5d
		}
		return c
	}
	many := func(n int, c analyse.Cell, m int, d analyse.Cell) *comparison {
		out := &comparison{}
		for range n {
			out.cells = append(out.cells, c)
		}
		for range m {
			out.cells = append(out.cells, d)
		}
		return out
	}
	blank := analyse.Cell{Single: true}
	for _, c := range []struct {
		name string
		of   *comparison
		want bool
	}{
		{"all", many(100, spoilt(0), 0, blank), true},
		{"nine of ten", many(90, spoilt(0), 10, blank), true},
		{"fewer", many(89, spoilt(0), 11, blank), false},
		{"two lines misread in many", many(60, spoilt(0), 40, spoilt(2)), true},
		{"three lines", many(60, spoilt(0), 40, spoilt(3)), false},
		{"of one colour, the ink's", many(100, analyse.Cell{Single: true, Bits: [8]uint8{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}}, 0, blank), false},
		{"of one colour", many(100, blank, 0, blank), false},
		{"one cell among blank ones", many(1, spoilt(0), 99, blank), false},
	} {
		if got := c.of.striped(); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
