package survey

import "math"

// A spell is what a sample does over time, by the parity of fields.
type spell struct {
	low, high [2]float64
	sum, n    [2]float64
}

func (t *track) spell(at int) spell {
	var s spell
	for odd, planes := range t.byParity {
		low, high, sum := 255, 0, 0
		for _, plane := range planes {
			v := int(plane[at])
			low, high, sum = min(low, v), max(high, v), sum+v
		}
		s.low[odd], s.high[odd] = float64(low), float64(high)
		s.sum[odd], s.n[odd] = float64(sum), float64(len(planes))
	}
	return s
}

// apart is what is added to fields of even parity and taken off those of odd: half of what a codec makes of the two fields that share
// a frame's blocks, less than part of the step that a changed bit makes.
func (s *spell) apart(part float64) float64 {
	if s.n[0] > 2 && s.n[1] > 2 {
		if d := (s.sum[1]/s.n[1] - s.sum[0]/s.n[0]) / 2; math.Abs(d) < part {
			return d
		}
	}
	return 0
}

// span is how far the sample's values lie apart at the most, that taken off.
func (s *spell) span(part float64) float64 {
	d := s.apart(part)
	switch {
	case s.n[1] == 0:
		return s.high[0] - s.low[0]
	case s.n[0] == 0:
		return s.high[1] - s.low[1]
	}
	return max(s.high[0]+d, s.high[1]-d) - min(s.low[0]+d, s.low[1]-d)
}

// series fills luma with a pixel over time, without the crawl where that may leak in, and without what a codec makes of
// the two fields that share a frame's blocks.
func (t *track) series(p *pending) {
	d := p.spell.apart(p.part)
	sign := [2]float64{d, -d}
	for k, plane := range t.planes {
		t.luma[k] = float64(plane[p.at]) + sign[t.parity[k]&1]
	}
	leak := t.leaks[p.sort]
	if t.crawl == 0 || leak == 0 {
		return
	}
	// Least squares of a level and a sinusoid, from the normal equations of the three.
	m := t.normal
	for k, v := range t.luma {
		m[0][3] += v
		m[1][3] += t.wave[k][0] * v
		m[2][3] += t.wave[k][1] * v
	}
	m[2][2] += 1e-6 // two fields a cycle have no sine
	for i := range m {
		for j := range m {
			if j != i {
				f := m[j][i] / m[i][i]
				for k := range m[j] {
					m[j][k] -= f * m[i][k]
				}
			}
		}
	}
	a, b := m[1][3]/m[1][1], m[2][3]/m[2][2]
	if math.Hypot(a, b) > 6*leak {
		return // no leak is as strong
	}
	for k, w := range t.wave {
		t.luma[k] -= a*w[0] + b*w[1]
	}
}

// crawling lays out the crawl's wave over the fields, and what of the normal equations of a level, its cosine and its sine no pixel changes.
func (t *track) crawling(rate float64, stand []int) {
	t.crawl = rate
	if rate == 0 {
		return
	}
	t.wave = make([][2]float64, len(t.planes))
	for k := range t.wave {
		sin, cos := math.Sincos(2 * math.Pi * rate * float64(stand[k]))
		t.wave[k] = [2]float64{cos, sin}
		row := [3]float64{1, cos, sin}
		for i := range row {
			for j := range row {
				t.normal[i][j] += row[i] * row[j]
			}
		}
	}
}
