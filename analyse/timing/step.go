package timing

import (
	"math"

	"backporch/video"
)

// A machine that doesn't interlace gives a device no half line by which to tell its fields apart. Some take the first line of
// every second field one line sooner, or later, than the other's: the picture then steps up and down with the fields and does not roll.

const (
	stepPairs = 24  // pairs of neighbouring fields that are looked at
	stepMost  = 2   // lines that fields may lie apart; more is no device's counting
	stepShare = 0.8 // of the pairs with a step must agree
)

// Step is how many lines the picture lies lower in the fields of odd parity than in the others, by all pairs of neighbouring fields alike; 0
// where they don't agree on a step, or show none.
func Step(fields []*video.Field) int { return stepOf(fields, profiles{}) }

func stepOf(fields []*video.Field, known profiles) int {
	fields = alike(fields)
	if len(fields) < 2 {
		return 0
	}
	floor := differenceFloor(fieldNoise(fields), fields[0].Width)
	votes, pairs := map[int]int{}, 0
	every := max(1, len(fields)/stepPairs)
	for i := 0; i+1 < len(fields); i += every {
		a, b := fields[i], fields[i+1]
		if a.Parity == b.Parity {
			continue
		}
		pairs++
		d, moved := displacement(known.of(a), known.of(b), floor)
		n := int(math.Round(d))
		if !moved || n == 0 {
			continue
		}
		if b.Parity == 0 {
			n = -n
		}
		votes[n]++
	}
	for n, v := range votes {
		if n >= -stepMost && n <= stepMost && float64(v) >= stepShare*float64(pairs) {
			return n
		}
	}
	return 0
}

// Level lays the fields of odd parity as many lines higher as step says, so that all show the picture at one place. Lines that a field
// then lacks at its end it takes from the one before or behind, which shows the same there. Fields that stay are the same ones.
func Level(fields []*video.Field, step int) []*video.Field {
	if step == 0 {
		return fields
	}
	out := make([]*video.Field, len(fields))
	var even *video.Field
	for i := len(fields) - 1; i >= 0 && even == nil; i-- {
		if f := fields[i]; f != nil && f.Parity == 0 {
			even = f
		}
	}
	for i, f := range fields {
		out[i] = f
		if f == nil {
			continue
		}
		if f.Parity == 0 {
			even = f
			continue
		}
		g, end := *f, f
		if even != nil && even.Width == f.Width && even.Height == f.Height && len(even.Y) == len(f.Y) && len(even.Cb) == len(f.Cb) && len(even.Cr) == len(f.Cr) {
			end = even
		}
		g.Y = lift(f.Y, end.Y, f.Width, f.Height, step)
		g.Cb, g.Cr = lift(f.Cb, end.Cb, f.ChromaWidth, f.Height, step), lift(f.Cr, end.Cr, f.ChromaWidth, f.Height, step)
		out[i] = &g
	}
	return out
}

// lift moves a plane up by so many lines; those that it lacks come from end.
func lift(codes, end []uint8, width, height, lines int) []uint8 {
	if len(codes) < width*height {
		return codes
	}
	out := make([]uint8, len(codes))
	for y := range height {
		line := end[y*width : (y+1)*width]
		if from := y + lines; from >= 0 && from < height {
			line = codes[from*width : (from+1)*width]
		}
		copy(out[y*width:], line)
	}
	return out
}
