package signal

import (
	"math"

	"backporch/video"
)

// transformLength holds a line of border with room for the peak to be drawn finely.
const transformLength = 1024

// A spectrum is the power of the border's lines, Hann window, codes squared by bin of rate/transformLength.
type spectrum struct {
	moving, fixed []float64 // of single lines about their mean; of that mean
	samples       float64   // effective, of the window
	mean          []float64 // the mean line
	turn          []complex128
	fields, lines int
	variance      float64 // of single samples about the mean line
}

// spectrum takes the spectra of the lines above and below the picture.
func (f frame) spectrum(fields []*video.Field) *spectrum {
	length := f.to - f.from
	lines := f.lines()
	if length < 64 || length > transformLength || len(lines) < 4 {
		return nil
	}
	fields = some(fields, mostFields)
	if len(fields) > 0 {
		for len(lines) > 0 && lines[len(lines)-1] >= fields[0].Height {
			lines = lines[:len(lines)-1]
		}
	}
	s := &spectrum{mean: make([]float64, length), fields: len(fields), lines: len(lines)}
	x := make([]float64, length)
	read := func(field *video.Field, y int) {
		codes := field.Line(y)[f.from:f.to]
		sum := 0
		for _, v := range codes {
			sum += int(v)
		}
		mean := float64(sum) / float64(length)
		for i, v := range codes {
			x[i] = float64(v) - mean
		}
	}
	n := float64(len(fields) * len(lines))
	if n == 0 {
		return nil
	}
	columns, all := make([]int, length), 0.0 // sums of the lines' codes, and of their means
	for _, field := range fields {
		for _, y := range lines {
			sum := 0
			for i, v := range field.Line(y)[f.from:f.to] {
				columns[i] += int(v)
				sum += int(v)
			}
			all += float64(sum) / float64(length)
		}
	}
	for i, v := range columns {
		s.mean[i] = (float64(v) - all) / n
	}
	fft := newRadix4(transformLength)
	bins := transformLength/2 + 1
	s.moving, s.fixed, s.turn = make([]float64, bins), make([]float64, bins), make([]complex128, bins)
	buffer := make([]complex128, transformLength)
	hann := make([]float64, length)
	for i := range hann {
		hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(length))
	}
	// lay puts a line's departure from the mean under the window into x, and adds up its squares.
	lay := func(field *video.Field, y int) {
		read(field, y)
		for i, v := range x {
			d := v - s.mean[i]
			s.variance += d * d
			x[i] = d * hann[i]
		}
	}
	first, second, last := make([]complex128, bins), make([]complex128, bins), make([]complex128, bins)
	previous := -2
	take := func(c []complex128, y int) {
		for k, v := range c {
			s.moving[k] += real(v)*real(v) + imag(v)*imag(v)
		}
		if previous == y-1 {
			for k, v := range c {
				s.turn[k] += v * complex(real(last[k]), -imag(last[k]))
			}
		}
		copy(last, c)
		previous = y
	}
	for _, field := range fields {
		previous = -2
		for at := 0; at < len(lines); at += 2 { // two real lines in one transform
			clear(buffer)
			lay(field, lines[at])
			for i, v := range x {
				buffer[i] = complex(v, 0)
			}
			if at+1 < len(lines) {
				lay(field, lines[at+1])
				for i, v := range x {
					buffer[i] = complex(real(buffer[i]), v)
				}
			}
			untangle(first, second, fft.transform(buffer))
			take(first, lines[at])
			if at+1 < len(lines) {
				take(second, lines[at+1])
			}
		}
	}
	// The mean line takes one of n degrees of freedom from each sample.
	free := math.Max(n-1, 1)
	s.variance /= free * float64(length)
	for k := range s.moving {
		s.moving[k] /= free
	}
	clear(buffer)
	for i, v := range s.mean {
		buffer[i] = complex(v*hann[i], 0)
	}
	for k, c := range fft.transform(buffer)[:bins] {
		// The mean still holds the nth part of what moves.
		s.fixed[k] = math.Max(0, real(c)*real(c)+imag(c)*imag(c)-s.moving[k]/n)
	}
	s.samples = float64(length)
	return s
}
