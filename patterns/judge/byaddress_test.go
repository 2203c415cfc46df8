package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
)

// writtenOver is a screen of 768 cells of four letters by turns, and what is wrong on it by now; line 8 is a cell's colours.
func writtenOver(t *testing.T, now func(address, line int, cell *analyse.Cell) uint8) (*image, []uint8, []int) {
	p := analysetest.Profile(t, "attr-256x192-50")
	rng := rand.New(rand.NewPCG(3, 5))
	glyphs := [4][8]uint8{{0, 0x3c, 0x42, 0x42, 0x7e, 0x42, 0x42, 0}, {0, 0x7c, 0x42, 0x7c, 0x42, 0x42, 0x7c, 0}, {0, 0x7e, 0x40, 0x7c, 0x40, 0x40, 0x7e, 0}, {0, 0x3e, 8, 8, 8, 8, 0x3e, 0}}
	var cells []analyse.Cell
	var contexts []int
	for i := range p.Columns() * p.Rows() {
		k := rng.IntN(len(glyphs))
		cells = append(cells, analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Bits: glyphs[k], Ink: 1, Paper: 7, Sure: 20})
		contexts = append(contexts, k)
	}
	m := newImage(p, cells)
	wrong := make([]uint8, len(m.bytes))
	for i := range cells {
		for y, a := range m.lines[i] {
			wrong[a] = now(a, y, &cells[i])
		}
		wrong[m.colour[i]] = now(m.colour[i], 8, &cells[i])
	}
	return m, wrong, contexts
}

// A dead row is wrong wherever it can be and nowhere else; strokes that a decoder spoils are wrong in all letters of a sort, and speak for no row that
// they stand in.
func TestByAddress(t *testing.T) {
	const lane, row = 6, 40
	p := analysetest.Profile(t, "attr-256x192-50")
	dead := &patterns.Fault{Bit: ptr(lane), Level: ptr(1), Row: ptr(row)}
	held := &patterns.Fault{Kind: "address-line-stuck", Lines: []int{5}, Level: ptr(0), Lanes: []int{lane}}
	inRow := func(a int) bool { r, _ := p.ChipAddress(a); return r == row }
	spoilt := func(_, y int, c *analyse.Cell) uint8 { // the upright stroke of one letter in lane 6
		if c.Bits[2] == 0x40 && y > 1 && y < 8 {
			return 1 << lane
		}
		return 0
	}
	m, _, _ := writtenOver(t, spoilt)
	fold := m.addressWarp(1<<5, 0, 1<<lane)
	for _, c := range []struct {
		name       string
		now        func(a, y int, cell *analyse.Cell) uint8
		dead, held bool
	}{
		{"nothing", func(int, int, *analyse.Cell) uint8 { return 0 }, false, false},
		{"strokes spoilt", spoilt, false, false},
		{"row dead", func(a, y int, cell *analyse.Cell) uint8 {
			if inRow(a) && y < 8 && cell.Bits[y]>>lane&1 == 0 {
				return 1 << lane
			}
			return 0
		}, true, false},
		{"row dead and strokes spoilt", func(a, y int, cell *analyse.Cell) uint8 {
			out := spoilt(a, y, cell)
			if inRow(a) && y < 8 && cell.Bits[y]>>lane&1 == 0 {
				out |= 1 << lane
			}
			return out
		}, true, false},
		{"line held", func(_, y int, cell *analyse.Cell) uint8 {
			if y == 8 {
				return 0
			}
			lines, _ := fold(cell.Row*p.Columns() + cell.Column)
			return (lines[y].value ^ cell.Bits[y]) & lines[y].known
		}, false, true},
	} {
		m, wrong, contexts := writtenOver(t, c.now)
		if odds := m.deadOdds(wrong, contexts, dead); (odds > 12) != c.dead || !c.dead && odds > 0 {
			t.Errorf("%s: %.1f nats for the row", c.name, odds)
		}
		if odds := m.foldOdds(wrong, contexts, held); (odds > 12) != c.held || !c.held && odds > 0 {
			t.Errorf("%s: %.1f nats for the line", c.name, odds)
		}
		if rows, _ := m.deadliest(wrong, lane, 1); c.dead && (len(rows) == 0 || rows[0] != row) {
			t.Errorf("%s: rows %v, want %d first", c.name, rows, row)
		}
	}
}

// Where a dead row changes nothing of the pattern, the colours of its cells tell.
func TestByAddressOfColours(t *testing.T) {
	const lane, row = 0, 40 // no letter has that lane, all ink has
	p := analysetest.Profile(t, "attr-256x192-50")
	m, wrong, contexts := writtenOver(t, func(a, y int, _ *analyse.Cell) uint8 {
		if r, _ := p.ChipAddress(a); r == row && y == 8 {
			return 1 << lane
		}
		return 0
	})
	rows, _ := m.deadliest(wrong, lane, 0)
	if len(rows) == 0 || rows[0] != row {
		t.Fatalf("rows %v, want %d first", rows, row)
	}
	if odds := m.deadOdds(wrong, contexts, &patterns.Fault{Bit: ptr(lane), Level: ptr(0), Row: ptr(row)}); odds < 12 {
		t.Errorf("%.1f nats for the row", odds)
	}
	if odds := m.deadOdds(wrong, contexts, &patterns.Fault{Bit: ptr(lane), Level: ptr(0), Row: ptr(row + 1)}); odds > 0 {
		t.Errorf("%.1f nats for another row", odds)
	}
}
