package survey

import "math"

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
	turns []float64 // [cycles*fields+field]: cosines and sines by turns
	moves []float64 // of the pixel at hand about its mean, by field
}

func newRhythm(fields int) *rhythm {
	r := &rhythm{power: make([]float64, fields/2+1), moves: make([]float64, fields)}
	cos := make([]float64, 4*fields) // of a turn's parts
	for i := range cos {
		cos[i] = math.Cos(2 * math.Pi * float64(i) / float64(4*fields))
	}
	for cycles := range r.power {
		for k := range fields {
			turn := 4 * (cycles * k % fields)
			r.turns = append(r.turns, cos[turn], cos[(turn+3*fields)%(4*fields)]) // the sine is the cosine a quarter behind
		}
	}
	return r
}

// add takes the pixel at index at of the fields' planes, if its turn has come.
func (r *rhythm) add(planes [][]uint8, at int) {
	if r.seen++; r.seen%rhythmEvery != 0 || r.taken >= rhythmMost || len(planes) < rhythmLeast {
		return
	}
	r.taken++
	n := len(planes)
	mean := 0.0
	for _, plane := range planes {
		mean += float64(plane[at]) / float64(n)
	}
	for k, plane := range planes {
		r.moves[k] = float64(plane[at]) - mean
	}
	// Two frequencies at a time, for neither sum need wait for the other.
	for cycles := 1; cycles < len(r.power); cycles += 2 {
		one := r.turns[2*cycles*n:][:2*n]
		two := one
		if cycles+1 < len(r.power) {
			two = r.turns[2*(cycles+1)*n:][:2*n]
		}
		var re1, im1, re2, im2 float64
		for k, v := range r.moves {
			re1 += v * one[2*k]
			im1 += v * one[2*k+1]
			re2 += v * two[2*k]
			im2 += v * two[2*k+1]
		}
		r.power[cycles] += re1*re1 + im1*im1
		if cycles+1 < len(r.power) {
			r.power[cycles+1] += re2*re2 + im2*im2
		}
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
