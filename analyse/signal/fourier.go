package signal

import (
	"math"
	"math/cmplx"
)

// A radix4 is Fourier's transform of a fixed length, a power of two, over four points at a time with results in order (Stockham's
// way: Van Loan, Computational Frameworks for the Fast Fourier Transform, 1992, 1.7 and 2.4, from memory). The border's spectra take
// thousands of transforms a capture.
type radix4 struct {
	turns []complex128 // e^(-2 pi i k/n)
	room  []complex128
}

func newRadix4(n int) *radix4 {
	f := &radix4{turns: make([]complex128, n), room: make([]complex128, n)}
	for k := range f.turns {
		f.turns[k] = cmplx.Rect(1, -2*math.Pi*float64(k)/float64(n))
	}
	return f
}

// transform takes x to its spectrum. What it gives is x, or room that the next transform uses again; x is lost.
func (f *radix4) transform(x []complex128) []complex128 {
	y := f.room
	stride := 1 // transforms that lie side by side
	for n := len(x); n > 1; {
		if n == 2 {
			a, b := x[:stride], x[stride:]
			for q := range a {
				y[q], y[q+stride] = a[q]+b[q], a[q]-b[q]
			}
			return y
		}
		quarter := n / 4
		if stride == 1 {
			f.first(y, x)
			x, y = y, x
			n, stride = quarter, 4
			continue
		}
		for p := range quarter {
			w1, w2, w3 := f.turns[p*stride], f.turns[2*p*stride], f.turns[3*p*stride]
			a, b := x[p*stride:][:stride], x[(p+quarter)*stride:][:stride]
			c, d := x[(p+2*quarter)*stride:][:stride], x[(p+3*quarter)*stride:][:stride]
			out := y[4*p*stride:][:4*stride]
			o0, o1, o2, o3 := out[:stride], out[stride:][:stride], out[2*stride:][:stride], out[3*stride:][:stride]
			for q := range a {
				even, evenOff := a[q]+c[q], a[q]-c[q]
				odd, t := b[q]+d[q], b[q]-d[q]
				oddOff := complex(imag(t), -real(t)) // times -i
				o0[q] = even + odd
				o1[q] = w1 * (evenOff + oddOff)
				o2[q] = w2 * (even - odd)
				o3[q] = w3 * (evenOff - oddOff)
			}
		}
		x, y = y, x
		n, stride = quarter, 4*stride
	}
	return x
}

// first is the first stage, whose transforms lie side by side one by one.
func (f *radix4) first(y, x []complex128) {
	quarter := len(x) / 4
	a, b, c, d := x[:quarter], x[quarter:][:quarter], x[2*quarter:][:quarter], x[3*quarter:][:quarter]
	for p := range a {
		even, evenOff := a[p]+c[p], a[p]-c[p]
		odd, t := b[p]+d[p], b[p]-d[p]
		oddOff := complex(imag(t), -real(t)) // times -i
		out := y[4*p : 4*p+4 : 4*p+4]
		out[0] = even + odd
		out[1] = f.turns[p] * (evenOff + oddOff)
		out[2] = f.turns[2*p] * (even - odd)
		out[3] = f.turns[3*p] * (evenOff - oddOff)
	}
}

// untangle parts the spectrum z of two real series, the second of which was laid in the imaginary part, into that of either; a and b hold
// frequencies from 0 to half the length.
func untangle(a, b, z []complex128) {
	n := len(z)
	for k := range a {
		u, v := z[k], cmplx.Conj(z[(n-k)&(n-1)])
		sum, d := u+v, u-v
		a[k] = complex(real(sum)/2, imag(sum)/2)
		b[k] = complex(imag(d)/2, -real(d)/2)
	}
}
