package characters

import (
	"testing"

	"backporch/patterns/characters/screentest"
)

// A column of the generator that is held at ink shows beside a reference though a slow path leaves a part of it in the column beside, which is read as ink in many cells
// (an edge that takes longer than a pixel, common practice, no source): each of them costs no misread character. A column that all glyphs have lost elsewhere does.
func TestHeldColumnThatRunsOver(t *testing.T) {
	for _, aside := range []uint8{0x80, 0x08} {
		codes := screentest.Program(12)
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, codes, screentest.White)
		over := 0
		for i := range s.Cells {
			c := &s.Cells[i]
			for y := range c.Bits {
				if c.Bits[y] |= 0x01; i%3 > 0 {
					c.Bits[y] |= aside
				}
			}
			if c.Single, c.Ink = false, 3; i%3 > 0 {
				over++
			}
		}
		f := &forms{}
		b := textCells{e: &Screen{Survey: s, Reference: good, Profile: p}, want: pageOf(good, p, f), seen: pageOf(s, p, f)}
		plain := b.weigh(b.plain, true)
		for _, u := range turns() {
			if u.fault.Kind != "character-generator" || u.fault.Bit == nil || *u.fault.Bit != 0 || *u.fault.Level != 1 {
				continue
			}
			if like := b.turned(u, plain); (like > -float64(over)) != (aside == 0x80) {
				t.Errorf("%#02x beside it in %d cells: %.0f nats, %.0f without", aside, over, like, plain)
			}
		}
	}
}
