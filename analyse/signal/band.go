package signal

import (
	"math"
	"slices"

	"backporch/analyse"
)

// Noise is stated for the band that measures of it are stated for, 5 MHz (ITU-R BT.1439), but a decoder lets another through: a trap takes
// what lies about the subcarrier, sharpening raises what lies beside it, and the samples hold up to 6.75 MHz. What every decoder lets
// through is flat; the rest of the band is taken to be as that is, but for what stands higher than a decoder raises it.

const (
	noiseBandHz = 5e6
	flatFromHz  = 0.3e6 // below are hum and what a clamp does,
	flatToHz    = 1.5e6 // above a wide trap at 3.58 MHz begins
	mostRaised  = 2.0   // by power: sharpening of two fifths (common practice, no source)
	seenFromHz  = 10e3
)

// A noiseBand is the border's noise by frequency, as parts of its variance.
type noiseBand struct {
	part     float64   // of the noise seen, as power: what 5 MHz hold before the decoder
	weighted float64   // dB that the weighting network takes off, of the noise before the decoder
	flat     float64   // codes squared a hertz
	density  []float64 // codes squared a hertz, tones left out, by bin
}

// band reads the spectrum of what moves on the border; nil where rounding has left nothing of it.
func (f frame) band(s *spectrum) *noiseBand {
	bin := f.rate / transformLength
	rounding := 1.0 / 12 / (f.rate / 2)
	scale := 8 / (3 * s.samples) / (f.rate / 2) // of white noise under a Hann window
	n := &noiseBand{density: make([]float64, len(s.moving))}
	seen := 0.0
	var level []float64
	for k := 1; k < len(s.moving); k++ {
		hz := float64(k) * bin
		p := math.Max(0, math.Min(s.moving[k], 2.5*f.floor(s.moving, k))*scale-rounding)
		n.density[k] = p
		if hz >= seenFromHz {
			seen += p * bin
		}
		if hz >= flatFromHz && hz <= flatToHz {
			level = append(level, p)
		}
	}
	if len(level) < 8 || seen <= 0 {
		return nil
	}
	slices.Sort(level)
	n.flat = level[len(level)/2]
	if n.flat < rounding/4 { // less than rounding hides
		return nil
	}
	var all, through float64
	for k := 1; k < len(n.density); k++ {
		hz := float64(k) * bin
		if hz < seenFromHz || hz > noiseBandHz {
			continue
		}
		p := math.Max(n.flat, n.density[k]/mostRaised)
		all += p * bin
		through += p * bin / weighting(hz)
	}
	n.part, n.weighted = all/seen, 10*math.Log10(all/through)
	return n
}

// flatWeighting is what the weighting network takes off white noise in 5 MHz, dB.
var flatWeighting = func() float64 {
	const steps = 500
	through := 0.0
	for i := range steps {
		through += 1 / weighting((float64(i)+0.5)/steps*noiseBandHz)
	}
	return 10 * math.Log10(steps/through)
}()

// snr states the noise as that of 5 MHz before decoder and codec, with how well it is known.
func (m *layout) snr(out *analyse.Signal, white float64) {
	if out.SNRdB == nil {
		return
	}
	e := analyse.Estimate{Value: *out.SNRdB, Spread: 0.3, Limit: "noise"} // 3 % of the rms
	weighted := flatWeighting
	var band *noiseBand
	if m.in.Path != nil {
		band = m.in.Path.band
	}
	switch {
	case m.in.Path != nil && m.in.Path.codec != nil:
		c := m.in.Path.codec
		e.Value = 20*math.Log10(white/c.sigma) + 10*math.Log10(m.in.Path.frame.rate/2/noiseBandHz)
		e.Spread, e.Limit = c.spread, "codec"
		// A wave on the border is in its coefficients as well: they then say what the noise is at the most.
		if out.SNRQuantised = c.hidden || drowned(out.Tones, 100*c.sigma/white); !out.SNRQuantised {
			out.SNRdB = &e.Value
		}
	case band != nil:
		sigma := white / math.Pow(10, e.Value/20)
		variance := square(sigma) * band.part
		if !out.SNRQuantised {
			variance = (square(sigma) - 1.0/12) * band.part // rounding is none of the machine's (Sheppard's correction)
		}
		e.Value = 10 * math.Log10(square(white)/variance)
		e.Spread = math.Hypot(e.Spread, math.Abs(e.Value-*out.SNRdB)/2)
		weighted = band.weighted
		out.SNRdB = &e.Value
	case m.in.Path != nil: // the border tells neither what the decoder lets through nor whether there is a codec
		e.Spread, e.Limit = hiddenSpread, "codes"
	}
	if m.in.Path != nil && out.SNRQuantised && e.Limit != "codec" && square(white/math.Pow(10, *out.SNRdB/20)) < 2*1.0/12 {
		return // no device has so little: something hides it, and nobody knows how much
	}
	if out.SNRQuantised {
		e.Limit = "codec"
		e.Spread = math.Max(e.Spread, hiddenSpread)
	}
	out.SNR = &e
	if m.in.Path != nil && m.in.Path.spectrum != nil {
		w := e
		w.Value += weighted
		out.WeightedDB = &w
	}
}

// drowned tells whether the waves that move from line to line are as strong as noise of so many % of white, rms, in the coefficients that noise is read
// from: those hold a quarter of the noise, and may hold all of a wave. One that stands still is in none of them.
func drowned(tones []analyse.Tone, sigma float64) bool {
	power := 0.0
	for _, t := range tones {
		if !t.Fixed {
			power += square(t.Pct.Value) / 8
		}
	}
	return power > 0.3*square(sigma)/4
}

// hiddenSpread, dB, is how well noise is known that is lost in the steps of the codes.
const hiddenSpread = 3.0
