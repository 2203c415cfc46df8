package characters

import (
	"encoding/binary"
	"testing"

	"backporch/patterns/characters/screentest"
	"backporch/video/display"
)

// A cell that a decoder has spoilt is likely the one glyph that it is nearest to, and none where two are as near or none is.
func TestLikelyCode(t *testing.T) {
	s, p := screentest.Typed(t, screentest.Program(10), screentest.White)
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
