package signal

import (
	"math"
	"slices"

	"backporch/video"
)

// A codec of the JPEG kind cuts the picture into blocks of 8 by 8 samples, transforms each (ITU-T T.81, A.3.3) and rounds
// the coefficients to multiples of a step. What of noise is smaller than half a step is gone, and what is larger comes back larger,
// so that the samples' own scatter says little: at 39 dB a common recording shows 45. But rounding leaves its marks. All
// coefficients are multiples of their step, whatever the picture is; the steps can be read off them, and
// how many coefficients of an even border are none of 0 says how large the noise was before.

const (
	blockSide  = 8
	roundedVar = 1.0 / 12 // of samples rounded to codes, and so of coefficients: the transform is orthonormal
	leastSteps = 24       // coefficients other than 0 by which a step is read
	mostStep   = 64
	mostSteps  = 600  // more tell nothing new
	leastCodec = 1.5  // codes: a step of 1 changes nothing
	fewRounded = 12   // coefficients of the border other than 0 by which noise is measured; fewer bound it
	finer      = 0.7  // of another step: no coder rounds what is finer in the picture to finer steps (ITU-T T.81, K.1), but for a little
	codecOff   = 0.17 // mean square of what coefficients are off multiples; rounding of the samples leaves 1/12
)

// The coefficients that noise is read from: those along the line between 0.8 and 1.7 MHz, where every decoder lets luma through, and all
// along the column but the mean, where hum and bars are.
const (
	quietFromU, quietToU = 1, 2
	quietFromV, quietToV = 1, 7
)

// A rounding is what a codec did to the border.
type rounding struct {
	sigma  float64 // rms of white noise over all that the samples can hold, codes, before the codec
	spread float64 // dB
	hidden bool    // the noise is less than sigma: nearly all of it is gone
	// What it leaves open of a wave on the border, codes peak to peak, one standard deviation: of one that stands still and of one that moves.
	fixed, moving float64
}

// blocks are a frame's luma, as a coder cuts it.
type blocks struct {
	fields [2]*video.Field // by parity, or the first alone
	step   int             // fields that are woven
}

func (b blocks) rows() int    { return b.fields[0].Height * b.step / blockSide }
func (b blocks) columns() int { return b.fields[0].Width / blockSide }

// cosines are the transform's, [frequency][place].
var cosines = func() (c [blockSide][blockSide]float64) {
	for u := range blockSide {
		size := math.Sqrt(2.0 / blockSide)
		if u == 0 {
			size = math.Sqrt(1.0 / blockSide)
		}
		for x := range blockSide {
			c[u][x] = size * math.Cos(float64(2*x+1)*float64(u)*math.Pi/(2*blockSide))
		}
	}
	return c
}()

// at gives the coefficients of one block that noise is read from; false where samples are cut off.
func (b blocks) at(column, row int, out *[blockSide][blockSide]float64) bool {
	var half [blockSide][blockSide]float64 // [line][u]
	for y := range blockSide {
		line := row*blockSide + y
		f := b.fields[line%b.step]
		samples := f.Line(line / b.step)[column*blockSide:][:blockSide]
		for _, v := range samples {
			if v <= 1 || v >= 254 {
				return false
			}
		}
		for u := range quietToU + 1 {
			sum := 0.0
			for x, v := range samples {
				sum += cosines[u][x] * float64(v)
			}
			half[y][u] = sum
		}
	}
	for v := range blockSide {
		for u := range quietToU + 1 {
			sum := 0.0
			for y := range blockSide {
				sum += cosines[v][y] * half[y][u]
			}
			out[v][u] = sum
		}
	}
	return true
}

// pairsOf lists the frames of fields that were woven, or the fields alone.
func pairsOf(fields []*video.Field, step, most int) []blocks {
	var out []blocks
	if step == 1 {
		for _, f := range some(fields, most) {
			out = append(out, blocks{fields: [2]*video.Field{f, nil}, step: 1})
		}
		return out
	}
	for i := 0; i+1 < len(fields) && len(out) < most; i++ {
		a, b := fields[i], fields[i+1]
		if a.Frame != b.Frame || a.Parity == b.Parity || a.Height != b.Height {
			continue
		}
		if a.Parity == 1 {
			a, b = b, a
		}
		out = append(out, blocks{fields: [2]*video.Field{a, b}, step: 2})
		i++
	}
	return out
}

// rounded looks for a codec's steps, in frames and in single fields; nil: there are none.
func (f frame) rounded(fields []*video.Field) *rounding {
	for _, step := range []int{2, 1} {
		list := pairsOf(fields, step, 6)
		if len(list) == 0 {
			continue
		}
		steps := stepsOf(list[:min(len(list), 2)])
		if r := f.noiseBehind(list, &steps); r != nil {
			return r
		}
	}
	return nil
}

// stepsOf reads the steps off all blocks of some frames; 0: not told.
func stepsOf(list []blocks) (steps [blockSide][blockSide]float64) {
	var seen [blockSide][blockSide][]float64
	var c [blockSide][blockSide]float64
	for _, b := range list {
		for row := range b.rows() {
			for column := range b.columns() {
				if !b.at(column, row, &c) {
					continue
				}
				for v := quietFromV; v <= quietToV; v++ {
					for u := quietFromU; u <= quietToU; u++ {
						if math.Abs(c[v][u]) > 4*math.Sqrt(roundedVar) {
							seen[v][u] = append(seen[v][u], c[v][u])
						}
					}
				}
			}
		}
	}
	var most [blockSide]float64
	for v := range seen {
		for u := range seen[v] {
			q := stepOf(seen[v][u])
			if q < finer*most[u] {
				continue // read off what samples at an end of the codes have lost
			}
			steps[v][u], most[u] = q, math.Max(most[u], q)
		}
	}
	return steps
}

// stepOf is the greatest step that all coefficients are multiples of, but for the samples' rounding; 0: none.
func stepOf(list []float64) float64 {
	if len(list) < leastSteps {
		return 0
	}
	if n := len(list); n > mostSteps {
		thinned := make([]float64, mostSteps)
		for i := range thinned {
			thinned[i] = list[i*n/mostSteps]
		}
		list = thinned
	}
	score := func(step int) float64 {
		w := 2 * math.Pi / float64(step)
		sum, above := 0.0, 0
		for _, c := range list {
			sum += math.Cos(w * c)
			if math.Abs(c) > float64(step)/2 {
				above++
			}
		}
		if 20*above <= 19*len(list) { // none but 0 is less than a step
			return 0
		}
		// Rounding of the samples leaves so much of a cosine.
		return sum / float64(len(list)) / math.Exp(-w*w*roundedVar/2)
	}
	for step := mostStep; step >= 2; step-- {
		here := score(step)
		if here < 0.85 {
			continue
		}
		for step > 2 { // one that is hardly too great fits nearly as well
			next := score(step - 1)
			if next <= here {
				break
			}
			step, here = step-1, next
		}
		return float64(step)
	}
	return 0
}

// noiseBehind measures the noise of the border before the codec; nil where its coefficients are no multiples of the steps.
func (f frame) noiseBehind(list []blocks, steps *[blockSide][blockSide]float64) *rounding {
	var squares, count, others [blockSide][blockSide]float64
	var c [blockSide][blockSide]float64
	left, all := 0.0, 0.0
	for _, b := range list {
		for row := range b.rows() {
			first, last := row*blockSide/b.step, (row*blockSide+blockSide-1)/b.step
			if !(first >= f.above[0] && last < f.above[1] || first >= f.below[0] && last < f.below[1]) {
				continue
			}
			for column := (f.from + blockSide - 1) / blockSide; (column+1)*blockSide <= f.to; column++ {
				if !b.at(column, row, &c) {
					continue
				}
				for v := quietFromV; v <= quietToV; v++ {
					for u := quietFromU; u <= quietToU; u++ {
						q := steps[v][u]
						if q < leastCodec {
							continue
						}
						k := math.Round(c[v][u] / q)
						left += square(c[v][u] - k*q)
						all++
						squares[v][u] += square(k * q)
						count[v][u]++
						if k != 0 {
							others[v][u]++
						}
					}
				}
			}
		}
	}
	if all < 40*float64(quietToU*quietToV) || left/all > codecOff {
		return nil
	}
	r := fromSteps(&squares, &count, &others, steps)
	r.fixed, r.moving = waveOpen(steps)
	return r
}

// waveOpen is what rounding does to a wave along the lines. One of amplitude A that is alike on all lines of a block makes a coefficient of up to A sqrt(32), which
// rounding moves by up to half a step, evenly: q/sqrt(12) or, peak to peak of the wave, 0.1 q; it has two such coefficients mostly, and one that
// moves down the lines has them in several rows.
func waveOpen(steps *[blockSide][blockSide]float64) (fixed, moving float64) {
	const peakToPeak = 2 / 5.657 / 3.464
	var first, all []float64
	for v := quietFromV; v <= quietToV; v++ {
		for _, q := range steps[v] {
			if q > 0 {
				all = append(all, q)
				if v <= 2 {
					first = append(first, q)
				}
			}
		}
	}
	middle := func(list []float64) float64 {
		if len(list) == 0 {
			return 0
		}
		slices.Sort(list)
		return list[len(list)/2]
	}
	return peakToPeak * math.Sqrt(2) * middle(first), peakToPeak * math.Sqrt(2*4) * middle(all)
}

// fromSteps is the noise by the mean squares of the coefficients. Each tells by itself; what a decoder leaves of the subcarrier of a coloured border, or
// a wave, is in some of them alone, so that not their mean counts but what four in ten do not reach.
func fromSteps(squares, count, others, steps *[blockSide][blockSide]float64) *rounding {
	var tell []float64
	nonzero, all := 0.0, 0.0
	for v := range count {
		for u, n := range count[v] {
			if n == 0 || others[v][u] < fewRounded {
				continue
			}
			nonzero, all = nonzero+others[v][u], all+n
			tell = append(tell, between(0.02, 100, func(sigma float64) bool {
				second, _ := throughSteps(sigma, steps[v][u])
				return n*second < squares[v][u]
			}))
		}
	}
	if len(tell) == 0 { // so much noise would have left some
		sigma := between(0.02, 100, func(sigma float64) bool {
			sum := 0.0
			for v := range count {
				for u, n := range count[v] {
					if n > 0 {
						_, some := throughSteps(sigma, steps[v][u])
						sum += n * some
					}
				}
			}
			return sum < fewRounded
		})
		return &rounding{sigma: sigma, hidden: true}
	}
	slices.Sort(tell)
	// A coder may round towards 0, so that the step before the first is wider by up to a third (common practice, no source);
	// where most coefficients are none of 0, that hardly tells. The rest is what decoders do up to 2 MHz.
	return &rounding{sigma: tell[2*(len(tell)-1)/5], spread: math.Hypot(0.5, 1.2*math.Exp(-nonzero/all/0.15))}
}

// between finds where a condition that holds for small values ends, by halving.
func between(low, high float64, holds func(float64) bool) float64 {
	for range 40 {
		middle := math.Sqrt(low * high)
		if holds(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// throughSteps is what normal noise of sigma becomes in steps of q: its mean square, and the part that is none of 0.
func throughSteps(sigma, q float64) (second, nonzero float64) {
	above := func(x float64) float64 { return 0.5 * math.Erfc(x/sigma/math.Sqrt2) }
	last := above(q / 2)
	nonzero = 2 * last
	for k := 1.0; last > 1e-12 && k < 200; k++ {
		next := above((k + 0.5) * q)
		second += 2 * square(k*q) * (last - next)
		last = next
	}
	return second, nonzero
}
