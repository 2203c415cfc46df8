package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// Lines that do not hold their place show every cell another way in every field. They are found where the border's ends
// show nothing of it: a line that changes is then the same line, aside.
const (
	mostAside   = 48  // samples
	likeItself  = 0.3 // of the squared difference that may be left
	asideLines  = 24  // that are looked at
	asideFields = 32
	mostSlip    = 0.5 // part of the changed lines that must be aside
	toAndFro    = 0.2 // part of the fields in which they turn back: what a program scrolls goes one way
)

// smooth is over how many samples lines are added up before they are compared: pixels that alternate and the subcarrier beat with each
// other and with the samples, and seem to move.
const smooth = 6

func runningSums(line []uint8) []int {
	out := make([]int, len(line))
	sum := 0
	for x, v := range line {
		sum += int(v)
		if x >= smooth {
			sum -= int(line[x-smooth])
		}
		out[x] = sum
	}
	return out
}

// repeats tells whether a line is like itself somewhere aside. There the dots of the subcarrier, which turn along the line and from field to field, look
// like a displacement: the line lies as well where they come round.
func repeats(apart func(v []int, d int) float64, base []int, limit float64) bool {
	for d := smooth + 2; d <= mostAside; d++ {
		if apart(base, d) < limit {
			return true
		}
	}
	return false
}

// aside measures how far changing lines lie aside from field to field, samples: the greatest of nine in ten. It is 0 where
// most of them change in another way.
func aside(s *analyse.Survey, p *display.Profile, list []changing, fields []*video.Field) float64 {
	stack, reg := s.Stack, s.Registration
	var at []int // lines of the field
	for _, ch := range list {
		row := ch.at / p.Columns()
		for _, y := range [2]int{3, 5} {
			if line := int(math.Round(reg.OriginY + float64(row*8+y)*reg.PitchY)); line >= 0 && line < stack.Height && !slices.Contains(at, line) {
				at = append(at, line)
			}
		}
	}
	left := max(0, int(reg.OriginX)) + mostAside
	right := min(stack.Width, int(reg.OriginX+float64(p.Width)*reg.PitchX)) - mostAside
	if len(at) == 0 || right-left < 4*mostAside || len(fields) < 6 {
		return 0
	}
	noise := 2 * stack.Variance() * float64(right-left) * smooth
	step := max(1, len(at)/asideLines)
	changedLines, slipped, turns, moves := 0, 0, 0, 0
	var far []float64
	for i := 0; i < len(at); i += step {
		row := func(f *video.Field) []int { return runningSums(f.Y[at[i]*f.Width : (at[i]+1)*f.Width]) }
		base := row(fields[0])
		apart := func(v []int, d int) float64 {
			sum := 0
			for x := left; x < right; x++ {
				e := v[x+d] - base[x]
				sum += e * e
			}
			return math.Max(0, float64(sum)-noise)
		}
		last, before := 0, 0
		for k := 1; k < min(len(fields), asideFields); k++ {
			v := row(fields[k])
			here := apart(v, 0)
			if here < 2*noise+8*leastStep*leastStep*smooth*smooth/4 {
				continue
			}
			changedLines++
			best, least := 0, here
			for d := -mostAside; d <= mostAside; d++ {
				if e := apart(v, d); e < least {
					best, least = d, e
				}
			}
			if least < likeItself*here && !repeats(apart, base, likeItself*here) {
				slipped++
				far = append(far, math.Abs(float64(best)))
				if moves++; (best-last)*(last-before) < 0 {
					turns++
				}
				before, last = last, best
			}
		}
	}
	if slipped < 12 || float64(slipped) < mostSlip*float64(changedLines) || float64(turns) < toAndFro*float64(moves) {
		return 0
	}
	slices.Sort(far)
	return far[len(far)*9/10]
}
