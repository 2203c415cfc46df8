package patterns

import (
	"math"
	"math/bits"
)

// A parity is the exclusive-or of some bits of an address, or its complement.
type parity struct {
	mask       int
	complement bool
	broken, of int // bits that it does not give, bits that were looked at
}

func (p parity) at(a int) bool { return bits.OnesCount(uint(a&p.mask))&1 == 1 != p.complement }

// fitParity finds the parity that most of the bits at addresses 0 to n-1 follow.
func fitParity(size, n int, bit func(a int) (bit, ok bool)) parity {
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
	return parity{best, signs[best] < 0, (of - int(math.Abs(signs[best]))) / 2, of}
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

// adaptive is the Krichevsky-Trofimov estimator of a bit in a context.
type adaptive struct{ n [2]float64 }

func (a *adaptive) p(bit int) float64 { return (a.n[bit] + 0.5) / (a.n[0] + a.n[1] + 1) }

func (a *adaptive) cost(bit int) float64 {
	p := a.p(bit)
	a.n[bit]++
	return -math.Log(p)
}
