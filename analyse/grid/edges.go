package grid

import (
	"cmp"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// noise is the standard deviation of the stack's luma, codes: from the variance over time
// where there is one, else from the second difference along the quietest half of the lines.
func noise(s *analyse.Stack) float64 {
	if s.VarY != nil {
		return math.Sqrt(s.Variance()/float64(s.N)) + 0.1
	}
	d := make([]float64, 0, len(s.Y)/8+1)
	for i := 4; i+4 < len(s.Y); i += 8 {
		d = append(d, math.Abs(float64(2*s.Y[i]-s.Y[i-2]-s.Y[i+2])))
	}
	// The median of |N(0,1)| is 0.6745, the second difference has variance 6. The lower
	// quartile of |N(0,1)| is 0.3186: edges sit above it.
	return analyse.Select(d, len(d)/4)/(0.3186*math.Sqrt(6)) + 0.3
}

// contrast is the distance of the 2nd from the 98th percentile of luma, codes.
func contrast(s *analyse.Stack) float64 {
	sample := make([]float32, 0, len(s.Y)/8+1)
	for i := 0; i < len(s.Y); i += 8 {
		sample = append(sample, s.Y[i])
	}
	return float64(analyse.Select(sample, len(sample)*98/100) - analyse.Select(sample, len(sample)*2/100))
}

// binsPerSample is the fineness of the edge histogram.
const binsPerSample = 16

// edges is a histogram of edge places, weighted by their strength.
type edges struct {
	bins   []float64 // binsPerSample to a sample or line
	count  int       // edges
	places int       // different whole samples that hold an edge
	weight float64
}

// A step is a peak of the gradient along a line: its place in samples, and its strength, signed, in codes a sample.
type step struct{ place, strength float64 }

// lonely is how many pixels about it an edge that stands alone has to itself, and beside how strong it is others count as none.
// Common practice, no source.
const (
	lonely = 3.3
	beside = 0.35
)

// near tells whether a line has another step of some strength within reach of its i-th.
func near(line []step, i int, reach float64) bool {
	least := beside * math.Abs(line[i].strength)
	for k := i - 1; k >= 0 && line[i].place-line[k].place < reach; k-- {
		if math.Abs(line[k].strength) > least {
			return true
		}
	}
	for k := i + 1; k < len(line) && line[k].place-line[i].place < reach; k++ {
		if math.Abs(line[k].strength) > least {
			return true
		}
	}
	return false
}

// horizontal collects the edges of all lines between samples from and to, on a grid of
// about the given pitch. A peak of the signed gradient is placed by the parabola through it and its neighbours.
//
// Blur pushes the two edges of a narrow stroke apart, by up to a quarter of a pixel
// each, and their unit vectors would cancel. A pair of opposite edges closer than three pixels is
// therefore taken by its middle, which blur does not move, and put back to a whole number of pixels apart.
//
// With alone, only edges with no other near them count: a trap or notch at about half the pixels' rate, and a comb, move the others any way, but
// are symmetric about an edge that stands by itself.
func horizontal(plane []float32, width, height, from, to int, threshold, pitch float64, alone bool) *edges {
	least := threshold / 2
	if alone {
		least = threshold / 4
	}
	e := &edges{bins: make([]float64, width*binsPerSample)}
	seen := make([]bool, width)
	from, to = max(from, 2), min(to, width-3)
	var line []step
	for y := range height {
		row := plane[y*width : (y+1)*width]
		line = line[:0]
		for x := from; x < to; x++ {
			a, b, c := float64(row[x]-row[x-1]), float64(row[x+1]-row[x]), float64(row[x+2]-row[x+1])
			sign := 1.0
			if b < 0 {
				a, b, c, sign = -a, -b, -c, -1
			}
			if b < least || b < a || b <= c {
				continue
			}
			line = append(line, step{float64(x) + 0.5 + 0.5*(a-c)/(a-2*b+c), sign * b})
		}
		// An edge much weaker than another close by is that one's ringing.
		rings := func(i int) bool {
			limit := 2.5 * math.Abs(line[i].strength)
			for k := i - 1; k >= 0 && line[i].place-line[k].place < 4*pitch; k-- {
				if math.Abs(line[k].strength) > limit {
					return true
				}
			}
			for k := i + 1; k < len(line) && line[k].place-line[i].place < 4*pitch; k++ {
				if math.Abs(line[k].strength) > limit {
					return true
				}
			}
			return false
		}
		for i, p := range line {
			strength := math.Abs(p.strength)
			if strength < threshold || rings(i) || alone && near(line, i, lonely*pitch) {
				continue
			}
			w := math.Min(strength, 4*threshold)
			single := true
			for _, k := range [2]int{i - 1, i + 1} {
				if k < 0 || k >= len(line) {
					continue
				}
				q := line[k]
				apart := math.Abs(q.place - p.place)
				if apart > 2.8*pitch || rings(k) || math.Abs(q.strength) < 0.5*strength || p.strength*q.strength > 0 {
					continue
				}
				single = false
				whole := math.Max(1, math.Round(apart/pitch-0.15)) * pitch
				e.add((p.place+q.place)/2+math.Copysign(whole/2, p.place-q.place), w/2, seen)
			}
			if single {
				e.add(p.place, w, seen)
			}
		}
	}
	for _, s := range seen {
		if s {
			e.places++
		}
	}
	return e
}

// fourLines is the luma with every line the mean of itself and the next three: a subcarrier of a quarter or
// three quarters of a cycle more a line (625/50), or a half (525/60), cancels.
func fourLines(s *analyse.Stack) []float32 {
	out := make([]float32, len(s.Y))
	for y := range s.Height {
		row := out[y*s.Width : (y+1)*s.Width]
		for k := range 4 {
			from := s.Y[min(y+k, s.Height-1)*s.Width:]
			for x := range row {
				row[x] += from[x] / 4
			}
		}
	}
	return out
}

func (e *edges) add(place, w float64, seen []bool) {
	bin := int(place*binsPerSample + 0.5)
	if bin < 0 || bin >= len(e.bins) {
		return
	}
	e.bins[bin] += w
	e.weight += w
	e.count++
	seen[min(int(place), len(seen)-1)] = true
}

// vertical collects the places where lines change, in lines, over samples from to to.
func vertical(s *analyse.Stack, from, to int, threshold float64) *edges {
	e := &edges{bins: make([]float64, s.Height*binsPerSample)}
	if s.Height < 8 {
		return e
	}
	g := make([]float64, s.Height)
	for y := 0; y+1 < s.Height; y++ {
		sum := 0.0
		for x := max(from, 0); x < min(to, s.Width); x++ {
			if d := math.Abs(float64(s.Y[(y+1)*s.Width+x] - s.Y[y*s.Width+x])); d > threshold {
				sum += d
			}
		}
		g[y] = sum
	}
	for y := 1; y+2 < s.Height; y++ {
		a, b, c := g[y-1], g[y], g[y+1]
		if b == 0 || b < a || b <= c {
			continue
		}
		shift := 0.5 * (a - c) / (a - 2*b + c)
		e.bins[int((float64(y)+0.5+shift)*binsPerSample+0.5)] += b
		e.weight += b
		e.count++
		e.places++
	}
	return e
}

// A lattice is the best fit of places phase + k*pitch.
type lattice struct {
	pitch, phase float64
	length       float64 // mean resultant length, 0 to 1
	score        float64 // ln of its posterior, but for a constant
}

// fit is the best of fits.
func (e *edges) fit(nominal, spread float64) lattice { return e.fits(nominal, spread, nominal)[0] }

// rivalFits is how many nats a lattice may lie behind the best and still be worth a look: edges at few places, as those of a
// bar across the picture, allow a pixel more or less between them.
const rivalFits = 4.0

// locked is how often a device samples in a whole number of samples a line, and clockSpread how far such pitches lie off then, relative: two
// clocks of a hundred parts in a million. Others scale by themselves. Common practice, no source.
const (
	locked      = 0.7
	clockSpread = 2e-4
)

// at is the lattice of a pitch; its score is not set.
func (e *edges) at(pitch float64) lattice {
	re, im := e.vector(pitch)
	return lattice{pitch: pitch, phase: math.Mod(math.Atan2(im, re)/(2*math.Pi)*pitch+pitch, pitch), length: math.Hypot(re, im) / e.weight}
}

// fits searches pitches about nominal and gives the lattices that come near the best, that first. spread is the
// prior's standard deviation, relative, of pitches but those near line, the line-locked one; the search goes to three of them.
func (e *edges) fits(nominal, spread, line float64) []lattice {
	evidence := math.Min(float64(e.places), 60)
	try := func(pitch float64) lattice {
		l := e.at(pitch)
		off, offLine := (pitch/nominal-1)/spread, (pitch/line-1)/clockSpread
		l.score = evidence*l.length*l.length + math.Log((1-locked)*math.Exp(-off*off/2)+locked*spread/clockSpread*math.Exp(-offLine*offLine/2))
		return l
	}
	span := float64(len(e.bins)) / binsPerSample
	coarse := nominal / span * nominal / 6 // a sixth of the resolution of this span
	n := int(math.Ceil(3 * spread * nominal / coarse))
	tried := make([]lattice, 0, 2*n+1)
	for i := -n; i <= n; i++ {
		tried = append(tried, try(nominal+float64(i)*coarse))
	}
	tried = append(tried, try(line))
	slices.SortFunc(tried, func(a, b lattice) int { return cmp.Compare(a.pitch, b.pitch) })
	best := slices.MaxFunc(tried, byScore).score
	var out []lattice
	for i, l := range tried {
		if l.score < best-rivalFits-1 || i > 0 && tried[i-1].score > l.score || i < len(tried)-1 && tried[i+1].score >= l.score {
			continue
		}
		step := coarse
		for range 5 {
			step /= 3
			centre := l.pitch
			for _, k := range []float64{-2, -1, 1, 2} {
				if next := try(centre + k*step); next.score > l.score {
					l = next
				}
			}
		}
		out = append(out, l)
	}
	slices.SortStableFunc(out, func(a, b lattice) int { return byScore(b, a) })
	for i, l := range out {
		if l.score < out[0].score-rivalFits || i == 5 {
			return out[:i]
		}
	}
	return out
}

func byScore(a, b lattice) int { return cmp.Compare(a.score, b.score) }

// vector is the sum of unit vectors of the edge places at a pitch.
func (e *edges) vector(pitch float64) (re, im float64) {
	sin, cos := math.Sincos(2 * math.Pi / (pitch * binsPerSample))
	c, s := 1.0, 0.0
	for i, w := range e.bins {
		if i&1023 == 0 { // the recurrence drifts
			s, c = math.Sincos(2 * math.Pi * float64(i) / (pitch * binsPerSample))
		}
		if w != 0 {
			re += w * c
			im += w * s
		}
		c, s = c*cos-s*sin, s*cos+c*sin
	}
	return re, im
}

// residual is the rms distance of the edges from the lattice, as a part of the pitch.
func (e *edges) residual(l lattice) float64 {
	sum := 0.0
	for i, w := range e.bins {
		if w != 0 {
			d := (float64(i)/binsPerSample - l.phase) / l.pitch
			d -= math.Round(d)
			sum += w * d * d
		}
	}
	return math.Sqrt(sum / e.weight)
}

// window is the range of samples in which the picture's edges are looked for:
// the picture in the middle of the capture and reach pixels about it.
func window(p *display.Profile, width, height, reach int) (from, to int) {
	x, _ := p.Origin(width, height)
	pitch := p.PitchX(width)
	return int(x - float64(reach)*pitch), int(x + float64(p.Width+reach)*pitch)
}
