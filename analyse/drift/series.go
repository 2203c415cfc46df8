package drift

import (
	"math"
	"slices"

	"backporch/video"
)

// series measures a field's level, noise and hue against fixed values: the running ranges
// follow slow changes, these must not.
type series struct {
	points [2][]point // by parity
	carry  carried    // of the baselines before
	last   carried
	colour [2]bool // a baseline has colour enough to measure hue by
}

// A point is a sample of a place that has one state, with what it showed when it was learned.
type point struct {
	at, chroma int // index of the luma sample; of the colour difference samples, -1 without
	place      int
	y, cb, cr  float32
}

// carried are the values that a new baseline starts from.
type carried struct{ gain, black, hue, colour float64 }

// Strides of the points: no line of a common width is a multiple of 37.
const pointStride = 37

// baseline takes what fields show as gain 1 and hue 0.
func (s *series) baseline(w *Watcher, fields []*video.Field) {
	s.carry = carried{gain: 1, colour: 1}
	s.last = s.carry
	s.take(w, fields)
}

// rebase goes on from the last values when much of the picture has changed; else the changed places are left out.
func (s *series) rebase(w *Watcher, changed []bool, fields []*video.Field) {
	left := 0
	for k := range s.points {
		kept := s.points[k][:0]
		for _, p := range s.points[k] {
			if !changed[p.place] {
				kept = append(kept, p)
			}
		}
		s.points[k] = kept
		left += len(kept)
	}
	if 2*left > w.width*w.height/pointStride {
		return
	}
	s.carry = s.last
	s.take(w, fields)
}

// take makes points of the means of fields.
func (s *series) take(w *Watcher, fields []*video.Field) {
	for k := range s.points {
		s.points[k] = s.points[k][:0]
		var own []*video.Field
		for _, f := range fields {
			if f.Parity&1 == k {
				own = append(own, f)
			}
		}
		if len(own) == 0 {
			continue
		}
		strength := 0.0
		for at := 0; at < w.width*w.height; at += pointStride {
			x, y := at%w.width, at/w.width
			place := y/blockHeight*w.columns + x/blockWidth
			if w.moving[place] || w.kept[k].has[place] != 1 {
				continue
			}
			p := point{at: at, chroma: -1, place: place}
			if w.chroma > 0 {
				p.chroma = y*w.chroma + x*w.chroma/w.width
			}
			for _, f := range own {
				p.y += float32(f.Y[at])
				if p.chroma >= 0 {
					p.cb += float32(f.Cb[p.chroma])
					p.cr += float32(f.Cr[p.chroma])
				}
			}
			n := float32(len(own))
			p.y /= n
			p.cb, p.cr = p.cb/n-128, p.cr/n-128
			strength += float64(p.cb*p.cb + p.cr*p.cr)
			s.points[k] = append(s.points[k], p)
		}
		// Colour of 8 codes rms over a tenth of the points is enough for a tenth of a degree in a second.
		s.colour[k] = strength > 64*0.1*float64(len(s.points[k]))
	}
}

// fewPoints is the least that a regression is made of.
const fewPoints = 200

// measure regresses a field on the baseline, with the places left out that are bad in it.
func (s *series) measure(w *Watcher, f, before *video.Field) Values {
	var v Values
	if before != nil {
		n := noisePair(before, f)
		v.Noise = &n
	}
	k := f.Parity & 1
	var n, sx, sy, sxx, sxy, dot, cross, norm float64
	for _, p := range s.points[k] {
		if w.bad[p.place] {
			continue
		}
		x, y := float64(p.y), float64(f.Y[p.at])
		n++
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
		if p.chroma >= 0 {
			b, r := float64(p.cb), float64(p.cr)
			nb, nr := float64(f.Cb[p.chroma])-128, float64(f.Cr[p.chroma])-128
			dot += b*nb + r*nr
			cross += b*nr - r*nb
			norm += b*b + r*r
		}
	}
	if n < fewPoints {
		return v
	}
	spread := sxx/n - sx/n*sx/n
	if spread > 100 { // ten codes of contrast
		slope := (sxy/n - sx/n*sy/n) / spread
		gain := slope * s.carry.gain
		// What code 16 has become, beside what it was.
		black := sy/n - slope*sx/n + slope*16 - 16 + s.carry.black
		v.Gain, v.Black = &gain, &black
		s.last.gain, s.last.black = gain, black
	} else { // an even picture has a level and no contrast
		black := sy/n - sx/n + s.carry.black
		v.Black = &black
		s.last.black = black
	}
	if s.colour[k] && norm > 0 {
		// Cb and Cr are U and V on nearly one scale; a small turn is one on either plane.
		hue := math.Atan2(cross, dot)*180/math.Pi + s.carry.hue
		colour := math.Hypot(dot, cross) / norm * s.carry.colour
		v.HueDeg, v.Colour = &hue, &colour
		s.last.hue, s.last.colour = hue, colour
	}
	return v
}

// noisePair is the rms difference of two fields of one parity over sqrt 2, by the median, so that what
// moves doesn't count; clipped samples are left out.
func noisePair(a, b *video.Field) float64 {
	var count [256]int
	n := 0
	for at := 0; at < min(len(a.Y), len(b.Y)); at += pointStride {
		x, y := a.Y[at], b.Y[at]
		if x <= 2 || x >= 253 {
			continue
		}
		d := int(x) - int(y)
		count[max(d, -d)]++
		n++
	}
	if n == 0 {
		return 0
	}
	below := 0
	for v, c := range count {
		if 2*(below+c) >= n && c > 0 {
			part := (float64(n)/2 - float64(below)) / float64(c)
			m := float64(v) - 0.5 + part
			if v == 0 {
				if c == n {
					return 0
				}
				m = 0.5 * part
			}
			return m / 0.6745 / math.Sqrt2
		}
		below += c
	}
	return 0
}

// noiseOf is the middle of the noise of successive fields of one parity.
func noiseOf(fields []*video.Field) float64 {
	var all []float64
	last := [2]*video.Field{}
	for _, f := range fields {
		if before := last[f.Parity&1]; before != nil {
			all = append(all, noisePair(before, f))
		}
		last[f.Parity&1] = f
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}
