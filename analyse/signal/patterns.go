package signal

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"backporch/video"
)

// hum is the part of mains frequency and of twice that, peak to peak, in % of white, in the
// line means of the border. Each field is fitted for itself, since a capture's clock doesn't say
// how far the hum rolled between two: level + two sines, by least squares. The
// energy that noise gives the four coefficients, s^2 tr((X'X)^-1), is taken off. Shading
// that stands still, such as the tilt of a small coupling capacitor, counts as hum.
func (m *layout) hum(white float64) *float64 {
	scan := m.in.Display.Standard.Scan()
	mains := 50.0
	if scan.FieldHz > 55 {
		mains = 60
	}
	var energy, shape, fitted float64
	for _, f := range m.in.Fields {
		if !m.fits(f) {
			continue
		}
		lines, means := m.borderMeans(f)
		if len(lines) < m.in.Stack.Height/2 {
			continue
		}
		x := mat.NewDense(len(lines), 5, nil)
		for i, line := range lines {
			t := 2 * math.Pi * mains * line / m.in.Registration.PitchY / m.in.Display.LineHz()
			s1, c1 := math.Sincos(t)
			s2, c2 := math.Sincos(2 * t)
			x.SetRow(i, []float64{1, s1, c1, s2, c2})
		}
		var normal, inverse mat.Dense
		normal.Mul(x.T(), x)
		if inverse.Inverse(&normal) != nil {
			continue
		}
		var right, coefficients mat.VecDense
		right.MulVec(x.T(), mat.NewVecDense(len(means), means))
		coefficients.MulVec(&inverse, &right)
		var fit mat.VecDense
		fit.MulVec(x, &coefficients)
		left := 0.0
		for i, v := range means {
			d := v - fit.AtVec(i)
			left += d * d
		}
		variance := left / float64(len(means)-5)
		here, noise := 0.0, 0.0
		for k := 1; k < 5; k++ {
			here += coefficients.AtVec(k) * coefficients.AtVec(k)
			noise += variance * inverse.At(k, k)
		}
		least, most := math.Inf(1), math.Inf(-1)
		for i := range 200 {
			s1, c1 := math.Sincos(2 * math.Pi * float64(i) / 200)
			s2, c2 := math.Sincos(4 * math.Pi * float64(i) / 200)
			v := coefficients.AtVec(1)*s1 + coefficients.AtVec(2)*c1 + coefficients.AtVec(3)*s2 + coefficients.AtVec(4)*c2
			least, most = min(least, v), max(most, v)
		}
		energy += here - noise
		if here > 0 {
			shape += (most - least) / math.Sqrt(here)
		}
		fitted++
	}
	if fitted == 0 {
		return nil
	}
	percent := 100 * shape / fitted * math.Sqrt(max(0, energy/fitted)) / white
	return &percent
}

// borderMeans gives the lines that show enough border, and its mean there.
func (m *layout) borderMeans(f *video.Field) (lines, means []float64) {
	sum, n, last := 0.0, 0, -1
	flush := func() {
		if n >= 24 {
			lines = append(lines, float64(last))
			means = append(means, sum/float64(n))
		}
		sum, n = 0, 0
	}
	for i := range m.runs {
		r := &m.runs[i]
		if !r.border {
			continue
		}
		if r.line != last {
			flush()
			last = r.line
		}
		from, to := m.inside(r, edgeMargin)
		if clipped(f.Line(r.line)[from:to]) {
			continue
		}
		for _, v := range f.Line(r.line)[from:to] {
			sum += float64(v)
			n++
		}
	}
	flush()
	return lines, means
}

const (
	barPixels = 8  // fixed bars repeat with a cell, or with a part of it
	barPlaces = 16 // places looked at in a period
	barMargin = 10 // samples off an edge, so that its ringing is over
)

// bars is the vertical stripes that stand still with the machine's pixels, peak to peak in % of
// white: flat runs of the mean picture, about their means, folded onto a cell's
// width. The clocks that make them are 1, 2, 4 or 8 pixels long. The range that noise alone gives
// sixteen means, 3.53 standard errors (Tippett's d2 for 16), is taken off as power.
func (m *layout) bars(white float64) *float64 {
	reg := m.in.Registration
	var sum, square, n [barPlaces]float64
	period := barPixels * reg.PitchX
	for i := range m.runs {
		r := &m.runs[i]
		from, to := m.inside(r, barMargin)
		whole := int(math.Floor(float64(to-from) / period)) // of whole periods the mean is that of no bars
		if whole < 2 {
			continue
		}
		to = from + int(math.Round(float64(whole)*period))
		mean := m.mean(r.line, from, to)
		for x := from; x < to; x++ {
			v := float64(m.in.Stack.Y[r.line*m.in.Stack.Width+x])
			phase := (float64(x) - reg.OriginX) / period
			k := int((phase - math.Floor(phase)) * barPlaces)
			sum[k] += v - mean
			square[k] += (v - mean) * (v - mean)
			n[k]++
		}
	}
	least, most, noise := math.Inf(1), math.Inf(-1), 0.0
	for k := range sum {
		if n[k] < fewSamples/barPlaces {
			return nil
		}
		v := sum[k] / n[k]
		least, most = min(least, v), max(most, v)
		noise += (square[k]/n[k] - v*v) / n[k] / barPlaces
	}
	percent := 100 * math.Sqrt(max(0, (most-least)*(most-least)-3.53*3.53*noise)) / white
	return &percent
}
