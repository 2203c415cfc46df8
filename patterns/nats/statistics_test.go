package nats

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// The probability of a sequence under a Beta prior, against gonum's beta function.
func TestBetaSequence(t *testing.T) {
	for _, tt := range []struct {
		k, n int
		a, b float64
	}{{0, 10, 0.5, 3}, {3, 10, 1, 1}, {40, 6912, 0.5, 3}, {6912, 6912, 2, 40}} {
		want := mathext.Lbeta(float64(tt.k)+tt.a, float64(tt.n-tt.k)+tt.b) - mathext.Lbeta(tt.a, tt.b)
		if got := BetaSequence(tt.k, tt.n, tt.a, tt.b); math.Abs(got-want) > 1e-8*math.Max(1, math.Abs(want)) {
			t.Errorf("%+v: %v, want %v", tt, got, want)
		}
	}
	// All sequences of five together are certain.
	sum := 0.0
	for k, ways := range []float64{1, 5, 10, 10, 5, 1} {
		sum += ways * math.Exp(BetaSequence(k, 5, 0.5, 3))
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("the sequences of five add up to %v", sum)
	}
}

// The normal density, against gonum's.
func TestGauss(t *testing.T) {
	for _, x := range []float64{-3, 0, 1.5, 40} {
		want := distuv.Normal{Mu: 1, Sigma: 2.5}.LogProb(x)
		if got := Gauss(x, 1, 2.5); math.Abs(got-want) > 1e-12*math.Max(1, math.Abs(want)) {
			t.Errorf("at %v: %v, want %v", x, got, want)
		}
	}
}

// The transform finds the parity that a memory was made from, through unknown and broken bits.
func TestFitParity(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		mask, complement := rng.IntN(1<<13), rng.IntN(2) == 1
		memory, known := make([]bool, 6912), make([]bool, 6912)
		broken, of := 0, 0
		for a := range memory {
			memory[a] = bits.OnesCount(uint(a&mask))%2 == 1 != complement
			known[a] = rng.IntN(4) > 0
			if known[a] {
				of++
				if rng.IntN(8) == 0 {
					memory[a] = !memory[a]
					broken++
				}
			}
		}
		got := FitParity(1<<13, len(memory), func(a int) (bool, bool) { return memory[a], known[a] })
		// Bits 11 and 12 together never leave their three values below 6912: another mask may be as good.
		if got.Broken > broken || got.Of != of || got.Mask == mask && got.complement != complement {
			t.Errorf("mask %013b complement %v with %d broken of %d: found %+v", mask, complement, broken, of, got)
		}
	}
}
