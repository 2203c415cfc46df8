package waveform

import "math"

// Band-limited interpolation: a Kaiser-windowed sinc over 16 samples, in 256 phases. With
// beta 6 it is flat to 0.1 % up to a third of the rate.
const (
	taps   = 16
	phases = 256
)

var kernels = func() (k [phases + 1][taps]float32) {
	for p := range k {
		sum := 0.0
		var row [taps]float64
		for i := range row {
			t := float64(i-taps/2+1) - float64(p)/phases
			row[i] = sinc(t) * kaiser(t/(taps/2), 6)
			sum += row[i]
		}
		for i, v := range row {
			k[p][i] = float32(v / sum)
		}
	}
	return k
}()

// interpolate is x at sample place t; false near the ends and where samples are missing.
func interpolate(x []float32, t float64) (float64, bool) {
	whole := math.Floor(t)
	i := int(whole) - taps/2 + 1
	if i < 0 || i+taps > len(x) {
		return 0, false
	}
	k := &kernels[int((t-whole)*phases+0.5)]
	s := (*[taps]float32)(x[i:])
	var a, b float32
	for j := 0; j < taps; j += 2 {
		a += k[j] * s[j]
		b += k[j+1] * s[j+1]
	}
	v := float64(a + b)
	return v, v == v
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// kaiser is the Kaiser window, x from -1 to 1.
func kaiser(x, beta float64) float64 {
	if x < -1 || x > 1 {
		return 0
	}
	return bessel0(beta*math.Sqrt(1-x*x)) / bessel0(beta)
}

// bessel0 is the modified Bessel function of order 0, by its series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; k < 40; k++ {
		term *= x / (2 * k) * (x / (2 * k))
		sum += term
	}
	return sum
}
