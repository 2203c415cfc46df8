package waveform

import (
	"math"
	"slices"
)

// A Census counts the pulses at sync level by their width.
type Census struct {
	Line       int `json:"line"`       // line sync, 3.3 to 6.5 us
	Equalising int `json:"equalising"` // 1.4 to 3.2 us
	Broad      int `json:"broad"`      // 15 to 31 us
	Long       int `json:"long"`       // longer: one field pulse without serration, or with one a line
	Other      int `json:"other"`      // of no such width
}

// spans are widths in us, in the order of the pulses.
type spans struct {
	equalising, broad, gaps, long []float64
}

// census counts and measures every pulse.
func (s *stretch) census() (c Census, w spans) {
	lastBroad := math.Inf(-1)
	h := s.medianHeight()
	for _, p := range s.found.Pulses {
		width := p.Width() / s.us
		from, to := s.refine(p.From, p.To, h)
		switch exact := (to - from) / s.us; {
		case width < 1.4:
			c.Other++
		case width <= 3.2:
			c.Equalising++
			w.equalising = append(w.equalising, exact)
		case width <= 6.5:
			c.Line++
		case width < 15:
			c.Other++
		default:
			if gap := (from - lastBroad) / s.us; gap < 15 {
				w.gaps = append(w.gaps, gap)
			}
			lastBroad = to
			if width <= 31 {
				c.Broad++
				w.broad = append(w.broad, exact)
			} else {
				c.Long++
				w.long = append(w.long, exact)
			}
		}
	}
	return c, w
}

// refine places a pulse's ends at half the height above its own tip.
func (s *stretch) refine(from, to, height float64) (a, b float64) {
	inside := math.Min(0.3*(to-from), 1*s.us)
	tip, ok := s.meanOf(from+inside, to-inside)
	if !ok {
		return from, to
	}
	a, ok1 := s.cross(from, tip+height/2, 0.35*s.us, false)
	b, ok2 := s.cross(to, tip+height/2, 0.35*s.us, true)
	if !ok1 || !ok2 {
		return from, to
	}
	return a, b
}

// fields gives the lengths of whole fields in lines, and how far the second of two begins
// from where the first did on its line, as a part of a line.
func (s *stretch) fields() (lines, phases []float64) {
	at := s.found.FieldSyncs(s.rate)
	h := s.medianHeight()
	for i, v := range at {
		to := v + 10*s.us
		if a, _ := s.refine(v, to, h); a > 0 {
			at[i] = a
		}
	}
	for i, v := range at {
		if i > 0 {
			lines = append(lines, (v-at[i-1])/s.period)
		}
		k := slices.IndexFunc(s.lines, func(l line) bool { return l.zero > v })
		if k < 0 {
			k = len(s.lines)
		}
		if k > 0 && v-s.lines[k-1].zero < 20*s.period {
			phases = append(phases, math.Mod((v-s.lines[k-1].zero)/s.period, 1))
		}
	}
	return lines, phases
}

// interlaced says whether field sync comes in the middle of a line every other time; nil
// when the record is too short.
func interlaced(phases []float64) *bool {
	if len(phases) < 2 {
		return nil
	}
	half := 0
	for i := 1; i < len(phases); i++ {
		if d := math.Abs(math.Remainder(phases[i]-phases[i-1], 1)); d > 0.25 {
			half++
		}
	}
	v := 2*half > len(phases)-1
	return &v
}
