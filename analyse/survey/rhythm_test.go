package survey

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Pixels that turn at one frequency with any phase keep time, bits that come and go by chance keep none, and what decays has no more than a slow turn.
func TestRhythm(t *testing.T) {
	const n, pixels = 24, 4096
	rng := rand.New(rand.NewPCG(8, 1))
	measure := func(at func(k, i int) float64) (float64, int) {
		planes := make([][]uint8, n)
		for k := range planes {
			planes[k] = make([]uint8, pixels)
			for i := range pixels {
				planes[k][i] = uint8(math.Max(0, math.Min(255, 120+at(k, i)+2*rng.NormFloat64())))
			}
		}
		r := newRhythm(n)
		for i := range pixels {
			r.add(planes, i)
		}
		return r.share()
	}
	every := make([]int, pixels)
	for i := range every {
		every[i] = i
	}
	kept := func(at func(k, i int) float64) bool {
		planes := make([][]uint8, n)
		for k := range planes {
			planes[k] = make([]uint8, pixels)
			for i := range pixels {
				planes[k][i] = uint8(120 + at(k, i))
			}
		}
		return !keepsNoTime(every, planes)
	}
	beat, bit := func(k, i int) float64 { return 30 * math.Cos(2*math.Pi*0.283*float64(k)+float64(i)) }, func(int, int) float64 { return 40 * float64(rng.IntN(2)) }
	if !kept(beat) || kept(bit) {
		t.Errorf("a beat keeps time: %v, bits by chance: %v", kept(beat), kept(bit))
	}
	if !kept(func(k, i int) float64 { return 2*beat(k, i) + bit(k, i)/4 }) { // some of what moves by chance is in every beat
		t.Error("a beat with a little chance keeps no time")
	}
	if part, turns := measure(func(k, i int) float64 { return 30 * math.Cos(2*math.Pi*0.283*float64(k)+float64(i)) }); part < 0.8 || turns < 6 || turns > 8 {
		t.Errorf("one frequency, 6.8 turns: %.2f, %d turns", part, turns)
	}
	bits := make([]float64, n*pixels)
	for i := range bits {
		bits[i] = 80 * float64(rng.IntN(2))
	}
	if part, _ := measure(func(k, i int) float64 { return bits[k*pixels+i] }); part > 0.4 {
		t.Errorf("by chance: %.2f", part)
	}
	if _, turns := measure(func(k, i int) float64 { return 80 * float64((i%n-k)>>31&1) }); turns > 2 {
		t.Errorf("what changes once: %d turns", turns)
	}
}
