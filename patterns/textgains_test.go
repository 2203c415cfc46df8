package patterns

import (
	"encoding/binary"
	"testing"

	"backporch/video/display"
)

// A few cells of one row of the chips that show an unlikely character, and would a likely one but for the same bit, are that row's, if such cells stand nowhere
// else: as many that lie in no row are not, and blanks that look alike with the bit at either level say nothing against it.
func TestFewCellsOfADeadRow(t *testing.T) {
	for _, apart := range []int{128, 123} {
		codes := program(0)
		for i := range 800 { // figures in columns, as of a table
			if i%8 < 5 {
				codes[i] = '0' + (i*7+i/8*3+i/40)%10
			}
		}
		for k := range 7 {
			codes[26+apart*k] &^= 1 << 5 // a graphic in place of a figure, a space as before
		}
		s, p := typed(t, codes, white)
		v := Classify(s, p, Options{})
		dead := v.Class == RAMBit && v.Faults[0].Kind == "row-dead"
		if dead != (apart == 128) || dead && (*v.Faults[0].Row != 26 || *v.Faults[0].Bit != 5 || *v.Faults[0].Level != 0) {
			t.Errorf("%d apart: said %s, %s, %v", apart, v.Class, textIdentity(&v.Faults[0]), v.Why)
		}
	}
}

// A cell that a decoder has spoilt is likely the one glyph that it is nearest to, and none where two are as near or none is.
func TestLikelyCode(t *testing.T) {
	s, p := typed(t, program(10), white)
	g := display.ShippedFont().Glyph('Q')
	rows := binary.BigEndian.Uint64(g[:])
	far := rows ^ 0x8142241818244281 ^ 0x0000ff00ff000000
	for i, v := range []uint64{rows, rows ^ 0x0100000000008101, far} {
		binary.BigEndian.PutUint64(s.Cells[i].Bits[:], v)
		s.Cells[i].Single, s.Cells[i].Ink = false, 3
	}
	page := pageOf(s, p, &forms{})
	page.code[1] = -1 // as where noise has more wrong than is read
	for i, want := range []int{'Q', 'Q', -1} {
		if got := page.likely(i); got != want {
			t.Errorf("cell %d: %d, want %d", i, got, want)
		}
	}
}
