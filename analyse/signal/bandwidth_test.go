package signal

import (
	"math"
	"testing"
)

// Responses written down in time, where the families are drawn by frequency: a Gaussian of bandwidth B is one of sigma sqrt(ln 2)/(2 pi B), a
// trap 1 - 2^-((f-f0)/w)^2 takes 2 w sqrt(pi/ln 2) e^-(pi w t)^2/ln 2 cos 2 pi f0 t away, a pole trails by e^-t/tau (Bracewell, The Fourier
// Transform and Its Applications, from memory). A trap as wide as decoders have is no fault, though its edge is as slow as that of a pole of
// 1.75 MHz, 200 ns; one pole is, and a Gaussian of 1 MHz.
func TestSoftness(t *testing.T) {
	const subcarrier = 315e6 / 88
	for _, c := range []struct {
		name              string
		gauss, trap, pole float64 // Hz; 0: none
		soft              bool
	}{
		{"wide luma", 5e6, 0, 0, false},
		{"a trap of 0.6 MHz", 5e6, 0.6e6, 0, false},
		{"a trap of 0.9 MHz", 5e6, 0.9e6, 0, false},
		{"one pole of 1.2 MHz", 5e6, 0.6e6, 1.2e6, true},
		{"one pole of 0.8 MHz and no trap", 6e6, 0, 0.8e6, true},
		{"a Gaussian of 1 MHz", 1e6, 0, 0, true},
	} {
		r := &response{pixel: 1e9 / 7.056e6}
		for i := range r.taps {
			r.taps[i] = drawn(r.at(i)*r.pixel*1e-9, r.pixel*1e-9, c.gauss, c.trap, c.pole, subcarrier)
			r.sigma[i] = 0.01
		}
		got := r.softness(subcarrier)
		if c.soft && got < 6 || !c.soft && got > -2 {
			t.Errorf("%s: %.1f nats", c.name, got)
		}
	}
}

// drawn is the response to a box of the given width at a time after its middle, by sums in time.
func drawn(at, width, gauss, trap, pole, subcarrier float64) float64 {
	sigma := math.Sqrt(math.Ln2) / (2 * math.Pi * gauss)
	box := func(t float64) float64 {
		return 0.5 * (math.Erf((t+width/2)/(math.Sqrt2*sigma)) - math.Erf((t-width/2)/(math.Sqrt2*sigma)))
	}
	const step = 5e-9
	trapped := func(t float64) float64 {
		v := box(t)
		if trap == 0 {
			return v
		}
		for u := -1e-6; u <= 1e-6; u += step {
			k := 2 * trap * math.Sqrt(math.Pi/math.Ln2) * math.Exp(-square(math.Pi*trap*u)/math.Ln2) * math.Cos(2*math.Pi*subcarrier*u)
			v -= k * box(t-u) * step
		}
		return v
	}
	if pole == 0 {
		return trapped(at)
	}
	tau, sum := 1/(2*math.Pi*pole), 0.0
	for u := step / 2; u < 8*tau; u += step {
		sum += math.Exp(-u/tau) / tau * trapped(at-u) * step
	}
	return sum
}

// Soft in the picture and where the border begins is a soft path; soft in one and sharp in the other is not, and where one says nothing the other
// is believed less: the mixture's worked values, ln(e^(p+b)/(0.95 + 0.02 e^b + 0.03 e^p)).
func TestSofter(t *testing.T) {
	for _, c := range [][3]float64{{-4.86, 18.24, -0.948}, {13.74, 21.34, 17.648}, {10, -5, -1.495}, {-10, -8, -17.949}, {0, 18, 3.912}} {
		if got := softer(c[0], c[1]); math.Abs(got-c[2]) > 0.01 {
			t.Errorf("picture %v, border %v: %.3f, want %.3f", c[0], c[1], got, c[2])
		}
	}
}

// The pole behind a trap comes out within a tenth, and the rise time of all within its stated uncertainty of ln 9/(2 pi B), to which a chain of 5 MHz adds
// 70 ns as squares.
func TestPole(t *testing.T) {
	const subcarrier = 4433618.75
	for _, hz := range []float64{0.45e6, 0.7e6, 1.1e6, 1.6e6} {
		for _, trap := range []float64{0, 0.7e6} {
			r := &response{pixel: 1e9 / 7e6}
			for i := range r.taps {
				r.taps[i] = drawn(r.at(i)*r.pixel*1e-9, r.pixel*1e-9, 5e6, trap, hz, subcarrier)
				r.sigma[i] = 0.004
			}
			pole, rise := r.pole(subcarrier)
			if pole == nil {
				t.Fatalf("%v: none", hz)
			}
			if off := math.Abs(pole.Value/hz - 1); off > 0.1 || pole.Spread > 0.3*hz {
				t.Errorf("pole %v behind a trap of %v: %+v", hz, trap, pole)
			}
			want := math.Hypot(math.Log(9)/(2*math.Pi*hz)*1e9, 70)
			if trap == 0 && math.Abs(rise.Value-want) > 2*rise.Spread {
				t.Errorf("pole %v: rises in %+v, want %.0f ns", hz, rise, want)
			}
		}
	}
}
