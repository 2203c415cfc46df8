package judge

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video/display"
)

// What flashes, beside a good machine.

// flashing adds what flashes and what doesn't: cells that do with the good machine and stand still here, or the other way round,
// speak against all but a dead flash, or a lane that carries it. Nothing is said where either was seen too shortly.
func (c *comparison) flashing(e *evidence, list []patterns.Hypothesis) []patterns.Hypothesis {
	if c.survey == nil || e.p.Kind != display.Attr || !seenFlash(e.s, e.p) || !seenFlash(c.survey, e.p) {
		return list
	}
	still, begun, both := 0, 0, 0
	var changed []int // the addresses of those that do in one alone
	for i := range e.s.Cells {
		a := &c.cells[i]
		if a.Single && !a.Flash || !a.Single && math.Abs(e.p.Colours[a.Ink].Y-e.p.Colours[a.Paper].Y) < 0.35 {
			continue // it hardly shows
		}
		switch good, here := c.cells[i].Flash, e.s.Cells[i].Flash; {
		case good && !here && e.restlessCell(i):
			both++ // it changes, if not as clearly
		case good && !here:
			still++
			changed = append(changed, e.p.ColourBase+i)
		case here && !good:
			begun++
			changed = append(changed, e.p.ColourBase+i)
		case here && good:
			both++
		}
	}
	cost := func(n int) float64 {
		if n == 0 {
			return 0
		}
		return math.Min(12, 3+3*float64(n)) // one by itself is seldom missed or misread
	}
	for i := range list {
		f := list[i].Fault
		switch {
		case f != nil && f.Kind == "data-bit-stuck" && *f.Bit == flashBit && *f.Level == 0:
			list[i].Like -= cost(begun) + cost(both)
		case f != nil && f.Kind == "data-bit-stuck" && *f.Bit == flashBit:
			list[i].Like -= cost(still)
		case f != nil && (f.Row != nil || f.Column != nil): // the flash bits at other addresses are as they should be
			n := 0
			for _, a := range changed {
				row, column := e.p.ChipAddress(a)
				if *f.Bit != flashBit || f.Row != nil && row != *f.Row || f.Column != nil && column != *f.Column {
					n++
				}
			}
			list[i].Like -= cost(n)
		case f != nil && f.Class == patterns.RAMBit && (f.Bit == nil || *f.Bit == flashBit):
		default:
			list[i].Like -= cost(still) + cost(begun)
		}
	}
	dead := patterns.KindOf("flash-dead")
	return append(list, patterns.Hypothesis{
		Fault: &patterns.Fault{Class: dead.Class, Kind: dead.Name}, Prior: math.Log(dead.Prior),
		Like: list[0].Like + cost(still) - cost(both) - 3*math.Max(0, float64(1-still)),
		Why:  []string{fmt.Sprintf("%d cells that flash on %s stand still here", still, c.what)},
	})
}

// restlessCell tells whether bits of a cell's pattern change over time.
func (e *evidence) restlessCell(i int) bool {
	m, c := e.s.Memory, &e.s.Cells[i]
	n := 0
	for y := range 8 {
		a := e.p.BitmapAddress(c.Row*8+y, c.Column)
		for lane := range 8 {
			if changed, _ := e.changes(a, lane); changed {
				n++
			}
		}
	}
	return len(m.Changed) > 0 && n >= leastRestless
}

// leastRestless is how many of a cell's pixels must change for the cell not to stand still.
const leastRestless = 4

// seenFlash tells whether a capture is long enough to show what flashes.
func seenFlash(s *analyse.Survey, p *display.Profile) bool {
	return s.Memory != nil && s.Memory.Seen[p.ColourBase]&0x80 != 0
}
