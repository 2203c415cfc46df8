package signal

import (
	"math"
	"math/cmplx"

	"backporch/video"
)

// carrierOf is the subcarrier in the luma of a whole capture, % of white peak to peak, rms over the picture: what a device leaves that
// shows no colour. It moves from field to field where the picture stands still, and what moves else is as much to either side of it.
func (f frame) carrierOf(fields []*video.Field) float64 {
	const window, every = 64, 3
	fields = some(fields, 8)
	carrier := f.p.Standard.Scan().SubcarrierHz
	var hann [window]float64
	for i := range hann {
		hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/window)
	}
	var taps [3][window]complex128
	for k, hz := range [3]float64{carrier, carrier - besideHz, carrier + besideHz} {
		for i := range hann {
			taps[k][i] = cmplx.Rect(hann[i], -2*math.Pi*hz/f.rate*float64(i))
		}
	}
	most := 0.0
	for lag := 1; lag <= 2 && lag < len(fields); lag++ {
		var power [3]float64
		n := 0.0
		for i := lag; i < len(fields); i++ {
			a, b := fields[i-lag], fields[i]
			for y := f.above[0]; y < min(f.below[1], b.Height); y += every {
				la, lb := a.Line(y), b.Line(y)
				for x := f.from; x+window <= f.to; x += window {
					var sums [3]complex128
					for j := range hann {
						d := complex(float64(lb[x+j])-float64(la[x+j]), 0)
						for k := range sums {
							sums[k] += d * taps[k][j]
						}
					}
					for k, v := range sums {
						power[k] += square(real(v)) + square(imag(v))
					}
					n++
				}
			}
		}
		if n == 0 {
			continue
		}
		// A sine of amplitude A has a sum of A window/4; the difference of two of any phase has twice the power of one.
		amplitude := 4 / float64(window) * math.Sqrt(math.Max(0, power[0]-math.Max(power[1], power[2]))/n/2)
		most = math.Max(most, 200*amplitude/nominal)
	}
	return most
}

// besideHz is how far from the subcarrier what else moves is looked at: past the window's own width.
const besideHz = 0.9e6
