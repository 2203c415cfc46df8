// Package palette measures the colours of a display from a good capture of a screen on which it is known
// which colour stands where: the even areas of each colour, away from their edges, for chroma is blurred over
// some five pixels.
package palette

import (
	"fmt"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/video"
	"backporch/video/display"
)

// A Screen says which palette indices a Text display shows where; -1 where that is not known.
type Screen struct {
	Inks   []int // by cell
	Paper  int
	Border int
}

// An Area is all that shows one colour: mean codes over so many samples of luma.
type Area struct {
	Index     int
	Y, Cb, Cr float64
	Samples   int
}

// edge is how much of a run of cells of one colour is left out at its sides, pixels.
const edge = 3.0

// Measure gives the colours that show in even areas, by index.
func Measure(s *analyse.Survey, p *display.Profile, o Screen) ([]Area, error) {
	if s.Stack == nil || !s.Registration.OK || len(s.Cells) != p.Rows()*p.Columns() {
		return nil, fmt.Errorf("the picture could not be placed: %s", s.Registration.Reason)
	}
	if s.Stack.ChromaWidth == 0 {
		return nil, fmt.Errorf("the capture has no colour")
	}
	if o.Inks != nil && len(o.Inks) != len(s.Cells) {
		return nil, fmt.Errorf("%d colours for a screen of %d cells", len(o.Inks), len(s.Cells))
	}
	paper := text.Background(s.Cells, p)
	index := make([]int, len(s.Cells)) // what fills a cell; -1: no one colour
	for i := range s.Cells {
		index[i] = -1
		switch c := &s.Cells[i]; {
		case !c.Single:
		case c.Paper == paper:
			index[i] = o.Paper
		case o.Inks != nil:
			index[i] = o.Inks[i]
		}
	}
	sums := map[int]*Area{}
	for row := range p.Rows() {
		for from := 0; from < p.Columns(); {
			to := from + 1
			for to < p.Columns() && index[row*p.Columns()+to] == index[row*p.Columns()+from] {
				to++
			}
			if k := index[row*p.Columns()+from]; k >= 0 {
				add(sums, s, k, row, from, to)
			}
			from = to
		}
	}
	if b := s.Border; o.Border >= 0 && b.Seen && b.Uniform {
		a := sums[o.Border]
		if a == nil {
			a = &Area{Index: o.Border}
			sums[o.Border] = a
		}
		const samples = 4000 // of the border that is mostly seen
		a.Y, a.Cb, a.Cr, a.Samples = a.Y+samples*b.Y, a.Cb+samples*b.Cb, a.Cr+samples*b.Cr, a.Samples+samples
	}
	var out []Area
	for _, a := range sums {
		if a.Samples < least {
			continue
		}
		n := float64(a.Samples)
		out = append(out, Area{a.Index, a.Y / n, a.Cb / n, a.Cr / n, a.Samples})
	}
	slices.SortFunc(out, func(a, b Area) int { return a.Index - b.Index })
	return out, nil
}

// least is how many samples a colour must have.
const least = 30

// add sums a run of cells of one colour, but for its ends and its first line, which a decoder's delay line mixes
// with the row above.
func add(sums map[int]*Area, s *analyse.Survey, index, row, from, to int) {
	reg, stack := s.Registration, s.Stack
	left := reg.OriginX + (float64(from*8)+edge)*reg.PitchX
	right := reg.OriginX + (float64(to*8)-edge)*reg.PitchX
	step := float64(stack.Width) / float64(stack.ChromaWidth)
	a := sums[index]
	if a == nil {
		a = &Area{Index: index}
		sums[index] = a
	}
	for y := 1; y < 8; y++ {
		line := int(math.Round(reg.OriginY + float64(row*8+y)*reg.PitchY))
		if line < 0 || line >= stack.Height {
			continue
		}
		for x := max(0, int(math.Ceil(left))); x < min(stack.Width, int(right)); x++ {
			c := line*stack.ChromaWidth + min(int(float64(x)/step), stack.ChromaWidth-1)
			a.Y += float64(stack.Y[line*stack.Width+x])
			a.Cb += float64(stack.Cb[c])
			a.Cr += float64(stack.Cr[c])
			a.Samples++
		}
	}
}

// Colours gives the profile's colours with those that were measured in their places. Black and white, where the profile has
// them and they show, set the levels; where they don't, the levels that the survey found.
func Colours(areas []Area, p *display.Profile, levels analyse.Levels) []display.Colour {
	black, white := levels.Black, levels.White
	for _, a := range areas {
		c := p.Colours[a.Index].YUV
		switch {
		case c.Saturation() > 0.01:
		case c.Y < 0.01:
			black = a.Y
		case c.Y > 0.99:
			white = a.Y
		}
	}
	out := slices.Clone(p.Colours)
	if white-black < 1 {
		return out
	}
	gain := (white - black) / 219
	for _, a := range areas {
		v := video.YUVOfCodes(16+(a.Y-black)/gain, 128+(a.Cb-128)/gain, 128+(a.Cr-128)/gain)
		out[a.Index].YUV = v
	}
	return out
}
