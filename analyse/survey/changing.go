package survey

import (
	"math"
	"math/bits"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"backporch/analyse"
	"backporch/analyse/cells"
	"backporch/analyse/text"
	"backporch/video"
	"backporch/video/display"
)

// Steps of a pixel that changes: codes, and standard deviations of its noise. A character that changes
// does so in more pixels than one; colour alone by its mean over the cell, codes.
const (
	leastStep   = 40.0
	leastSigmas = 8.0
	leastMoving = 5
	wholeStep   = 0.6 // of the step from ink to paper: dots that crawl beside a colour fall short of it
	leastChroma = 16.0
)

// A changing cell of a Text display shows several pictures over time.
type changing struct {
	at       int
	pictures [][]int // fields of each, by index; the commonest picture first
	turns    int     // times that one field shows another picture than the field before
}

// changingCells finds them: the pixels of a cell that stand out by their variance say, field by field,
// which of its pictures it shows.
func changingCells(s *analyse.Survey, p *display.Profile, list []analyse.Cell, fields []*video.Field) []changing {
	stack, reg := s.Stack, s.Registration
	if stack.VarY == nil || len(fields) < 3 {
		return nil
	}
	// A pixel in the other state in one field of n has a variance of step^2 (n-1)/n^2 beyond the noise's; that scatters by
	// its sqrt(2/(n-1)), and pixels are many.
	n, noise := float64(len(fields)), calm(s, p)
	surely := math.Max(leastStep, leastSigmas*math.Sqrt(noise))
	limit := noise + math.Max(surely*surely*(n-1)/(n*n), 3*noise*math.Sqrt(2/(n-1)))
	hues := newHues(reg, p, list, fields)
	var out []changing
	var moved []int                      // samples of a cell that change
	marks := make([]uint64, len(fields)) // of a cell by field: moving pixels that are bright; two bits of colour apart
	for i := range list {
		clear(marks)
		c := &list[i]
		moved := moved[:0]
		least := surely
		if !c.Single && c.Ink >= 0 && c.Paper >= 0 {
			least = math.Max(least, wholeStep*math.Abs(p.Colours[c.Ink].Y-p.Colours[c.Paper].Y)*(s.Levels.White-s.Levels.Black))
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
				if high-low < least {
					continue
				}
				moved = append(moved, at)
				for k, f := range fields {
					if float64(f.Y[at]) > (low+high)/2 {
						marks[k] |= 1 << (y*8 + x)
					}
				}
			}
		}
		moving := len(moved)
		slack := moving / 8 // pixels on the way between two levels
		if moving < leastMoving {
			clear(marks)
			if moving, slack = hues.marks(marks, i), 0; moving == 0 {
				continue
			}
			moved = moved[:0]
		}
		ch := sorted(i, marks, slack)
		ch.join(fields, moved)
		if len(ch.pictures) < 2 {
			continue
		}
		if distance := hues.apart(i, ch.pictures); len(moved) > 0 {
			if math.Max(distance, apart(ch.pictures, fields, moved, noise)) < standApart {
				continue
			}
		} else if distance < standApart {
			continue
		}
		out = append(out, ch)
	}
	return out
}

// hues are the mean colours of cells over time.
type hues struct {
	means  [2][][]float64 // Cb and Cr: by cell and field; nil where a cell lies partly outside
	limits [2]float64     // how far a mean must move, codes
	noise  [2]float64     // variance of a mean that does not
}

func newHues(reg analyse.Registration, p *display.Profile, list []analyse.Cell, fields []*video.Field) *hues {
	h := &hues{}
	if fields[0].ChromaWidth == 0 {
		return h
	}
	step := float64(fields[0].Width) / float64(fields[0].ChromaWidth)
	for plane := range h.means {
		h.means[plane] = make([][]float64, len(list))
		var moves []float64
		for i := range list {
			c := &list[i]
			left := int(math.Ceil((reg.OriginX + float64(c.Column*8)*reg.PitchX) / step))
			right := int(math.Floor((reg.OriginX + float64(c.Column*8+8)*reg.PitchX) / step))
			top := int(math.Round(reg.OriginY + float64(c.Row*8)*reg.PitchY))
			if left < 0 || right > fields[0].ChromaWidth || top < 0 || top+8 > fields[0].Height || right <= left {
				continue
			}
			means := make([]float64, len(fields))
			for k, f := range fields {
				v := f.Cb
				if plane == 1 {
					v = f.Cr
				}
				sum := 0
				for y := top + 1; y < top+8; y++ { // a delay line mixes the first with the row above
					for _, s := range v[y*f.ChromaWidth+left : y*f.ChromaWidth+right] {
						sum += int(s)
					}
				}
				means[k] = float64(sum) / float64(7*(right-left))
			}
			h.means[plane][i] = means
			moves = append(moves, stat.PopVariance(means, nil))
		}
		// What noise moves: that of the quarter of cells that move least.
		h.limits[plane] = leastChroma
		if len(moves) > 0 {
			slices.Sort(moves)
			h.noise[plane] = moves[len(moves)/4]
			h.limits[plane] = math.Max(leastChroma, leastSigmas*math.Sqrt(h.noise[plane]))
		}
	}
	return h
}

// marks marks fields by the mean colour of a cell, if that moves.
func (h *hues) marks(marks []uint64, cell int) (moving int) {
	for plane := range h.means {
		if h.means[plane] == nil || h.means[plane][cell] == nil {
			continue
		}
		means := h.means[plane][cell]
		low, high := slices.Min(means), slices.Max(means)
		if high-low < h.limits[plane] {
			continue
		}
		moving++
		for k, m := range means {
			if m > (low+high)/2 {
				marks[k] |= 1 << plane
			}
		}
	}
	return moving
}

// standApart is by how many standard deviations two pictures of a cell must differ: the halves of a normal distribution differ by 2.6.
const standApart = 4.5

// separation is how far the values of two sets of fields lie apart, in standard deviations within the sets; noise is what these are known
// to be at least, as far as two values tell.
func separation(pictures [][]int, values func(k int) float64, noise float64) float64 {
	var mean, n [2]float64
	for i := range mean {
		for _, k := range pictures[i] {
			mean[i] += values(k)
			n[i]++
		}
		mean[i] /= n[i]
	}
	within := 2 * noise
	for i := range mean {
		for _, k := range pictures[i] {
			d := values(k) - mean[i]
			within += d * d
		}
	}
	return math.Abs(mean[0]-mean[1]) / math.Sqrt(within/(n[0]+n[1])+1e-9)
}

// apart is how far the two commonest pictures of a cell lie apart in the samples that move, along the difference of their means.
func apart(pictures [][]int, fields []*video.Field, at []int, noise float64) float64 {
	weights := make([]float64, len(at))
	for j, i := range at {
		for w := range 2 {
			sum := 0.0
			for _, k := range pictures[w] {
				sum += float64(fields[k].Y[i])
			}
			weights[j] += float64(1-2*w) * sum / float64(len(pictures[w]))
		}
	}
	power := 0.0
	for _, w := range weights {
		power += w * w
	}
	return separation(pictures, func(k int) float64 {
		sum := 0.0
		for j, i := range at {
			sum += weights[j] * float64(fields[k].Y[i])
		}
		return sum
	}, noise*power)
}

// apart is the same for the cell's mean colour, in the plane that tells more.
func (h *hues) apart(cell int, pictures [][]int) float64 {
	most := 0.0
	for plane, means := range h.means {
		if means == nil || means[cell] == nil {
			continue
		}
		most = math.Max(most, separation(pictures, func(k int) float64 { return means[cell][k] }, h.noise[plane]))
	}
	return most
}

// sorted puts fields whose marks are alike, but for some slack, together.
func sorted(at int, marks []uint64, slack int) changing {
	var first []uint64 // the mark that began each picture
	out := changing{at: at}
	last := -1
	for k, m := range marks {
		which := slices.IndexFunc(first, func(f uint64) bool { return bits.OnesCount64(f^m) <= slack })
		if which < 0 {
			which = len(first)
			first = append(first, m)
			out.pictures = append(out.pictures, nil)
		}
		out.pictures[which] = append(out.pictures[which], k)
		if last >= 0 && which != last {
			out.turns++
		}
		last = which
	}
	slices.SortStableFunc(out.pictures, func(a, b []int) int { return len(b) - len(a) })
	return out
}

// alike is the part of the greatest difference between pictures of a cell below which two are one: dots that crawl at its edges part
// what a character shows into several.
const alike = 0.4

// join makes one of pictures that differ little for this cell, by the samples that move.
func (c *changing) join(fields []*video.Field, at []int) {
	n := len(c.pictures)
	if n < 3 || len(at) == 0 || n > 24 {
		return
	}
	means := make([][]float64, n)
	for i, in := range c.pictures {
		means[i] = make([]float64, len(at))
		for j, sample := range at {
			for _, k := range in {
				means[i][j] += float64(fields[k].Y[sample]) / float64(len(in))
			}
		}
	}
	most := 0.0
	for i := range means {
		for j := range i {
			most = math.Max(most, floats.Distance(means[i], means[j], 2))
		}
	}
	var joined [][]int
	var first []int // the picture that each began with: the commonest
	for i, in := range c.pictures {
		k := slices.IndexFunc(first, func(f int) bool { return floats.Distance(means[f], means[i], 2) < alike*most })
		if k < 0 {
			first, joined = append(first, i), append(joined, slices.Clone(in))
			continue
		}
		joined[k] = append(joined[k], in...)
	}
	which := make([]int, len(fields))
	for i, in := range joined {
		slices.Sort(in)
		for _, k := range in {
			which[k] = i
		}
	}
	c.pictures, c.turns = joined, 0
	for k := 1; k < len(which); k++ {
		if which[k] != which[k-1] {
			c.turns++
		}
	}
	slices.SortStableFunc(c.pictures, func(a, b []int) int { return len(b) - len(a) })
}

// composed is the stack with each changing cell as the fields of one of its pictures show it: of the
// commonest, or of the next.
func composed(s *analyse.Survey, p *display.Profile, list []changing, which int, fields []*video.Field) *analyse.Stack {
	out := *s.Stack
	out.Y, out.Cb, out.Cr = slices.Clone(out.Y), slices.Clone(out.Cb), slices.Clone(out.Cr)
	reg := s.Registration
	for _, ch := range list {
		row, column := ch.at/p.Columns(), ch.at%p.Columns()
		mean := func(dst []float32, width int, step float64, plane func(*video.Field) []uint8) {
			left := max(0, int(math.Ceil((reg.OriginX+float64(column*8)*reg.PitchX)/step-0.5)))
			right := min(width, int(math.Ceil((reg.OriginX+float64(column*8+8)*reg.PitchX)/step-0.5)))
			for y := range 8 {
				line := int(math.Round(reg.OriginY + float64(row*8+y)*reg.PitchY))
				if line < 0 || line >= out.Height {
					continue
				}
				for x := left; x < right; x++ {
					sum := 0
					for _, k := range ch.pictures[which] {
						sum += int(plane(fields[k])[line*width+x])
					}
					dst[line*width+x] = float32(sum) / float32(len(ch.pictures[which]))
				}
			}
		}
		mean(out.Y, out.Width, 1, func(f *video.Field) []uint8 { return f.Y })
		if out.ChromaWidth > 0 {
			step := float64(out.Width) / float64(out.ChromaWidth)
			mean(out.Cb, out.ChromaWidth, step, func(f *video.Field) []uint8 { return f.Cb })
			mean(out.Cr, out.ChromaWidth, step, func(f *video.Field) []uint8 { return f.Cr })
		}
	}
	return &out
}

// recoverText reads the cells of a Text display: those that change over time as they are most
// often, and what else they show.
func (v *view) recoverText(s *analyse.Survey) (*cells.Result, []analyse.Change) {
	r := v.recover(s.Stack, s.Registration)
	s.Levels = r.Levels
	if s.Sync.State != analyse.Locked {
		return r, nil
	}
	moving := s
	if len(v.fewer) > 0 { // the stack is of the others
		whole := *s
		whole.Stack = analyse.Add(v.phase)
		moving = &whole
	}
	list := changingCells(moving, v.p, r.Cells, v.phase)
	if len(list) == 0 {
		return r, []analyse.Change{}
	}
	if px := aside(moving, v.p, list, v.phase); px > 0 {
		s.Sync.State = analyse.Unstable
		if s.Sync.TearPx == nil || *s.Sync.TearPx < px {
			s.Sync.TearPx = &px
		}
		return r, nil
	}
	var other *cells.Result
	var beside sync.WaitGroup // neither reading knows of the other
	beside.Go(func() { other = v.recover(composed(s, v.p, list, 1, v.phase), s.Registration) })
	r = v.recover(composed(s, v.p, list, 0, v.phase), s.Registration)
	beside.Wait()
	read := text.Read(other.Cells, v.p, v.glyphs(), text.Options{})
	out := make([]analyse.Change, len(list))
	for i, ch := range list {
		out[i] = analyse.Change{
			At: ch.at, Other: other.Cells[ch.at], Code: read.Codes[ch.at], Pictures: len(ch.pictures), Turns: ch.turns,
			Fields: len(v.phase) - len(ch.pictures[0]), Of: len(v.phase), In: ch.pictures[1],
		}
	}
	return r, out
}
