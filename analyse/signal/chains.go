package signal

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The families that an edge's shape is weighed by.
const (
	good = iota
	coarse
	soft
	steep
)

// A chain is what a member of a family is made of; 0: not there.
type chain struct {
	family                            int
	machine, trap, sharp, pole, steep float64
	flat                              bool // the trap's bottom
}

// chains lists all members.
func chains() []chain {
	var out []chain
	for i, trap := range slices.Concat(trapHz, flatHz) {
		for _, sharp := range sharpening {
			c := chain{trap: trap, flat: i >= len(trapHz), sharp: sharp}
			for _, hz := range machineHz {
				c.machine = hz
				out = append(out, c)
			}
			c.family, c.machine = coarse, coarseHz
			out = append(out, c)
			c.family, c.machine = soft, usualMachineHz
			for _, hz := range poleHz {
				c.pole, c.steep = hz, 0
				out = append(out, c)
			}
			c.family = steep
			for _, hz := range steepHz {
				c.pole, c.steep = 0, hz
				out = append(out, c)
			}
		}
	}
	return out
}

// A member is a chain's response to a pixel, shapeFine points to one, its middle in the middle.
type member struct {
	chain
	wave []float64
	half float64 // where its step is half, in pixels since the middle; NaN: nowhere near
}

// A store keeps what chains make of a pixel, by pixel and subcarrier, which a display says: no capture changes it.
type store[T any] struct {
	sync.Mutex
	lists map[[2]float64][]T
}

// mostKnown bounds what is kept; there are fewer displays, if not fewer pixel clocks of odd captures.
const mostKnown = 8

// of gives what is kept for pixels of so many seconds, or has it made.
func (s *store[T]) of(pixel, subcarrier float64, build func(w *waves) []T) []T {
	s.Lock()
	defer s.Unlock()
	key := [2]float64{pixel, subcarrier}
	if list, ok := s.lists[key]; ok {
		return list
	}
	if s.lists == nil || len(s.lists) >= mostKnown {
		s.lists = map[[2]float64][]T{}
	}
	s.lists[key] = build(newWaves(pixel, subcarrier))
	return s.lists[key]
}

var known store[member]

// membersOf gives the members of all families for pixels of so many seconds.
func membersOf(pixel, subcarrier float64) []member {
	return known.of(pixel, subcarrier, func(w *waves) (list []member) {
		for _, c := range chains() {
			list = append(list, w.member(c))
		}
		return list
	})
}

// waves makes members; what chains have in common is worked out once, by frequency.
type waves struct {
	fft               *fourier.FFT
	coefficients      []complex128
	hz, box           []float64 // frequencies; what a pixel is, a box, with its middle in the middle of the wave
	pixel, subcarrier float64
	parts             map[part][]float64
}

// A part is one stage of a chain.
type part struct {
	stage string
	at    float64
}

func newWaves(pixel, subcarrier float64) *waves {
	w := &waves{
		fft: fourier.NewFFT(shapeLength), coefficients: make([]complex128, shapeLength/2+1),
		pixel: pixel, subcarrier: subcarrier, parts: map[part][]float64{},
	}
	bin := 1 / (float64(shapeLength) / shapeFine * pixel)
	for k := range w.coefficients {
		hz, box := float64(k)*bin, 1.0
		if x := math.Pi * hz * pixel; x > 0 {
			box = math.Sin(x) / x
		}
		if k%2 == 1 {
			box = -box
		}
		w.hz, w.box = append(w.hz, hz), append(w.box, box)
	}
	return w
}

// part is a stage's size by frequency.
func (w *waves) part(stage string, at float64, size func(hz float64) float64) []float64 {
	key := part{stage, at}
	if w.parts[key] == nil {
		list := make([]float64, len(w.hz))
		for k, hz := range w.hz {
			list[k] = size(hz)
		}
		w.parts[key] = list
	}
	return w.parts[key]
}

// member works out one chain's response.
func (w *waves) member(c chain) member {
	machine := w.part("machine", c.machine, func(hz float64) float64 {
		return math.Exp2(-0.5*square(hz/c.machine)) / math.Sqrt(1+math.Pow(hz/decoderHz, 8))
	})
	sharp := w.part("sharp", c.sharp, func(hz float64) float64 { return 1 + c.sharp*math.Exp(-square((hz-2.8e6)/1.2e6)) })
	stage := "trap"
	if c.flat {
		stage = "flat"
	}
	trap := w.part(stage, c.trap, func(hz float64) float64 {
		if c.trap == 0 {
			return 1
		}
		aside := square((hz - w.subcarrier) / c.trap)
		if c.flat {
			return 1 - 1/(1+aside*aside*aside)
		}
		return 1 - math.Exp2(-aside)
	})
	slope := w.part("steep", c.steep, func(hz float64) float64 {
		if c.steep == 0 {
			return 1
		}
		return math.Exp2(-0.5 * square(hz/c.steep))
	})
	for k := range w.coefficients {
		h := complex(machine[k]*sharp[k]*trap[k], 0)
		if c.pole > 0 {
			h /= complex(1, w.hz[k]/c.pole)
		}
		size := slope[k] * w.box[k]
		w.coefficients[k] = complex(real(h)*size, imag(h)*size)
	}
	m := member{chain: c, wave: w.fft.Sequence(nil, w.coefficients), half: math.NaN()}
	// Taps a pixel apart add up to the step's whole size, 1.
	const scale = float64(shapeFine) / shapeLength
	steps := make([]float64, shapeLength)
	for i := range m.wave {
		m.wave[i] *= scale
		steps[i] = m.wave[i]
		if i >= shapeFine {
			steps[i] += steps[i-shapeFine]
		}
		if i > 0 && math.IsNaN(m.half) && i > shapeLength/2-3*shapeFine && steps[i-1] < 0.5 && steps[i] >= 0.5 {
			m.half = (float64(i-1) + (0.5-steps[i-1])/(steps[i]-steps[i-1]) - shapeLength/2) / shapeFine
		}
	}
	return m
}
