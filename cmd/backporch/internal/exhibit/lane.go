package exhibit

import (
	"fmt"
	"image"
	"image/color"
	"math/bits"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video/display"
	"backporch/video/still"
)

// lane shows a memory bit's columns where they are seen best, the good machine at the
// same place, and the table of differences.
func (f *Finding) lane(fault *patterns.Fault) []still.Exhibit {
	across := 3 // cells: the columns of pixels are to be told apart
	if f.Profile.Kind == display.Text {
		across = 5 // the characters are
	}
	x, y := f.place(fault, across)
	bitmap := f.Profile.Kind == display.Attr && fault.Bit != nil && fault.Memory != "colour"
	bit := -1
	title := "Enlarged"
	if fault.Bit != nil && fault.Probability >= likely {
		bit = *fault.Bit
		if bitmap {
			title = fmt.Sprintf("Enlarged: bit %d of each byte", bit)
		}
	}
	wide := 8 * across
	out := []still.Exhibit{f.pixels(title, f.Survey, nil, x, y, wide, bit, bitmap)}
	if r := f.Reference; r != nil && r.Registration.OK && r.Stack != nil {
		out = append(out, f.pixels("The same place on a good machine", r, FieldOf(r.Stack), x, y, wide, -1, bitmap))
	}
	if rows := f.Verdict.Table; len(rows) > 0 {
		e := still.Exhibit{Title: "What should be there, and what is"}
		for _, d := range rows[:min(len(rows), 8)] {
			e.Rows = append(e.Rows, still.Row{Expected: d.Expected, Seen: d.Seen, Glyphs: d.Where != "bitmap", Cells: d.Cells})
		}
		out = append(out, e)
	}
	return out
}

// place is the pixel and line from which so many cells, by two rows, show a lane best: cells that
// differ from the good machine's, that are marked, and that have something drawn.
func (f *Finding) place(fault *patterns.Fault, across int) (x, y int) {
	s, p := f.Survey, f.Profile
	columns, rows := p.Columns(), p.Rows()
	if len(s.Cells) != columns*rows {
		return 0, 0
	}
	score := make([]float64, len(s.Cells))
	mask := ^uint8(0)
	if fault.Bit != nil && p.Kind == display.Attr {
		mask ^= 1 << *fault.Bit
	}
	for i := range s.Cells {
		c := &s.Cells[i]
		if c.Single {
			continue
		}
		drawn, differ := 0, 0
		for line, b := range c.Bits {
			drawn += bits.OnesCount8(b & mask)
			if r := f.Reference; r != nil && len(r.Cells) == len(s.Cells) && p.Kind == display.Attr {
				differ += bits.OnesCount8((b ^ r.Cells[i].Bits[line]) &^ mask)
			}
		}
		if r := f.Reference; p.Kind == display.Text && r != nil && r.Text != nil && s.Text != nil && s.Text.Codes[i] != r.Text.Codes[i] {
			differ = 4
		}
		score[i] = 0.5 + float64(min(drawn, 6, max(0, 48-drawn)))/2 + 2*float64(min(differ, 4))
		if c.Ink >= 0 && c.Paper >= 0 { // nothing is seen of blue on black
			y, u, v := difference(p, c)
			score[i] *= min(1, 2*y+u+v)
		}
	}
	for _, r := range f.Verdict.Regions {
		column := int((float64(r.X+r.W/2) - s.Registration.OriginX) / s.Registration.PitchX / 8)
		row := int((float64(r.Y+r.H/2) - s.Registration.OriginY) / s.Registration.PitchY / 8)
		if r.W > 8 && r.H <= 16 && column >= 0 && column < columns && row >= 0 && row < rows {
			score[row*columns+column] += 8
		}
	}
	best := -1.0
	for row := 0; row+1 < rows; row++ {
		for column := 0; column+across <= columns; column++ {
			sum := 0.0
			for i := range across {
				sum += score[row*columns+column+i] + score[(row+1)*columns+column+i]
			}
			if sum > best {
				best, x, y = sum, column*8, row*8
			}
		}
	}
	return x, y
}

func difference(p *display.Profile, c *analyse.Cell) (y, u, v float64) {
	if c.Ink >= len(p.Colours) || c.Paper >= len(p.Colours) {
		return 0, 0, 0
	}
	a, b := p.Colours[c.Ink], p.Colours[c.Paper]
	abs := func(v float64) float64 { return max(v, -v) }
	return abs(a.Y - b.Y), abs(a.U - b.U), abs(a.V - b.V)
}

// rgba is a palette colour for the eye.
func (f *Finding) rgba(index int) color.RGBA {
	if index < 0 || index >= len(f.Profile.Colours) {
		return color.RGBA{A: 255}
	}
	r, g, b := f.Profile.Colours[index].RGB()
	code := func(v float64) uint8 { return uint8(max(0, min(1, v))*255 + 0.5) }
	return color.RGBA{code(r), code(g), code(b), 255}
}

// whole is all of a field.
func whole(width, height int) image.Rectangle { return image.Rect(0, 0, width, height) }
