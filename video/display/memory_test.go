package display

import (
	"testing"

	"pgregory.net/rapid"
)

// The addresses and counts below follow from the bit order A12..A0 = y7 y6 y2 y1 y0
// y5 y4 y3 c4..c0, worked out beside the code with shifts and sets.
func TestBitmapAddressOrder(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60"} {
		p := profiles(t)[name]
		reached := make([]bool, p.Size())
		for y := range p.Height {
			for c := range p.Columns() {
				a := p.BitmapAddress(y, c)
				if want := y>>6<<11 | y&7<<8 | y>>3&7<<5 | c; a != want {
					t.Fatalf("line %d, column %d: %d, want %d", y, c, a, want)
				}
				if gotY, gotC := p.BitmapPlace(a); gotY != y || gotC != c {
					t.Fatalf("address %d is at %d, %d, want %d, %d", a, gotY, gotC, y, c)
				}
				reached[a] = true
			}
		}
		for row := range p.Rows() {
			for c := range p.Columns() {
				if a := p.CellAddress(row, c); a != 6144+32*row+c {
					t.Fatalf("cell %d, %d: %d", row, c, a)
				}
				reached[p.CellAddress(row, c)] = true
			}
		}
		if p.Size() != 6912 {
			t.Errorf("%s has %d bytes", name, p.Size())
		}
		for a, ok := range reached {
			if !ok {
				t.Fatalf("%s: address %d shows nowhere", name, a)
			}
		}
	}
}

// An address pin stuck at 0 carries A(k) and A(k+7): 6912 places fold to these counts.
// A row of the chip holds 54 of them, and 54 columns of the chip hold any.
func TestChipAddressFolds(t *testing.T) {
	p := profiles(t)["attr-256x192-50"]
	for pin, want := range []int{1728, 1792, 1792, 1920, 2048, 2048, 3456} {
		reached := map[[2]int]bool{}
		for a := range p.Size() {
			row, column := p.ChipAddress(a)
			reached[[2]int{row &^ (1 << pin), column &^ (1 << pin)}] = true
		}
		if len(reached) != want {
			t.Errorf("pin %d at 0: %d places, want %d", pin, len(reached), want)
		}
	}
	rows, columns := map[int]int{}, map[int]int{}
	for a := range p.Size() {
		row, column := p.ChipAddress(a)
		rows[row]++
		columns[column]++
	}
	if len(rows) != 128 || len(columns) != 54 {
		t.Errorf("%d rows and %d columns hold the screen, want 128 and 54", len(rows), len(columns))
	}
	for row, n := range rows {
		if n != 54 {
			t.Errorf("row %d holds %d, want 54", row, n)
		}
	}
}

// Where one address line at 0 takes a bitmap byte: columns for A0..A4, whole character
// rows for A5..A7, lines for A8..A10, thirds for A11 and A12; and for a colour cell.
func TestAddressLineFolds(t *testing.T) {
	p := profiles(t)["attr-256x192-50"]
	for _, want := range []struct{ line, lines, columns, bytes, rows, cellColumns, cells int }{
		{0, 0, 1, 3072, 0, 1, 384}, {1, 0, 2, 3072, 0, 2, 384}, {2, 0, 4, 3072, 0, 4, 384}, {3, 0, 8, 3072, 0, 8, 384}, {4, 0, 16, 3072, 0, 16, 384},
		{5, 8, 0, 3072, 1, 0, 384}, {6, 16, 0, 3072, 2, 0, 384}, {7, 32, 0, 3072, 4, 0, 384},
		{8, 1, 0, 3072, 8, 0, 256}, {9, 2, 0, 3072, 16, 0, 256}, {10, 4, 0, 3072, 0, 0, 0},
		{11, 64, 0, 2048, -1, -1, 768}, {12, 128, 0, 2048, -1, -1, 768}, {13, 0, 0, 0, 0, 0, 0},
	} {
		bytes, cells := 0, 0
		for a := range p.Size() {
			folded := a &^ (1 << want.line)
			if folded == a {
				continue
			}
			if a < p.ColourBase {
				bytes++
				y, c := p.BitmapPlace(a)
				fy, fc := p.BitmapPlace(folded)
				if y-fy != want.lines || c-fc != want.columns {
					t.Fatalf("A%d: line %d, column %d folds to %d, %d", want.line, y, c, fy, fc)
				}
				continue
			}
			cells++
			if folded < p.ColourBase { // reads the bitmap
				if want.rows >= 0 {
					t.Fatalf("A%d: colour cell at %d reads the bitmap at %d", want.line, a, folded)
				}
				continue
			}
			if d := a - folded; d != 32*want.rows+want.cellColumns {
				t.Fatalf("A%d: colour cell at %d reads %d", want.line, a, folded)
			}
		}
		if bytes != want.bytes || cells != want.cells {
			t.Errorf("A%d: %d bytes and %d cells, want %d and %d", want.line, bytes, cells, want.bytes, want.cells)
		}
	}
}

func TestColourByteBits(t *testing.T) {
	// Bright yellow (110) ink on blue (001) paper, flashing: 1 1 001 110.
	if got := SplitColour(0b11001110); got != (AttrColour{Ink: 14, Paper: 9, Flash: true}) {
		t.Errorf("%+v", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.Byte().Draw(t, "colour byte")
		if got := JoinColour(SplitColour(b)); got != b {
			t.Fatalf("%08b became %08b", b, got)
		}
	})
}
