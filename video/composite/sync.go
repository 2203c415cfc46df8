package composite

import (
	"math"
	"slices"
)

// A flywheel follows line sync: a second-order loop on the sliced edges, with black
// level and gain taken where sync tip and back porch should be. Constants: common
// practice, no source.
type flywheel struct {
	rate    float64 // samples a second
	nominal float64 // samples a line, by the standard
	height  float64 // sync height by the standard, mV
	pull    float64 // share of a line's error that is put right at once
	clamp   float64 // share of a line's own porch in the black level
	cycle   float64 // samples a subcarrier cycle
	porch   float64 // s, length of the black sample: whole subcarrier cycles

	at      float64 // predicted 0H, absolute sample place
	period  float64 // samples a line
	tip     float64 // mV as they are in the waveform
	black   float64
	levels  int // lines that have gone into tip and black, up to a limit
	locked  bool
	good    int // lines in a row with an edge where it should be
	missed  int // lines in a row without one
	seen    bool
	errors  float64 // mean squared edge error while locked, samples squared
	present float64 // share of lines with an edge, running mean
}

// gain is what brings sync to its proper height, within what such a control can do.
func (f *flywheel) gain() float64 {
	h := f.black - f.tip
	if h < f.height/4 {
		return 4
	}
	return math.Max(f.height/h, 0.25)
}

// us is a length of time in samples.
func (f *flywheel) us(t float64) float64 { return t * 1e-6 * f.rate }

// guess sets tip and black from the distribution of a stretch of waveform: sync is
// below about the 7 %, the porches and blanked lines lie about the 14 % point.
func (f *flywheel) guess(x []float32) {
	m := max(1, int(f.us(0.5)))
	means := make([]float32, 0, len(x)/m)
	for i := 0; i+m <= len(x); i += m {
		means = append(means, sum(x[i:i+m])/float32(m))
	}
	if len(means) < 100 {
		return
	}
	slices.Sort(means)
	f.tip = float64(means[len(means)*3/100])
	f.black = float64(means[len(means)*14/100])
	f.levels = 0
}

func sum(x []float32) float32 {
	var s float32
	for _, v := range x {
		s += v
	}
	return s
}

// mean of x (which begins at absolute sample base) from place a on for n samples.
func mean(x []float32, base int64, a, n float64) float64 {
	i := max(0, int(math.Round(a))-int(base))
	j := min(len(x), i+int(n))
	if i >= j {
		return 0
	}
	return float64(sum(x[i:j])) / float64(j-i)
}

// advance finds the edge of the line predicted at f.at, corrects the loop, and
// returns this line's 0H. x must reach a line and a half past it.
func (f *flywheel) advance(x []float32, base int64) (zero float64) {
	window := f.us(1.6)
	if !f.locked {
		window = f.period / 2
	}
	edge, ok := f.edge(x, base, window)
	ok = ok && f.black-f.tip > 0.06*f.height // less is no sync at all
	f.seen = ok
	const memory = 1.0 / 256
	f.present -= f.present * memory
	if ok {
		f.present += memory
		e := edge - f.at
		if f.locked {
			zero = f.at + f.pull*e
			f.period += f.pull * f.pull / 6 * e
			f.period = min(max(f.period, f.nominal*0.96), f.nominal*1.04)
			f.errors += (e*e - f.errors) * memory
			// Edges all over the window are noise.
			f.locked = f.errors < f.us(0.5)*f.us(0.5) && f.present > 0.3
		} else {
			zero = edge
			f.errors = e * e
			f.period += (f.nominal - f.period) * 0.1
			if math.Abs(e) > f.us(1.6) {
				f.good = 0
			} else {
				f.period += 0.2 * e
			}
		}
		f.good++
		f.missed = 0
		if !f.locked && f.good > 10 && f.present > 0.05 {
			f.locked = true
			f.errors = 0
			f.present = max(f.present, 0.5)
		}
		f.level(x, base, zero)
	} else {
		zero = f.at
		f.good = 0
		f.missed++
		if f.missed > 30 {
			f.locked = false
		}
	}
	f.at = zero + f.period
	return zero
}

// edge looks for the falling edge of sync nearest to f.at, with half-amplitude
// place to a part of a sample, and with low signal behind it.
func (f *flywheel) edge(x []float32, base int64, window float64) (place float64, ok bool) {
	m := max(2, int(f.us(0.34))&^1) // running mean of an even number of samples: sits between two
	slice := float32((f.tip + f.black) / 2)
	from := int(math.Floor(f.at-window)) - int(base)
	to := int(math.Ceil(f.at+window)) - int(base)
	from = max(from, m/2)
	to = min(to, len(x)-m/2-int(f.us(2.2))-2)
	if from >= to {
		return 0, false
	}
	s := sum(x[from-m/2 : from+m/2]) // centred at from-0.5
	limit := slice * float32(m)
	best := math.Inf(1)
	for i := from; i < to; i++ {
		next := s + x[i+m/2] - x[i-m/2]
		if s >= limit && next < limit {
			p := float64(i) - 0.5 + float64((s-limit)/(s-next)) + float64(base)
			d := math.Abs(p - f.at)
			if d < best && f.pulse(x, base, p) {
				best, place = d, p
			} else if d > best {
				break
			}
		}
		s = next
	}
	return place, best <= window
}

// pulse says whether an edge at p has the porch's level before it and the tip's behind,
// which noise seldom has.
func (f *flywheel) pulse(x []float32, base int64, p float64) bool {
	third := (f.black - f.tip) / 3
	return mean(x, base, p+f.us(0.4), f.us(1.6)) < f.tip+third &&
		mean(x, base, p-f.us(1.2), f.us(0.9)) > f.black-third
}

// level takes tip and black of a line whose edge was found.
func (f *flywheel) level(x []float32, base int64, zero float64) {
	tip := mean(x, base, zero+f.us(1), f.us(3))
	black := mean(x, base, zero+f.us(5.05), f.porch*f.rate)
	if !(black-tip >= (f.black-f.tip)*0.5) { // in the field pulse, or samples that are no numbers
		return
	}
	f.levels = min(f.levels+1, 40)
	k := 1 / float64(f.levels)
	// The height changes slowly; both levels together may drift or hum fast.
	height := f.black - f.tip
	height += (black - tip - height) * k
	f.black += (black - f.black) * math.Max(k, f.clamp)
	f.tip = f.black - height
}
