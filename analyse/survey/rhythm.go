package survey

import "math"

// What a decoder leaves of the subcarrier moves all pixels at one frequency, whatever their phase: that of its step from field to field. Memory
// that goes wrong keeps no time.

const (
	rhythmMost  = 1500 // of the pixels that move no more are taken
	rhythmFew   = 10   // of fewer nothing is said
	rhythmLeast = 12   // fields below which frequencies are not told apart
)

// A rhythm adds up the power spectra of pixels over the fields.
type rhythm struct {
	taken int
	power []float64 // by cycles in all of the fields, from 1 on
	// turns are cosines and sines by [cycles*half+field], to the middle of the fields: those that lie as far from either end have the same
	// cosine and opposite sines, so that their sums and differences, pairs, will do.
	turns []float64
	pairs []float64
	moves []float64 // of the pixel at hand about its mean, by field
}

func newRhythm(fields int) *rhythm {
	half := fields/2 + 1
	r := &rhythm{power: make([]float64, half), pairs: make([]float64, 2*half), moves: make([]float64, fields)}
	for cycles := range r.power {
		for k := range half {
			sin, cos := math.Sincos(2 * math.Pi * float64(cycles*k%max(fields, 1)) / float64(fields))
			r.turns = append(r.turns, cos, sin)
		}
	}
	return r
}

// add takes the pixel at index at of the fields' planes.
func (r *rhythm) add(planes [][]uint8, at int) {
	if r.taken >= rhythmMost || len(planes) < rhythmLeast {
		return
	}
	r.taken++
	n, mean := len(planes), 0.0
	for k, plane := range planes {
		r.moves[k] = float64(plane[at])
		mean += r.moves[k] / float64(n)
	}
	for k := 0; 2*k <= n; k++ {
		a := r.moves[k] - mean
		switch {
		case k == 0 || 2*k == n: // by itself, and where no sine is
			r.pairs[2*k], r.pairs[2*k+1] = a, 0
		default:
			b := r.moves[n-k] - mean
			r.pairs[2*k], r.pairs[2*k+1] = a+b, a-b
		}
	}
	for cycles := 1; cycles < len(r.power); cycles++ {
		turns := r.turns[cycles*len(r.pairs):][:len(r.pairs)]
		var re, im float64
		for k := 0; k+1 < len(turns); k += 2 {
			re += r.pairs[k] * turns[k]
			im += r.pairs[k+1] * turns[k+1]
		}
		r.power[cycles] += re*re + im*im
	}
}

// share is the part of all power that the strongest frequency has with its neighbours, over which one between them spreads, and its turns in all of
// the fields; 0 where too few moved.
func (r *rhythm) share() (part float64, turns int) {
	if r.taken < rhythmFew {
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

// beatShare is the part of all power that the subcarrier's beat has at its frequency, as captures show.
const beatShare = 0.7

// keepsNoTime tells whether what moves at these pixels of the fields' planes is nearer to moving at all frequencies alike, as memory that goes wrong by chance does, than
// to a beat of the subcarrier.
func keepsNoTime(at []int, planes [][]uint8) bool {
	r := newRhythm(len(planes))
	for i := 0; i < len(at); i += 1 + len(at)/rhythmMost { // from all over the picture
		r.add(planes, at[i])
	}
	alike := 3 / float64(max(len(r.power)-1, 1)) // three bins of all
	part, _ := r.share()
	return part > 0 && part < (alike+beatShare)/2
}
