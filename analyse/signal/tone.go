package signal

import (
	"math"
	"slices"

	"backporch/analyse"
)

const (
	mostTones  = 4
	leastTone  = 0.15 // % of white, peak to peak: less shows on nothing
	peakBins   = 5    // a Hann window's main lobe reaches two of its own bins, up to 3.3 of those drawn here
	floorReach = 40   // bins to either side that the floor is taken from
	fscGuardHz = 450e3
	// twiceGuardHz is the same about twice the subcarrier, which a colour has where its waves are cut off: it is as sharp as the crystals are.
	twiceGuardHz = 50e3
)

// tones lists the single frequencies that stand out of the border's spectrum, strongest first. A sine of
// amplitude A gives |X| = A n/4 under a Hann window of n samples. coloured borders hold what a
// decoder left of the subcarrier, which is none.
func (f frame) tones(s *spectrum, white float64, coloured bool) []analyse.Tone {
	bin := f.rate / transformLength
	scan := f.p.Standard.Scan()
	var out []analyse.Tone
	for _, fixed := range []bool{false, true} {
		power := slices.Clone(s.moving)
		segments := float64(s.fields*s.lines) / 2 // neighbouring lines of a comb are not independent
		if fixed {
			power, segments = slices.Clone(s.fixed), 1
		}
		for range mostTones {
			best, at := 0.0, -1
			for k := 2; k < len(power)-peakBins; k++ {
				hz := float64(k) * bin
				if hz > 6.4e6*f.rate/13.5e6 || coloured && f.ofColour(hz, scan.SubcarrierHz) {
					continue
				}
				if power[k] < power[k-1] || power[k] < power[k+1] {
					continue
				}
				if power[k] <= best { // it would not be the strongest, whatever its floor
					continue
				}
				floor := math.Max(f.floor(power, k), shoulder(power, k))
				// The mean of m exponential variates scatters by 1/sqrt(m); a single one is above 7 times its median in one bin of 130.
				if power[k] < floor*(1+9/math.Sqrt(segments)) || fixed && power[k] < floor*12 {
					continue
				}
				if v := power[k] - floor; v > best {
					best, at = v, k
				}
			}
			if at < 0 {
				break
			}
			t, ok := f.tone(s, power, at, white, fixed)
			if ok {
				out = append(out, t)
			}
			for k := max(0, at-peakBins); k <= min(len(power)-1, at+peakBins); k++ {
				power[k] = 0
			}
		}
	}
	slices.SortStableFunc(out, func(a, b analyse.Tone) int {
		switch {
		case a.Pct.Value > b.Pct.Value:
			return -1
		case a.Pct.Value < b.Pct.Value:
			return 1
		}
		return 0
	})
	// One that moves by nearly nothing from line to line shows as both: one tone, their powers added.
	kept := out[:0]
	for _, t := range out {
		at := slices.IndexFunc(kept, func(o analyse.Tone) bool {
			return o.Fixed != t.Fixed && math.Abs(o.Hz.Value-t.Hz.Value) < 2*bin
		})
		if at < 0 {
			kept = append(kept, t)
			continue
		}
		kept[at].Pct.Value = math.Hypot(kept[at].Pct.Value, t.Pct.Value)
	}
	return kept[:min(len(kept), mostTones)]
}

// ofColour tells whether a frequency is the subcarrier's, or twice it, which samples show folded.
func (f frame) ofColour(hz, subcarrier float64) bool {
	twice := 2 * subcarrier
	return math.Abs(hz-subcarrier) < fscGuardHz || math.Abs(hz-math.Min(twice, math.Abs(f.rate-twice))) < twiceGuardHz
}

// shoulder is the power just beside a single frequency's lobe, on the higher side: the slope of a decoder's notch has its greatest
// value in some bin too, but hardly less on that side of it.
func shoulder(power []float64, k int) float64 {
	const width = 4
	most := 0.0
	for side := -1; side <= 1; side += 2 {
		sum, n := 0.0, 0
		for i := peakBins + 1; i <= peakBins+width; i++ {
			if at := k + side*i; at >= 2 && at < len(power) && power[at] > 0 {
				sum += power[at]
				n++
			}
		}
		if n > 0 {
			most = math.Max(most, sum/float64(n))
		}
	}
	return most
}

// floor is the median of the power around a bin, as that of the mean of noise; bins taken out do not count.
func (f frame) floor(power []float64, k int) float64 {
	var room [2*floorReach + 1]float64
	around := room[:0]
	for i := max(2, k-floorReach); i <= min(len(power)-1, k+floorReach); i++ {
		if (i < k-peakBins || i > k+peakBins) && power[i] > 0 {
			around = append(around, power[i])
		}
	}
	if len(around) == 0 {
		return 0
	}
	return analyse.Select(around, len(around)/2)
}

// tone reads one peak.
func (f frame) tone(s *spectrum, power []float64, k int, white float64, fixed bool) (analyse.Tone, bool) {
	floor := f.floor(power, k)
	// A parabola through the logarithms of three bins.
	a, b, c := math.Log(power[k-1]+1e-12), math.Log(power[k]), math.Log(power[k+1]+1e-12)
	off := 0.0
	if curve := a - 2*b + c; curve < 0 {
		off = math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/curve))
	}
	peak := math.Exp(b - 0.25*(a-c)*off)
	amplitude := 4 / s.samples * math.Sqrt(math.Max(0, peak-floor))
	bin := f.rate / transformLength
	hz := (float64(k) + off) * bin
	relative := math.Sqrt(floor/peak) / math.Sqrt(math.Max(1, float64(s.fields*s.lines)/2))
	if fixed {
		relative = math.Sqrt(floor / peak)
	}
	t := analyse.Tone{
		Pct:   analyse.Estimate{Value: 200 * amplitude / white, Spread: 200 * amplitude / white * math.Max(relative, 0.02), Limit: "noise"},
		Hz:    analyse.Estimate{Value: hz, Spread: bin * math.Max(0.3*relative, 0.02), Limit: "lines"},
		Fixed: fixed,
	}
	if t.Pct.Value < leastTone {
		return t, false
	}
	lineHz := f.p.LineHz()
	if fixed {
		// It stands still: a whole multiple of the line rate.
		if near := math.Round(hz/lineHz) * lineHz; math.Abs(near-hz) < 3*t.Hz.Spread+0.1*lineHz {
			t.Hz.Value, t.Hz.Spread = near, 1e-4*near // the crystals' tolerance
		}
	} else if turn := s.turn[k]; turn != 0 && f.p.PitchY(1) > 0 && 3*t.Hz.Spread < lineHz {
		part := math.Atan2(imag(turn), real(turn)) / (2 * math.Pi)
		m := math.Round(hz/lineHz - part)
		if fine := (m + part) * lineHz; math.Abs(fine-hz) < 0.5*lineHz {
			t.Hz.Value, t.Hz.Spread = fine, math.Max(lineHz*0.16*relative, 1e-4*fine)
		}
	}
	// A part of the pixel clock that takes half a turn a line changes sides on every line: the clock's bars as well.
	if n := math.Round(f.p.PixelClockHz / t.Hz.Value); !fixed && n >= 1 && n <= 32 && math.Abs(f.p.PixelClockHz/n-t.Hz.Value) < math.Min(3*t.Hz.Spread, 0.01*lineHz) {
		t.Fixed = true
	}
	t.AliasHz = f.rate - t.Hz.Value
	t.PeriodPx = f.p.PixelClockHz / t.Hz.Value
	// A clock above half the sampling rate shows folded.
	if fixed && !f.divides(t.Hz.Value) && f.divides(t.AliasHz) {
		t.Folded = true
		t.PeriodPx = f.p.PixelClockHz / t.AliasHz
	}
	return t, true
}

// divides tells whether the pixel clock, or twice it, is a small whole multiple of a frequency, within half a
// multiple of the line rate.
func (f frame) divides(hz float64) bool {
	for n := 1; n <= 32; n++ {
		if math.Abs(2*f.p.PixelClockHz/float64(n)-hz) < 0.5*f.p.LineHz() {
			return true
		}
	}
	return false
}

// density is the spectrum in dB below white, in 100 kHz: what moves and what stands still together.
func (f frame) density(s *spectrum, white float64) []analyse.Point {
	bin := f.rate / transformLength
	out := make([]analyse.Point, 0, len(s.moving))
	// Power of white noise of variance v under a Hann window of n samples: v 3n/8; spread over rate/2.
	scale := 8 / (3 * s.samples) * 100e3 / (f.rate / 2)
	for k := 1; k < len(s.moving); k++ {
		p := (s.moving[k] + s.fixed[k]) * scale
		out = append(out, analyse.Point{X: float64(k) * bin, Y: 10 * math.Log10(math.Max(p, 1e-9)/(white*white))})
	}
	return out
}

// weighting is the power loss of the unified weighting network at a frequency:
// A = 10 log10 {[1 + ((1+1/a) w t)^2] / [1 + (w t/a)^2]}, t = 245 ns, a = 4.5 (ITU-R BT.1439).
func weighting(hz float64) float64 {
	const t, a = 245e-9, 4.5
	w := 2 * math.Pi * hz * t
	return (1 + square((1+1/a)*w)) / (1 + square(w/a))
}

func square(x float64) float64 { return x * x }

// toneFree is the rms of the border's noise without its tones, codes.
func (s *spectrum) toneFree(f frame) float64 {
	var all, kept float64
	for k := 2; k < len(s.moving); k++ {
		all += s.moving[k]
		kept += math.Min(s.moving[k], 2.5*f.floor(s.moving, k))
	}
	if all <= 0 {
		return math.Sqrt(s.variance)
	}
	return math.Sqrt(s.variance * kept / all)
}
