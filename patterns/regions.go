package patterns

import (
	"fmt"
	"math"

	"backporch/video/display"
)

// Describe names a fault in a few words.
func (f *Fault) Describe(p *display.Profile) string {
	colour := func(i *int) string {
		if i == nil || p == nil || *i < 0 || *i >= len(p.Colours) {
			return "unknown"
		}
		return p.Colours[*i].Name
	}
	part := ""
	if f.Part != "" {
		part = " (" + f.Part + ")"
	}
	switch {
	case f.Kind == "data-bit-stuck" && f.Memory == "colour":
		return fmt.Sprintf("colour memory bit %d lane stuck at %d%s", *f.Bit, *f.Level, part)
	case f.Kind == "data-bit-stuck":
		return fmt.Sprintf("data bit %d lane stuck at %d%s", *f.Bit, *f.Level, part)
	case f.Kind == "data-bit-weak":
		return fmt.Sprintf("data bit %d lane weak%s", *f.Bit, part)
	case f.Kind == "colour-path":
		state := "missing"
		if f.Level != nil && *f.Level == 1 {
			state = "stuck on"
		}
		return fmt.Sprintf("%s %s in picture and border%s", f.Component, state, part)
	case f.Kind == "border-latch":
		return fmt.Sprintf("border latch: %s where %s should be%s", colour(f.Seen), colour(f.Expected), part)
	case f.Kind == "blank-picture":
		return "blank picture: the video logic draws nothing" + part
	case f.Kind == "power-up-pattern":
		return "memory as it wakes: the processor side does not run"
	case f.Kind == "address-line-stuck":
		at := ""
		if f.Level != nil {
			at = fmt.Sprintf(" at %d", *f.Level)
		}
		return fmt.Sprintf("address %s stuck%s%s%s", many("line", f.Lines), at, onLanes(f.Lanes), part)
	case f.Kind == "row-dead" && f.Row != nil:
		return fmt.Sprintf("row %d of data bit %d dead%s", *f.Row, *f.Bit, part)
	case f.Kind == "column-dead" && f.Column != nil:
		return fmt.Sprintf("column %d of data bit %d dead%s", *f.Column, *f.Bit, part)
	case f.Kind == "refresh-loss":
		return "memory not refreshed" + onLanes(f.Lanes) + part
	case f.Kind == "supply-or-all-lanes":
		return "most memory lanes wrong: supply or what they share"
	case f.Kind == "cell-fetch":
		return "cell fetch: " + f.Columns + " wrong" + part
	case f.Kind == "line-counter" && f.CounterBit != nil:
		return fmt.Sprintf("line counter bit %d stuck%s", *f.CounterBit, part)
	case f.Kind == "cell-snow":
		return "bytes wrong for single fields at scattered cells" + part
	case f.Kind == "shift-register":
		return "shift register: the pixels of every cell wrong the same way" + part
	case f.Kind == "flash-dead":
		return "flashing cells stand still" + part
	case f.Kind == "character-generator":
		return "character generator" + part
	case f.Kind == "no-signal":
		return "no signal"
	case f.Kind == "sync-weak":
		return "weak sync"
	case f.Kind == "noise":
		return "noise on the signal path"
	}
	if name := pathName(f); name != "" {
		return name
	}
	return f.Kind + part
}

// many names one or several numbered things.
func many(what string, n []int) string {
	switch len(n) {
	case 0:
		return what
	case 1:
		return fmt.Sprintf("%s %d", what, n[0])
	}
	return what + "s " + list(n)
}

// onLanes names lanes unless they are all eight.
func onLanes(n []int) string {
	if len(n) == 0 || len(n) == 8 {
		return ""
	}
	return " on data " + many("bit", n)
}

// regions outlines what shows the fault; nothing on frames that do not lie as the picture was read.
func (c *conclusion) regions() {
	if c.e == nil || c.s.Straightened || len(c.v.Faults) == 0 || c.v.Class == Clean || c.v.Class == Undetermined {
		return
	}
	f := c.v.Faults[0]
	if f.Probability < 0.5 {
		return
	}
	reg := c.s.Registration
	rect := func(x, y, w, h float64, label string) Region {
		left, top := reg.OriginX+x*reg.PitchX, reg.OriginY+y*reg.PitchY
		return Region{
			X: int(math.Round(left)), Y: int(math.Round(top)),
			W: max(1, int(math.Round(w*reg.PitchX))), H: max(1, int(math.Round(h*reg.PitchY))), Label: label,
		}
	}
	switch {
	case f.Kind == "data-bit-stuck" && c.p.Kind == display.Attr:
		for column := range c.p.Columns() {
			c.v.Regions = append(c.v.Regions, rect(float64(column*8+7-*f.Bit), 0, 1, float64(c.p.Height), fmt.Sprintf("bit %d", *f.Bit)))
		}
	case f.Class == RAMBit && f.Bit != nil:
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
