package nats

import (
	"math"
	"math/bits"
)

// A Parity is the exclusive-or of some bits of an address, or its complement.
type Parity struct {
	Mask       int
	complement bool
	Broken, Of int // bits that it does not give, bits that were looked at
}

// At is the bit that it gives an address.
func (p Parity) At(a int) bool { return bits.OnesCount(uint(a&p.Mask))&1 == 1 != p.complement }

// FitParity finds the parity that most of the bits at addresses 0 to n-1 follow.
func FitParity(size, n int, bit func(a int) (bit, ok bool)) Parity {
	signs := make([]float64, size)
	of := 0
	for a := range n {
		if b, ok := bit(a); ok {
			of++
			if signs[a] = 1; b {
				signs[a] = -1
			}
		}
	}
	walsh(signs)
	best := 0
	for k, w := range signs {
		if math.Abs(w) > math.Abs(signs[best]) {
			best = k
		}
	}
	return Parity{best, signs[best] < 0, (of - int(math.Abs(signs[best]))) / 2, of}
}

// walsh transforms in place; the length is a power of two.
func walsh(v []float64) {
	for h := 1; h < len(v); h *= 2 {
		for i := 0; i < len(v); i += 2 * h {
			for j := i; j < i+h; j++ {
				v[j], v[j+h] = v[j]+v[j+h], v[j]-v[j+h]
			}
		}
	}
}

// Adaptive is the Krichevsky-Trofimov estimator of a bit in a context.
type Adaptive struct{ N [2]float64 }

// P is the probability of a bit as the next.
func (a *Adaptive) P(bit int) float64 { return (a.N[bit] + 0.5) / (a.N[0] + a.N[1] + 1) }

// Cost is what it takes to write a bit as the next, nats, and counts it.
func (a *Adaptive) Cost(bit int) float64 {
	p := a.P(bit)
	a.N[bit]++
	return -math.Log(p)
}
