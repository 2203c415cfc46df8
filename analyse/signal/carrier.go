package signal

import (
	"math"
	"math/cmplx"

	"backporch/analyse"
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

// Beside a subcarrier in luma, what is less than a part of it is a codec's making of it, on blocks of 8 samples.
const besideCarrier = 8

// uncoloured parts the subcarrier of the border's colour from the tones: a device that shows no colour does not take it off.
func uncoloured(tones []analyse.Tone, carrierHz float64) (carrier float64, rest []analyse.Tone) {
	for _, t := range tones {
		if math.Abs(t.Hz.Value-carrierHz) < fscGuardHz {
			carrier = math.Max(carrier, t.Pct.Value)
		}
	}
	for _, t := range tones {
		if math.Abs(t.Hz.Value-carrierHz) >= fscGuardHz && t.Pct.Value > carrier/besideCarrier {
			rest = append(rest, t)
		}
	}
	return carrier, rest
}

// undoCarrier is how much subcarrier, % of white peak to peak, is taken off luma where the device leaves it: what passes through
// a trap in any case is less (common practice, no source).
const undoCarrier = 2.0

// trap takes the subcarrier off luma, as a device does that shows colour: what a window of some 1.2 us holds of it.
func (p *Path) trap(f *video.Field) {
	const reach = 8
	var taps [2*reach + 1]float64
	sum := 0.0
	for i := range taps {
		taps[i] = 0.5 + 0.5*math.Cos(math.Pi*float64(i-reach)/(reach+1))
		sum += taps[i]
	}
	step := 2 * math.Pi * p.frame.p.Standard.Scan().SubcarrierHz / p.frame.rate
	window, direct := taps, 0.0
	for i := range taps {
		taps[i] *= 2 / sum * math.Cos(step*float64(i-reach))
		direct += taps[i]
	}
	for i := range taps { // what stands still stays
		taps[i] -= direct * window[i] / sum
	}
	line := make([]float64, f.Width)
	for y := range f.Height {
		codes := f.Line(y)
		for x := range line {
			off := 0.0
			for i, w := range taps {
				off += w * float64(codes[min(max(x+i-reach, 0), f.Width-1)])
			}
			line[x] = float64(codes[x]) - off
		}
		for x, v := range line {
			codes[x] = uint8(min(max(v+0.5, 0), 255))
		}
	}
}
