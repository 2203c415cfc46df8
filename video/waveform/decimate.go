package waveform

import (
	"errors"
	"io"
	"math"
)

// mostRate is as fast as anything here needs: some forty samples of an edge of 0.5 us.
const mostRate = 80e6

// A Decimator passes a Reader's samples on at no more than 80 million a second: faster ones through
// a low-pass, one in so many.
type Decimator struct {
	r    *Reader
	rate float64
	by   int
	taps []float32
	buf  []float32 // samples that the next output needs
	at   int       // of buf, the next output's first
	in   []float32
	end  bool
}

// NewDecimator wraps a reader whose samples come so fast.
func NewDecimator(r *Reader, rate float64) *Decimator {
	d := &Decimator{r: r, rate: rate, by: 1}
	if rate <= mostRate {
		return d
	}
	d.by = int(math.Ceil(rate / mostRate))
	d.rate = rate / float64(d.by)
	// -6 dB at 0.4 of the new rate: flat over what composite video holds.
	half := 6 * d.by
	sum := 0.0
	taps := make([]float64, 2*half+1)
	for i := range taps {
		t := float64(i-half) / float64(d.by)
		w := 0.54 + 0.46*math.Cos(math.Pi*float64(i-half)/float64(half+1)) // Hamming
		s := 1.0
		if t != 0 {
			s = math.Sin(0.8*math.Pi*t) / (0.8 * math.Pi * t)
		}
		taps[i] = s * w
		sum += taps[i]
	}
	for _, v := range taps {
		d.taps = append(d.taps, float32(v/sum))
	}
	d.in = make([]float32, 1<<14)
	return d
}

// Rate is samples a second as they come out.
func (d *Decimator) Rate() float64 { return d.rate }

// Read is as a Reader's.
func (d *Decimator) Read(dst []float32) (int, error) {
	if d.by == 1 {
		return d.r.Read(dst)
	}
	for n := 0; ; n++ {
		if n == len(dst) {
			return n, nil
		}
		for d.at+len(d.taps) > len(d.buf) {
			if d.end {
				return n, io.EOF
			}
			d.buf = append(d.buf[:0], d.buf[min(d.at, len(d.buf)):]...)
			d.at = 0
			k, err := d.r.Read(d.in)
			d.buf = append(d.buf, d.in[:k]...)
			if errors.Is(err, io.EOF) {
				d.end = true
			} else if err != nil {
				return n, err
			}
		}
		var s float32
		for i, t := range d.taps {
			s += t * d.buf[d.at+i]
		}
		dst[n] = s
		d.at += d.by
	}
}
