package signal

import "math"

// Whether an edge is slower than a good chain's is told by its whole shape, not by its rise alone: a decoder's trap at the subcarrier
// takes the upper half of luma with it, and 10 to 90 % take 230 ns behind one of 0.9 MHz to either side of 3.58 MHz; but it swings about its edge
// alike before and after, and leaves what lies below 2 MHz and above the trap. One more low-pass takes all of that, and a pole trails behind.
// Both are families of responses; each is weighed by its marginal likelihood, shape parameters averaged over.

// What good chains are made of: Gaussian bandwidths of machines and cables, -3 dB; the decoder's own low-pass, fourth order; half widths of the
// trap at the subcarrier, -6 dB, 0 where a comb leaves luma whole; and what sharpening adds round 2.8 MHz. Common practice, no source.
var (
	machineHz  = []float64{4.0e6, 5.5e6, 7.5e6}
	trapHz     = []float64{0, 0.45e6, 0.6e6, 0.75e6, 0.9e6, 1.1e6}
	flatHz     = []float64{0.5e6, 0.7e6, 0.9e6} // the same, of traps with a flat bottom
	sharpening = []float64{0, 0.2, 0.4}
	// One pole more, or a steeper low-pass: those from 0.5 to 1.8 MHz are seen as soft edges.
	poleHz  = []float64{0.5e6, 0.65e6, 0.8e6, 1.0e6, 1.2e6, 1.45e6, 1.75e6}
	steepHz = []float64{0.6e6, 0.8e6, 1.05e6, 1.4e6}
)

const (
	usualMachineHz = 5.5e6
	coarseHz       = 2.8e6 // and where a codec has taken fine detail,
	coarseShare    = 0.1   // so often
	decoderHz      = 5.3e6
	steepShare     = 0.3  // of low-passes that are no single pole
	shapeScatter   = 0.02 // of a pixel's weight, by tap: what no member of a family follows
	shapePart      = 0.06 // and of the greatest tap
	shapeFine      = 16   // points a pixel
	shapeLength    = 1024 // points
	shapeFrom      = -5   // pixels about the middle that are compared
	shapeTo        = 9    // pixels
	shapeAside     = 0.3  // pixels that the middle of an edge may be off
	shapeScale     = 0.15 // of 1: how well the size of a step is known
)

// softness is ln of the likelihood of the response behind one more low-pass over that of a good chain's.
func (r *response) softness(subcarrierHz float64) float64 {
	main := 0.0
	for i, v := range r.taps {
		if r.at(i) < tailPx+2 {
			main += v / 2
		}
	}
	if main < 0.2 {
		return 0
	}
	peak := 0.0
	for _, v := range r.taps {
		peak = math.Max(peak, v/main)
	}
	f := newShapes(r, main, peak)
	if f == nil {
		return 0
	}
	var gains [4][]float64
	for _, m := range membersOf(r.pixel*1e-9, subcarrierHz) {
		gains[m.family] = append(gains[m.family], f.like(&m))
	}
	either := func(a, b []float64, share float64) float64 {
		return meanExp([]float64{meanExp(a) + math.Log(2*(1-share)), meanExp(b) + math.Log(2*share)})
	}
	return either(gains[soft], gains[steep], steepShare) - either(gains[good], gains[coarse], coarseShare)
}

// How often a good path's border begins softly, as the machine's blanking does or lines that do not start quite alike, and how often its picture
// looks soft because pixels are misread. Common practice, no source.
const softBlanking, softPicture = 0.02, 0.03

// softer joins what the edges in the picture and the one at the border's begin say: one more low-pass takes both, what is soft by itself
// is soft in one place.
func softer(picture, onset float64) float64 {
	good := addLog(math.Log(1-softBlanking-softPicture), math.Log(softBlanking)+onset)
	return picture + onset - addLog(good, math.Log(softPicture)+picture)
}

// addLog is ln of the sum of two exponentials.
func addLog(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// shapes compares responses with members of the families.
type shapes struct {
	half         float64 // where the step as seen is half, in pixels since the middle of the pixel
	times        []float64
	seen, weight []float64
}

func newShapes(r *response, main, peak float64) *shapes {
	f := &shapes{half: math.NaN()}
	step := r.step()
	for i := 1; i < len(step); i++ {
		if a, b := step[i-1]/main, step[i]/main; a < 0.5 && b >= 0.5 {
			f.half = r.at(i-1) + 0.5*(0.5-a)/(b-a)
			break
		}
	}
	if math.IsNaN(f.half) || math.Abs(f.half) > 3 {
		return nil
	}
	for i, v := range r.taps {
		at := r.at(i)
		if at < shapeFrom || at > shapeTo {
			continue
		}
		f.times = append(f.times, at)
		f.seen = append(f.seen, v/main)
		f.weight = append(f.weight, 1/(square(r.sigma[i]/main)+square(shapeScatter)+square(shapePart*peak)*math.Exp(-square(at/2))))
	}
	return f
}

// like is the log-likelihood of the response as seen behind a chain, but for what is alike for all.
func (f *shapes) like(m *member) float64 {
	if math.IsNaN(m.half) {
		return math.Inf(-1)
	}
	var gains []float64
	for aside := -shapeAside; aside <= shapeAside+1e-9; aside += shapeAside / 3 {
		var mm, mv, vv float64
		for i, at := range f.times {
			x := (at-f.half+m.half+aside)*shapeFine + shapeLength/2
			k := int(math.Floor(x))
			if k < 0 || k+1 >= shapeLength {
				continue
			}
			part := x - float64(k)
			v := m.wave[k]*(1-part) + m.wave[k+1]*part
			w := f.weight[i]
			mm += w * v * v
			mv += w * v * (f.seen[i] - v)
			vv += w * square(f.seen[i]-v)
		}
		// The size is 1, but for shapeScale.
		precision := mm + 1/square(shapeScale)
		gains = append(gains, -vv/2+mv*mv/precision/2-math.Log1p(mm*square(shapeScale))/2-square(aside/(shapeAside/2))/2)
	}
	return meanExp(gains)
}
