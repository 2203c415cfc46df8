package judge

import (
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video/display"
)

// A screen of two pairs of colours, one of them read with ink and paper changed round: a column of a chip that reads 0 shows as ones there. Turned, the image has the
// true bytes in the cells of that pair and leaves the others, for half the probability, and the column is found.
func TestOriented(t *testing.T) {
	const lane, column = 2, 17
	p := analysetest.Profile(t, "attr-256x192-50")
	cells := make([]analyse.Cell, p.Rows()*p.Columns())
	for i := range cells {
		c := &cells[i]
		c.Row, c.Column, c.Ink, c.Paper = i/p.Columns(), i%p.Columns(), 0, 7
		for y := range c.Bits {
			c.Bits[y] = 0x3c
		}
		if c.Row >= 12 { // truly ink 6 on paper 1, read the other way round
			c.Ink, c.Paper = 1, 6
			for y := range c.Bits {
				c.Bits[y] = ^c.Bits[y]
			}
		}
	}
	m := newImage(p, cells)
	wrong := make([]uint8, len(m.bytes))
	dead := m.deadAt(column, true)
	for i := range cells {
		for _, a := range m.lines[i] {
			if dead(a) && cells[i].Row >= 12 { // where the upper cells hold a 1 it shows; here all is told by the lower ones
				wrong[a] = 1 << lane
			}
		}
	}
	if _, columns := m.deadliest(wrong, lane, 0); len(columns) > 0 && columns[0] == column {
		t.Fatal("the column is found as it was read")
	}
	turned, bad, odds := m.oriented(wrong, lane, 0, nil)
	if _, columns := turned.deadliest(bad, lane, 0); len(columns) == 0 || columns[0] != column {
		t.Errorf("turned, columns %v, want %d", columns, column)
	}
	if odds > -0.69 || odds < -0.70 {
		t.Errorf("%.3f nats for one pair against its usual reading, want ln of a half", odds)
	}
	for i := range cells {
		want, colour := cells[i].Bits[0], display.AttrColour{Ink: cells[i].Ink, Paper: cells[i].Paper}
		if cells[i].Row >= 12 {
			want, colour.Ink, colour.Paper = ^want, colour.Paper, colour.Ink
		}
		if got := turned.bytes[m.lines[i][0]]; got != want || turned.bytes[m.colour[i]] != display.JoinColour(colour) {
			t.Fatalf("cell %d: %08b, want %08b, in %v", i, got, want, display.SplitColour(turned.bytes[m.colour[i]]))
		}
	}
}
