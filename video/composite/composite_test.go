package composite

import (
	"math"
	"testing"

	"backporch/video"
)

// bars is white, yellow, cyan, green, magenta, red, blue, black, colours at part
// of full amplitude: 1 is 100/0/100/0, 0.75 is 100/0/75/0.
func bars(part float64) []video.YUV {
	out := make([]video.YUV, 8)
	for i := range out {
		g, r, b := float64(1-i>>2), float64(1-i>>1&1), float64(1-i&1)
		if i > 0 {
			r, g, b = r*part, g*part, b*part
		}
		out[i] = video.YUVOfRGB(r, g, b)
	}
	return out
}

// broadcast is the standard's own raster, interlaced, with a clock of 13.5 MHz.
func broadcast(s video.Standard) Raster {
	r := Raster{Standard: s, PixelHz: 13.5e6, LinePixels: s.Scan().LineSamples, Lines: 625, Interlaced: true, FieldSync: Equalised}
	if s == video.Std525 {
		r.Lines = 525
	}
	return r
}

// barWidth is the width of a bar in samples of the BT.601 grid; eight of them stand
// about the middle of the line, from firstBar samples after 0H.
const barWidth = 87

func firstBar(s video.Standard) float64 { return s.Scan().FirstSample + 360 - 4*barWidth }

// drawBars puts eight bars on all active lines.
func drawBars(e *Encoder, r Raster, colours []video.YUV) {
	pixels := make([]uint8, 8*barWidth)
	for i := range pixels {
		pixels[i] = uint8(i / barWidth)
	}
	half := r.Lines
	if r.Interlaced {
		half = r.Lines / 2
	}
	scale := r.PixelHz / r.LineHz() / float64(r.Standard.Scan().LineSamples) // pixels a sample
	if scale != 1 {
		pixels = pixels[:0]
		for i := range int(8 * barWidth * scale) {
			pixels = append(pixels, uint8(min(7, int(float64(i)/scale/barWidth))))
		}
	}
	for n := range r.Lines {
		if n%half > 16 && n%half < half-4 {
			e.SetLine(n, firstBar(r.Standard)*scale, pixels, colours)
		}
	}
}

func newEncoder(t testing.TB, r Raster) *Encoder {
	t.Helper()
	e, err := NewEncoder(r, 0)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// decodeFields decodes so many fields or frames of the encoder's.
func decodeFields(t testing.TB, o Options, e *Encoder, units int, change func([]float32)) ([]*video.Field, *Decoder) {
	t.Helper()
	o.Rate = e.Rate()
	d, err := NewDecoder(o)
	if err != nil {
		t.Fatal(err)
	}
	var fields []*video.Field
	var x []float32
	for range units {
		x = e.Encode(x)
		if change != nil {
			change(x)
		}
		d.Decode(x, func(f *video.Field) { fields = append(fields, f) })
	}
	return fields, d
}

// fit is the mean of x and the amplitude and phase (degrees) of its component at w
// rad a sample, sample i at angle w*(from+i): x = dc + a sin(angle + phase).
// It takes whole cycles of four samples from x.
func fit(x []float32, from int, w float64) (dc, amplitude, phase float64) {
	x = x[:len(x)&^3]
	var s, c, ss, cc, sc, m float64
	for _, v := range x {
		m += float64(v)
	}
	m /= float64(len(x))
	for i, v := range x {
		sin, cos := math.Sincos(w * float64(from+i))
		s += (float64(v) - m) * sin
		c += (float64(v) - m) * cos
		ss, cc, sc = ss+sin*sin, cc+cos*cos, sc+sin*cos
	}
	det := ss*cc - sc*sc
	a, b := (s*cc-c*sc)/det, (c*ss-s*sc)/det
	return m, math.Hypot(a, b), math.Atan2(b, a) * 180 / math.Pi
}

// turn brings an angle to -180 to 180 degrees.
func turn(d float64) float64 { return math.Remainder(d, 360) }

// cross finds where x passes a level after sample from, to a part of a sample.
func cross(t testing.TB, x []float32, level float64, from int, rising bool) float64 {
	t.Helper()
	for i := from; i+1 < len(x); i++ {
		a, b := float64(x[i])-level, float64(x[i+1])-level
		if rising && a < 0 && b >= 0 || !rising && a >= 0 && b < 0 {
			return float64(i) + a/(a-b)
		}
	}
	t.Fatalf("no crossing of %v mV after sample %d", level, from)
	return 0
}

// long skips a test under the race detector: nothing here starts a goroutine, and
// the plain run has it.
func long(t *testing.T) {
	t.Helper()
	if underRace {
		t.Skip("many fields, one goroutine")
	}
}
