package judge

import (
	"fmt"
	"math"

	"backporch/patterns"
	"backporch/video/display"
)

// regions outlines what shows the fault; nothing on frames that do not lie as the picture was read.
func (c *conclusion) regions() {
	if c.e == nil || c.s.Straightened || len(c.v.Faults) == 0 || c.v.Class == patterns.Clean || c.v.Class == patterns.Undetermined {
		return
	}
	f := c.v.Faults[0]
	if f.Probability < 0.5 {
		return
	}
	reg := c.s.Registration
	rect := func(x, y, w, h float64, label string) patterns.Region {
		left, top := reg.OriginX+x*reg.PitchX, reg.OriginY+y*reg.PitchY
		return patterns.Region{
			X: int(math.Round(left)), Y: int(math.Round(top)),
			W: max(1, int(math.Round(w*reg.PitchX))), H: max(1, int(math.Round(h*reg.PitchY))), Label: label,
		}
	}
	switch {
	case f.Kind == "data-bit-stuck" && c.p.Kind == display.Attr:
		for column := range c.p.Columns() {
			c.v.Regions = append(c.v.Regions, rect(float64(column*8+7-*f.Bit), 0, 1, float64(c.p.Height), fmt.Sprintf("bit %d", *f.Bit)))
		}
	case f.Class == patterns.RAMBit && f.Bit != nil:
		for _, i := range c.wrongCells(*f.Bit) {
			cell := &c.s.Cells[i]
			c.v.Regions = append(c.v.Regions, rect(float64(cell.Column*8), float64(cell.Row*8), 8, 8, fmt.Sprintf("bit %d", *f.Bit)))
		}
	case f.Kind == "blank-picture", f.Kind == "power-up-pattern":
		c.v.Regions = append(c.v.Regions, rect(0, 0, float64(c.p.Width), float64(c.p.Height), "picture area"))
	case f.Kind == "border-latch":
		c.v.Regions = append(c.v.Regions, rect(float64(-c.p.BorderLeft), float64(-c.p.BorderTop),
			float64(c.p.BorderLeft+c.p.Width+c.p.BorderRight), float64(c.p.BorderTop), "border"))
	}
}

// wrongCells are the cells in which a lane shows something wrong, as far as is known.
func (c *conclusion) wrongCells(bit int) []int {
	var out []int
	for i := range c.s.Cells {
		seen := &c.s.Cells[i]
		wrong := false
		if m := c.s.Memory; m != nil && m.Changed != nil && c.p.Kind == display.Attr {
			for y := range 8 {
				wrong = wrong || m.Changed[c.p.BitmapAddress(seen.Row*8+y, seen.Column)*8+bit] > 0
			}
			wrong = wrong || m.Changed[c.p.CellAddress(seen.Row, seen.Column)*8+bit] > 0
		}
		switch {
		case c.against == nil:
		case c.p.Kind == display.Text && c.against.text != nil && c.s.Text != nil:
			a, b := c.s.Text.Codes[i], c.against.text.Codes[i]
			wrong = wrong || a >= 0 && b >= 0 && (a^b)>>bit&1 == 1
		case c.p.Kind == display.Attr:
			by, _ := c.against.differ(tileOf(&c.against.cells[i]), seen)
			wrong = wrong || by[bit] > 0
		}
		if c.against == nil && c.e.odd(i, bit) {
			wrong = true
		}
		if wrong {
			out = append(out, i)
		}
	}
	return out
}

// odd tells whether a cell breaks in one lane with the cells like it.
func (e *evidence) odd(cell, bit int) bool {
	c := &e.s.Cells[cell]
	mask := ^uint8(1 << bit)
	same, other := 0, 0
	for i := range e.s.Cells {
		d := &e.s.Cells[i]
		if d.Paper != c.Paper {
			continue
		}
		like, equal := true, true
		for y := range d.Bits {
			like = like && d.Bits[y]&mask == c.Bits[y]&mask
			equal = equal && d.Bits[y] == c.Bits[y]
		}
		if like && equal {
			same++
		} else if like {
			other++
		}
	}
	return other > 2*same
}
