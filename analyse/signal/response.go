package signal

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"backporch/analyse"
	"backporch/analyse/grid"
	"backporch/video/display"
)

// The path's response to one machine pixel is what takes the pixels as read to the samples as seen:
// least squares over the picture, on a lattice of half pixels, from before the pixel to well after it. A finite
// impulse response has no model of its own; what stands in it, a slow edge, an oscillation or a
// second copy, is read off afterwards (tail.go).
const (
	beforePx    = 5
	afterPx     = 42 // a copy may come some five microseconds late: 1.5 km of way round
	responseLen = beforePx + afterPx + 1
	tailPx      = 2.5 // the pixel's own response is over, but for a slow edge and a notch's ripple: 350 ns at 7 MHz
	leastDelay  = 340 // ns; a copy that comes sooner is not told from the decoder's own lobes
	asidePx     = 6   // of the border that are looked at as well at the left, so that the picture's ends are edges
	mostLines   = 72
	mostLeft    = 0.1   // of white, rms: beyond that it is not this picture that came through
	leastLeft   = 0.003 // of white, rms: what is left at the least
	usualLeft   = 0.03  // and usually at the most
	fewLines    = 6.0
	tapPrior    = 0.5 // the size that taps have before anything was seen, of the step
)

// A response is a path's answer to a pixel, by half pixels of time since its middle.
type response struct {
	taps  [2 * responseLen]float64 // at -beforePx, -beforePx+1/2 ... pixels
	sigma [2 * responseLen]float64 // standard uncertainty of each
	pixel float64                  // ns
	rms   float64                  // of what the response leaves, parts of white
	size  float64                  // of the border's step, codes; 0: of a picture
	// lasting is what is left of the border's own subcarrier in each tap, rms: it begins with the border and does not die away.
	lasting float64
	// covariance is that of the taps of one phase, whole or half pixels, the prior's part included; nil: sigma alone.
	covariance *mat.SymDense
}

func (r *response) at(i int) float64 { return float64(i)/2 - beforePx }

// respond identifies the response; nil where the picture has too little to identify it by.
func (m *layout) respond(white float64) *response {
	p, reg := m.in.Display, m.in.Registration
	const left = afterPx + asidePx + 4 // beyond the border is blanking
	// At the right a copy of the picture lies on the even border alone, where nothing is misread.
	beside := m.besideRight()
	right := beforePx + beside + 4
	if p.BorderLeft < 2*asidePx || beside < asidePx || reg.OriginX-float64(min(left, p.BorderLeft))*reg.PitchX < 2 {
		return nil
	}
	border := 0.0
	if m.in.Border >= 0 && m.in.Border < len(p.Colours) {
		border = p.Colours[m.in.Border].Y
	} else {
		return nil
	}
	usable := m.usableLines()
	if len(usable) == 0 {
		return nil
	}
	// Where it is not certain which pixel is the picture's first, its edge against the border is left out.
	first, last := -asidePx, p.Width+beside
	if s := reg.Shifts; len(s) > 0 && s[0].Probability < 0.95 {
		first, last = afterPx, p.Width-beforePx
	}
	centre := grid.NewSampler(reg.OriginX, reg.PitchX, -asidePx, p.Width+beside)
	halfway := grid.NewSampler(reg.OriginX+reg.PitchX/2, reg.PitchX, -asidePx, p.Width+beside)
	const n = responseLen + 1 // the last: level
	normal := mat.NewSymDense(n, nil)
	var rights [2]*mat.VecDense
	var gathered [2][n]float64
	var squares [2]float64
	x := make([]float64, left+p.Width+right)
	var y [2][]float32
	y[0], y[1] = make([]float32, p.Width+asidePx+beside), make([]float32, p.Width+asidePx+beside)
	sums := make([]float64, n*n)
	samples := make([]float32, m.in.Stack.Width)
	var parts []float64 // a line's samples, parts of white
	count, edges, cut, different := 0, 0, 0, 0
	low, high := math.Inf(1), math.Inf(-1)
	for _, same := range m.alike(usable) {
		row := same[0]
		for i := range x {
			if x[i] = border; i < left-p.BorderLeft {
				x[i] = 0
			}
			if k := i - left; k >= 0 && k < p.Width {
				if c := int(m.in.Pixels[row*p.Width+k]); c < len(p.Colours) {
					x[i] = p.Colours[c].Y
				}
			}
			if i > 0 && math.Abs(x[i]-x[i-1]) > leastStep {
				edges++
			}
		}
		clear(samples)
		lines := float32(0)
		for _, row := range same {
			line := int(math.Round(reg.OriginY + float64(row)*reg.PitchY))
			if line < 0 || line >= m.in.Stack.Height {
				continue
			}
			for i, v := range m.in.Stack.Y[line*m.in.Stack.Width : (line+1)*m.in.Stack.Width] {
				samples[i] += v
			}
			lines++
		}
		if lines == 0 {
			continue
		}
		for i := range samples {
			samples[i] /= lines
		}
		different++
		centre.Line(y[0], samples)
		halfway.Line(y[1], samples)
		// Tap k looks k - beforePx pixels back: these are what it meets from first to last.
		begin, end := left+first+beforePx, left+last+beforePx
		met := func(tap int) []float64 { return x[begin-tap : end-tap] }
		own := met(0)
		// The products of two taps are those of the taps before each but for the ends of the line.
		for b := range responseLen {
			other := met(b)
			sum, level := 0.0, 0.0
			for i, v := range own {
				sum += v * other[i]
				level += other[i]
			}
			sums[b] += sum
			sums[b*n+responseLen] += level
			for a := 1; a+b < responseLen; a++ {
				sum += x[begin-a]*x[begin-a-b] - x[end-a]*x[end-a-b]
				sums[a*n+a+b] += sum
			}
		}
		for k := range rights {
			code := y[k][first+asidePx:][:last-first]
			for _, c := range code {
				if c > cutLevel {
					cut++
				}
				low, high = min(low, float64(c)), max(high, float64(c))
				v := float64(c) / white
				parts = append(parts, v)
				squares[k] += v * v
				gathered[k][responseLen] += v
			}
			for a := range responseLen {
				sum := 0.0
				for i, w := range met(a) {
					sum += w * parts[i]
				}
				gathered[k][a] += sum
			}
			parts = parts[:0]
		}
		count += last - first
	}
	for k := range rights {
		rights[k] = mat.NewVecDense(n, gathered[k][:])
	}
	if edges == 0 || count < 6*n || cut > count && high-low < leastStep*white { // nearly all of it is cut off
		return nil
	}
	sums[n*n-1] = float64(count)
	for a := range n {
		for b := a; b < n; b++ {
			normal.SetSym(a, b, sums[a*n+b])
		}
	}
	r := &response{pixel: 1e9 / p.PixelClockHz}
	variance := square(0.02)
	for range 2 { // the ridge is the prior's, in units of what is left
		ridge := mat.NewSymDense(n, nil)
		ridge.CopySym(normal)
		for a := range responseLen {
			ridge.SetSym(a, a, ridge.At(a, a)+variance/square(tapPrior))
		}
		ridge.SetSym(n-1, n-1, ridge.At(n-1, n-1)+1e-6)
		var c mat.Cholesky
		if !c.Factorize(ridge) {
			return nil
		}
		var inverse mat.SymDense
		if c.InverseTo(&inverse) != nil {
			return nil
		}
		left := 0.0
		for k := range rights {
			var h mat.VecDense
			if c.SolveVecTo(&h, rights[k]) != nil {
				return nil
			}
			// y'y - h'X'y is what is left, but for the ridge's part.
			left += squares[k] - mat.Dot(&h, rights[k])
			for a := range responseLen {
				r.taps[2*a+k] = h.AtVec(a)
				r.sigma[2*a+k] = math.Sqrt(inverse.At(a, a))
			}
		}
		r.covariance = &inverse
		variance = math.Max(left/float64(2*count-2*n), square(leastLeft))
	}
	if r.rms = math.Sqrt(variance); r.rms > mostLeft {
		return nil // the pixels or colours as read are not those that were sent
	}
	// Few different lines err alike by what is misplaced, those that are cut off by what is missing, and pixels that are misread leave more.
	variance *= 1 + fewLines/float64(different) + 20*float64(cut)/float64(2*count) + variance/square(usualLeft)
	// What is left is alike in neighbouring samples and lines: an eighth of the samples are independent.
	scale := math.Sqrt(8 * variance)
	for i := range r.sigma {
		r.sigma[i] = math.Min(r.sigma[i]*scale, tapPrior)
	}
	// The prior is worth as much with fewer samples.
	ridge := mat.NewSymDense(n, nil)
	ridge.CopySym(normal)
	ridge.ScaleSym(1/(8*variance), ridge)
	for a := range n {
		own := 1 / square(tapPrior)
		if a == n-1 {
			own = 1e-6
		}
		ridge.SetSym(a, a, ridge.At(a, a)+own)
	}
	var c mat.Cholesky
	if !c.Factorize(ridge) || c.InverseTo(r.covariance) != nil {
		return nil
	}
	return r
}

// alike groups lines that show the same pixels: what is misread or left out of one is so of all, and they count as one.
func (m *layout) alike(rows []int) [][]int {
	index := map[string]int{}
	var out [][]int
	for _, row := range rows {
		key := string(m.in.Pixels[row*m.in.Display.Width : (row+1)*m.in.Display.Width])
		i, ok := index[key]
		if !ok {
			i = len(out)
			index[key] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], row)
	}
	return out
}

// usableLines lists picture lines without a flashing or unknown cell, evenly, of those that have edges.
func (m *layout) usableLines() []int {
	p := m.in.Display
	var all []int
	for row := range p.Height {
		ok, edges := true, 0
		for c := range p.Columns() {
			if m.in.Skip != nil && m.in.Skip(row/display.CellSize, c) {
				ok = false
				break
			}
		}
		line := m.in.Pixels[row*p.Width : (row+1)*p.Width]
		for i := 1; i < len(line); i++ {
			if line[i] != line[i-1] {
				edges++
			}
		}
		if ok && (edges > 0 || m.in.Border >= 0 && int(line[0]) != m.in.Border) {
			all = append(all, row)
		}
	}
	if len(all) <= mostLines {
		return all
	}
	out := make([]int, mostLines)
	for i := range out {
		out[i] = all[i*len(all)/mostLines]
	}
	return out
}

// step is the response to an edge at time 0, by half pixels: element i is at at(i)+1/2.
func (r *response) step() []float64 {
	out := make([]float64, len(r.taps))
	for i, v := range r.taps {
		out[i] = v
		if i >= 2 {
			out[i] += out[i-2]
		}
	}
	return out
}

// Where an edge has arrived: 0.7 to 1.4 us after it at 7 MHz. Later, what the colours as read are off by adds up.
const levelFrom, levelTo = 5, 10

// edge gives rise time and overshoot of the response to an edge, with what a ghost adds taken off.
func (r *response) edge(ghost *analyse.Ghost) (rise, overshoot *analyse.Estimate) {
	s := r.step()
	if ghost != nil { // what the copy adds, from its delay on
		delay := 2 * ghost.Ns.Value / r.pixel
		own := append([]float64(nil), s...)
		for i := range s {
			if k := float64(i) - delay; k >= 0 {
				j := int(k)
				s[i] -= ghost.Pct.Value / 100 * (own[j]*(1-k+float64(j)) + own[min(j+1, len(own)-1)]*(k-float64(j)))
			}
		}
	}
	final := 0.0
	for _, v := range s[2*(beforePx+levelFrom) : 2*(beforePx+levelTo)] {
		final += v / (2 * (levelTo - levelFrom))
	}
	if !(final > 0.2 && final < 5) {
		return nil, nil
	}
	for i := range s {
		s[i] /= final
	}
	half := -1
	for i := range s {
		if s[i] >= 0.5 {
			half = i
			break
		}
	}
	if half < 1 {
		return nil, nil
	}
	low, high := math.NaN(), math.NaN()
	for i := half; i > 0; i-- {
		if s[i-1] <= 0.1 {
			low = float64(i-1) + (0.1-s[i-1])/(s[i]-s[i-1])
			break
		}
	}
	for i := half - 1; i+1 < len(s); i++ {
		if s[i+1] >= 0.9 {
			high = float64(i) + (0.9-s[i])/(s[i+1]-s[i])
			break
		}
	}
	if math.IsNaN(low) || math.IsNaN(high) || high <= low {
		return nil, nil
	}
	error_ := r.stepError() / final
	if error_ > 0.1 { // a tenth of the step is not known from noise
		return nil, nil
	}
	ns := (high - low) / 2 * r.pixel
	// Each end is as uncertain as the step is there, by how steep it is; by a slow rise before the edge, quite so.
	uncertain := func(at float64) float64 {
		i := int(at)
		steep := math.Max(s[min(i+1, len(s)-1)]-s[i], 0.01)
		return error_ / steep / 2 * r.pixel
	}
	spread := math.Hypot(uncertain(low), uncertain(high)) / math.Sqrt2
	rise = &analyse.Estimate{Value: ns, Spread: math.Max(spread, 0.1*r.pixel), Limit: "edges"}
	most := 1.0
	end := min(len(s), half+2*5)
	for _, v := range s[half:end] {
		most = math.Max(most, v)
	}
	overshoot = &analyse.Estimate{Value: 100 * (most - 1), Spread: 100 * math.Max(error_, 0.005), Limit: "edges"}
	return rise, overshoot
}

// stepError is the standard uncertainty of the step about its middle: taps that are confused with each other have a sum that is better known.
func (r *response) stepError() float64 {
	if r.covariance == nil {
		return r.sigma[2*beforePx] * math.Sqrt(2)
	}
	worst := 0.0
	sum := 0.0
	for a := range beforePx + 3 {
		sum += r.covariance.At(a, a)
		for b := range a {
			sum += 2 * r.covariance.At(a, b)
		}
		if a >= beforePx-1 {
			worst = math.Max(worst, sum)
		}
	}
	return math.Sqrt(math.Max(worst, 0))
}

// curve is the step for a plot, ns from its half-way point.
func (r *response) curve() []analyse.Point {
	s := r.step()
	final := 0.0
	for _, v := range s[2*(beforePx+levelFrom) : 2*(beforePx+levelTo)] {
		final += v / (2 * (levelTo - levelFrom))
	}
	if math.Abs(final) < 0.1 {
		return nil
	}
	out := make([]analyse.Point, len(s))
	for i := range s {
		out[i] = analyse.Point{X: (r.at(i) + 0.5) * r.pixel, Y: s[i] / final}
	}
	return out
}
