package signal

import (
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Spectra are those of gonum's transforms, of two real series at a time too.
func TestRadix4(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{4, 8, 512, 1024} {
		f := newRadix4(n)
		x := make([]complex128, n)
		re, im := make([]float64, n), make([]float64, n)
		for i := range x {
			re[i], im[i] = rng.NormFloat64(), rng.NormFloat64()
			x[i] = complex(re[i], im[i])
		}
		want := fourier.NewCmplxFFT(n).Coefficients(nil, x)
		z := slices.Clone(f.transform(slices.Clone(x)))
		for k := range z {
			if cmplx.Abs(z[k]-want[k]) > 1e-11 {
				t.Fatalf("length %d, bin %d: %v, want %v", n, k, z[k], want[k])
			}
		}
		a, b := make([]complex128, n/2+1), make([]complex128, n/2+1)
		untangle(a, b, z)
		real := fourier.NewFFT(n)
		for i, got := range [2][]complex128{a, b} {
			for k, c := range real.Coefficients(nil, [2][]float64{re, im}[i]) {
				if cmplx.Abs(got[k]-c) > 1e-11 {
					t.Fatalf("length %d, series %d, bin %d: %v, want %v", n, i, k, got[k], c)
				}
			}
		}
	}
}
