package survey

import (
	"math"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/video"
	"backporch/video/display"
)

// became finds the characters that change over time, and to what: the pixels of a cell that stand out by
// their variance are split, field by field, by whether they are nearer to the least or the greatest
// that they show; the commonest two pictures of the cell are read against the font. It gives a code
// by cell, -1 where nothing changes or no glyph fits, and puts the commoner picture's code into t.
func became(s *analyse.Survey, p *display.Profile, f display.Font, fields []*video.Field) []int {
	stack := s.Stack
	if stack.VarY == nil || len(fields) < 3 || len(s.Cells) == 0 {
		return nil
	}
	out := make([]int, len(s.Cells))
	for i := range out {
		out[i] = -1
	}
	median := stack.Variance()
	paper := text.Background(s.Cells, p)
	if paper < 0 {
		return out
	}
	var index []int
	var first, second []analyse.Cell
	for i := range s.Cells {
		a, b, ok := twoPictures(&s.Cells[i], p, s, fields, paper, median)
		if ok {
			index = append(index, i)
			first, second = append(first, a), append(second, b)
		}
	}
	one, other := text.Read(first, p, f, text.Options{}), text.Read(second, p, f, text.Options{})
	for _, i := range index {
		if one.Codes[i] < 0 || other.Codes[i] < 0 || one.Codes[i] == other.Codes[i] {
			continue
		}
		s.Text.Codes[i], s.Text.Odds[i] = one.Codes[i], one.Odds[i]
		out[i] = other.Codes[i]
	}
	return out
}

// Steps of a pixel that changes: codes, and standard deviations of its noise. A glyph that changes
// does so in more pixels than one.
const (
	leastStep   = 40.0
	leastSigmas = 8.0
	leastMoving = 3
)

// twoPictures gives a cell as most fields show it and as the most of the others do.
func twoPictures(c *analyse.Cell, p *display.Profile, s *analyse.Survey, fields []*video.Field, paper int, noise float64) (a, b analyse.Cell, ok bool) {
	stack, reg := s.Stack, s.Registration
	type moving struct {
		y, x, at int
		cut      float64
	}
	var pixels []moving
	// A pixel in the other state in one field of n has a variance of step^2 (n-1)/n^2.
	n := float64(len(fields))
	limit := math.Max(leastStep*leastStep, leastSigmas*leastSigmas*noise) * (n - 1) / (n * n)
	ink := c.Ink
	if c.Single && c.Paper != paper {
		ink = c.Paper
	}
	for y := range 8 {
		row := int(math.Round(reg.OriginY + float64(c.Row*8+y)*reg.PitchY))
		if row < 0 || row >= stack.Height {
			continue
		}
		for x := range 8 {
			column := int(math.Round(reg.OriginX + (float64(c.Column*8+x)+0.5)*reg.PitchX))
			if column < 0 || column >= stack.Width {
				continue
			}
			at := row*stack.Width + column
			if float64(stack.VarY[at]) < limit {
				continue
			}
			low, high := 255.0, 0.0
			for _, f := range fields {
				v := float64(f.Y[at])
				low, high = math.Min(low, v), math.Max(high, v)
			}
			if high-low >= leastStep {
				pixels = append(pixels, moving{y: y, x: x, at: at, cut: (low + high) / 2})
			}
		}
	}
	if len(pixels) < leastMoving {
		return a, b, false
	}
	counts := map[[8]uint8]int{}
	var order [][8]uint8
	ground := p.Colours[paper].Y*(s.Levels.White-s.Levels.Black) + s.Levels.Black
	for _, f := range fields {
		rows := c.Bits
		if c.Single && c.Paper != paper {
			for y := range rows {
				rows[y] = 0xff
			}
		}
		for _, m := range pixels {
			mask := uint8(0x80) >> m.x
			rows[m.y] &^= mask
			// Ink is the state further from the background.
			if bright := float64(f.Y[m.at]) > m.cut; bright == (m.cut > ground) {
				rows[m.y] |= mask
			}
		}
		if counts[rows] == 0 {
			order = append(order, rows)
		}
		counts[rows]++
	}
	a, b = *c, *c
	most, next := 0, 0
	for _, rows := range order {
		switch k := counts[rows]; {
		case k > most:
			b.Bits, next = a.Bits, most
			a.Bits, most = rows, k
		case k > next:
			b.Bits, next = rows, k
		}
	}
	if next == 0 {
		return a, b, false
	}
	for _, cell := range []*analyse.Cell{&a, &b} {
		cell.Single, cell.Paper, cell.Ink = false, paper, max(ink, 0)
	}
	return a, b, true
}
