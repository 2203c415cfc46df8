package survey

import (
	"math"

	"backporch/video"
)

// What a decoder leaves of the subcarrier moves all pixels at one frequency, whatever their phase: that of its step from field to field. Memory
// that goes wrong keeps no time.

const (
	rhythmEvery = 7    // of the pixels that move, one is taken
	rhythmMost  = 1500 // and no more than so many
	rhythmLeast = 12   // fields below which frequencies are not told apart
)

// A rhythm adds up the power spectra of pixels over the fields.
type rhythm struct {
	seen  int
	taken int
	power []float64 // by cycles in all of the fields, from 1 on
	cos   []float64 // of a turn's parts
}

func newRhythm(fields int) *rhythm {
	r := &rhythm{power: make([]float64, fields/2+1), cos: make([]float64, 4*fields)}
	for i := range r.cos {
		r.cos[i] = math.Cos(2 * math.Pi * float64(i) / float64(4*fields))
	}
	return r
}

// add takes the pixel at index at, if its turn has come.
func (r *rhythm) add(fields []*video.Field, at int) {
	if r.seen++; r.seen%rhythmEvery != 0 || r.taken >= rhythmMost || len(fields) < rhythmLeast {
		return
	}
	r.taken++
	n := len(fields)
	mean := 0.0
	for _, f := range fields {
		mean += float64(f.Y[at]) / float64(n)
	}
	for cycles := 1; cycles < len(r.power); cycles++ {
		var re, im float64
		for k, f := range fields {
			v := float64(f.Y[at]) - mean
			turn := 4 * (cycles * k % n)
			re += v * r.cos[turn]
			im += v * r.cos[(turn+3*n)%(4*n)] // the sine is the cosine a quarter behind
		}
		r.power[cycles] += re*re + im*im
	}
}

// share is the part of all power that the strongest frequency has with its neighbours, over which one between them spreads, and its turns in all of
// the fields; 0 where too few moved.
func (r *rhythm) share() (part float64, turns int) {
	if r.taken < 20 {
		return 0, 0
	}
	total, best := 0.0, 0.0
	at := func(k int) float64 {
		if k < 1 || k >= len(r.power) {
			return 0
		}
		return r.power[k]
	}
	for k := range r.power {
		total += at(k)
		if here := at(k-1) + at(k) + at(k+1); here > best {
			best, turns = here, k
		}
	}
	if total <= 0 {
		return 0, 0
	}
	return best / total, turns
}
