package signal

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// What the path does to the border is measured before the picture is placed, where a profile says
// that there is nothing but border: a fault of the path touches all of the line, and one that is strong
// keeps the picture from being placed at all.

// How far a device's window may lie from the usual one. Common practice, no source.
const (
	slackPixels = 12
	slackLines  = 5
	copyPixels  = 24 // to the right of the picture, where a copy of it may lie: some 3 us
)

// A frame is where nothing but border lies, whatever the place of the window.
type frame struct {
	p           *display.Profile
	width       int // samples a line
	rate        float64
	from, to    int    // samples of the lines above and below
	above       [2]int // lines, the second exclusive
	below       [2]int
	left, right [2]int // samples beside the picture
}

func newFrame(p *display.Profile, width, height int) frame {
	pitch, tall := p.PitchX(width), p.PitchY(height)
	x, y := p.Origin(width, height)
	bottom := y + float64(p.Height)*tall
	right := x + float64(p.Width)*pitch
	aside := slackPixels * pitch
	f := frame{
		p: p, width: width,
		rate: p.LineHz() * float64(p.Standard.Scan().LineSamples) * float64(width) / 720,
		from: int(x - float64(p.BorderLeft)*pitch + aside), to: int(right + float64(p.BorderRight)*pitch - aside),
	}
	f.from, f.to = max(f.from, 4), min(f.to, width-4)
	f.above = [2]int{max(0, int(y-float64(p.BorderTop)*tall)+slackLines), int(y) - slackLines - 1}
	f.below = [2]int{int(bottom) + slackLines + 1, min(height, int(bottom+float64(p.BorderBottom)*tall)-slackLines)}
	f.left = [2]int{f.from, int(x - aside)}
	f.right = [2]int{int(right + copyPixels*pitch), f.to}
	return f
}

// lines lists the lines of the field that hold nothing but border.
func (f frame) lines() []int {
	var out []int
	for _, b := range [][2]int{f.above, f.below} {
		for y := b[0]; y < b[1]; y++ {
			out = append(out, y)
		}
	}
	return out
}

// mostFields bounds the work; more tell little new.
const mostFields = 16

// some takes at most n fields that follow each other in pairs.
func some(fields []*video.Field, n int) []*video.Field {
	if len(fields) <= n {
		return fields
	}
	out := make([]*video.Field, 0, n)
	for k := range n / 2 {
		i := k * (len(fields) - 2) / (n/2 - 1)
		out = append(out, fields[i], fields[i+1])
	}
	return out
}

// hum is the part of mains frequency and of twice that in the border's brightness by line. Each
// field is fitted for itself; how the wave's phase goes on from field to field gives its frequency.
func (f frame) hum(fields []*video.Field, white float64) (*analyse.Hum, []analyse.Point) {
	scan := f.p.Standard.Scan()
	mains := 50.0
	if scan.FieldHz > 55 {
		mains = 60
	}
	var waves []wave
	var profile []float64
	n := 0
	for _, field := range some(fields, mostFields) {
		lines, means := f.lineMeans(field)
		if len(lines) < field.Height/3 {
			continue
		}
		step := 2 * math.Pi * mains / f.p.LineHz() / f.p.PitchY(field.Height)
		w, ok := fitWave(lines, means, step)
		if !ok {
			continue
		}
		w.at = field.Time.Seconds()
		waves = append(waves, w)
		if profile == nil {
			profile = make([]float64, field.Height)
		}
		n++
	}
	if len(waves) == 0 {
		return nil, nil
	}
	// The mean energy, less what noise gives the coefficients.
	var energy, shape, share, variance float64
	for _, w := range waves {
		energy += w.energy
		shape += w.span
		share += w.share
		variance += w.variance
	}
	k := float64(len(waves))
	span := shape / k * math.Sqrt(max(0, energy/k))
	out := &analyse.Hum{Share: share / k}
	out.Pct = analyse.Estimate{Value: 100 * span / white, Spread: 100 * 2 * math.Sqrt(variance/k/k) / white, Limit: "noise"}
	out.Hz = rolling(waves, mains)
	var curve []analyse.Point
	lines, means := f.lineMeans(fields[0])
	for i := range lines {
		curve = append(curve, analyse.Point{X: lines[i], Y: 100 * (means[i] - waves[0].level) / white})
	}
	return out, curve
}

// A wave is the mains in one field.
type wave struct {
	at, level  float64
	first      complex128 // at mains frequency, by line 0
	second     complex128 // at twice that
	energy     float64    // codes squared, less noise
	span       float64    // peak to peak, of a wave of this shape and of energy 1
	share      float64    // of the line means' variance
	variance   float64    // of a coefficient, codes squared
	slope      float64    // radians a line, of the first
	firstPower float64
}

// fitWave fits level + two sines by least squares.
func fitWave(lines, means []float64, step float64) (wave, bool) {
	const n = 5
	var normal [n][n]float64
	var right [n]float64
	row := func(line float64) [n]float64 {
		s1, c1 := math.Sincos(step * line)
		s2, c2 := math.Sincos(2 * step * line)
		return [n]float64{1, s1, c1, s2, c2}
	}
	mean := 0.0
	for i, line := range lines {
		r := row(line)
		for a := range n {
			right[a] += r[a] * means[i]
			for b := range n {
				normal[a][b] += r[a] * r[b]
			}
		}
		mean += means[i] / float64(len(means))
	}
	inverse, ok := invert(normal)
	if !ok {
		return wave{}, false
	}
	var c [n]float64
	for a := range n {
		for b := range n {
			c[a] += inverse[a][b] * right[b]
		}
	}
	left, all := 0.0, 0.0
	for i, line := range lines {
		r := row(line)
		d := means[i]
		for a := range n {
			d -= r[a] * c[a]
		}
		left += d * d
		all += (means[i] - mean) * (means[i] - mean)
	}
	w := wave{level: c[0], first: complex(c[2], -c[1]), second: complex(c[4], -c[3]), slope: step}
	w.variance = left / float64(len(lines)-n)
	for k := 1; k < n; k++ {
		w.energy += c[k]*c[k] - w.variance*inverse[k][k]
	}
	if all > 0 {
		w.share = 1 - left/all
	}
	least, most := math.Inf(1), math.Inf(-1)
	for i := range 200 {
		r := row(2 * math.Pi * float64(i) / 200 / step)
		v := c[1]*r[1] + c[2]*r[2] + c[3]*r[3] + c[4]*r[4]
		least, most = min(least, v), max(most, v)
	}
	if size := c[1]*c[1] + c[2]*c[2] + c[3]*c[3] + c[4]*c[4]; size > 0 {
		w.span = (most - least) / math.Sqrt(size)
	}
	w.variance *= inverse[1][1]
	w.firstPower = c[1]*c[1] + c[2]*c[2]
	return w, true
}

// invert is Gauss and Jordan's, with the largest pivot.
func invert(m [5][5]float64) (out [5][5]float64, ok bool) {
	for i := range out {
		out[i][i] = 1
	}
	for k := range m {
		pivot := k
		for i := k + 1; i < len(m); i++ {
			if math.Abs(m[i][k]) > math.Abs(m[pivot][k]) {
				pivot = i
			}
		}
		if math.Abs(m[pivot][k]) < 1e-9 {
			return out, false
		}
		m[k], m[pivot] = m[pivot], m[k]
		out[k], out[pivot] = out[pivot], out[k]
		d := m[k][k]
		for j := range m {
			m[k][j] /= d
			out[k][j] /= d
		}
		for i := range m {
			if i == k {
				continue
			}
			q := m[i][k]
			for j := range m {
				m[i][j] -= q * m[k][j]
				out[i][j] -= q * out[k][j]
			}
		}
	}
	return out, true
}

// rolling is the frequency of which the waves of the fields are pieces. Between neighbouring fields the
// phase goes on by a turn less what the wave rolls.
func rolling(waves []wave, mains float64) analyse.Estimate {
	var one, two float64
	for _, w := range waves {
		one += real(w.first)*real(w.first) + imag(w.first)*imag(w.first)
		two += real(w.second)*real(w.second) + imag(w.second)*imag(w.second)
	}
	factor, pick := 1.0, func(w wave) complex128 { return w.first }
	if two > one {
		factor, pick = 2, func(w wave) complex128 { return w.second }
	}
	// exp(i w t) of a wave cos(w t + p) at line 0 turns by w dt; take off the whole turns of the nominal wave.
	var turn complex128
	var dt float64
	n := 0
	for i := 1; i < len(waves); i++ {
		d := waves[i].at - waves[i-1].at
		if d <= 0 || d > 0.03 {
			continue
		}
		a, b := pick(waves[i-1]), pick(waves[i])
		s, c := math.Sincos(2 * math.Pi * factor * mains * d)
		turn += b * complex(real(a), -imag(a)) * complex(c, -s)
		dt += d
		n++
	}
	if n == 0 || turn == 0 {
		return analyse.Estimate{Value: math.NaN(), Limit: "fields"}
	}
	dt /= float64(n)
	off := math.Atan2(imag(turn), real(turn)) / (2 * math.Pi * dt)
	// The capture's own clock, to which fields are timed, is no better than the device's.
	return analyse.Estimate{Value: factor*mains + off, Spread: math.Max(0.5/math.Sqrt(float64(n)), 0.05), Limit: "fields"}
}

// lineMeans gives the lines that show enough border, and its mean there.
func (f frame) lineMeans(field *video.Field) (lines, means []float64) {
	full := func(y int) bool { return y >= f.above[0] && y < f.above[1] || y >= f.below[0] && y < f.below[1] }
	top, bottom := f.above[0], f.below[1]
	for y := max(top, 0); y < min(bottom, field.Height); y++ {
		parts := [2][2]int{f.left, f.right}
		if full(y) {
			parts = [2][2]int{{f.from, f.to}} // and none of the other
		}
		sum, n, cut := 0, 0, 0
		for _, part := range parts {
			if part[1]-part[0] < 8 {
				continue
			}
			codes := field.Line(y)[part[0]:part[1]]
			ends := 0
			for _, v := range codes {
				sum += int(v)
				if v <= 1 || v >= 254 {
					ends++
				}
			}
			n += len(codes)
			cut += ends
		}
		if n >= 16 && 20*cut < n { // cut off at an end of the codes, the mean is not the line's
			lines = append(lines, float64(y))
			means = append(means, float64(sum)/float64(n))
		}
	}
	return lines, means
}
