package fingerprint

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/composite"
	"backporch/video/display"
)

// A machine under test: its two clocks off their nominal, what its screen shows, and the device that
// captures it. It is made of the encoder and decoder alone, with clocks that are known.
type machine struct {
	display        string
	pixelPPM       float64 // of the pixel clock
	subcarrierPPM  float64
	coloured       float64 // part of cells that are not black on white
	filled         float64 // part of cells that show anything
	device         composite.Options
	noiseMV        float64
	screen, static uint64 // seeds
}

// capture gives so many fields, woven two a frame.
func (m machine) capture(t testing.TB, fields int) []*video.Field {
	t.Helper()
	p := analysetest.Profile(t, m.display)
	e, err := composite.NewEncoder(composite.Raster{
		Standard: p.Standard, PixelHz: p.PixelClockHz * (1 + m.pixelPPM*1e-6), LinePixels: p.LinePixels, Lines: p.FieldLines,
		SubcarrierHz: p.Standard.Scan().SubcarrierHz * (1 + m.subcarrierPPM*1e-6),
	}, 0)
	if err != nil {
		t.Fatal(err)
	}
	o := m.device
	o.Standard, o.Rate = p.Standard, e.Rate()
	d, err := composite.NewDecoder(o)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(m.screen, 1))
	palette := make([]video.YUV, len(p.Colours))
	for i, c := range p.Colours {
		palette[i] = c.YUV
	}
	white, black := 7, 0
	if p.Kind == display.Text {
		white, black = 3, 0
	}
	width := p.BorderLeft + p.Width + p.BorderRight
	top := composite.FirstLine(p.Standard) + p.BorderTop
	font := display.ShippedFont()
	line := make([]uint8, width)
	type cell struct {
		glyph      [8]byte
		ink, paper int
	}
	cells := make([]cell, p.Columns()*p.Rows())
	for i := range cells {
		cells[i] = cell{ink: black, paper: white}
		if rng.Float64() < m.filled {
			cells[i].glyph = font.Glyph(byte(0x21 + rng.IntN(90)))
			if rng.Float64() < m.coloured {
				cells[i].ink, cells[i].paper = rng.IntN(16), rng.IntN(16)
			}
		}
	}
	for y := -p.BorderTop; y < p.Height+p.BorderBottom; y++ {
		n := top + y
		if n < 9 || n >= p.FieldLines-3 {
			continue
		}
		for x := range line {
			line[x] = uint8(white)
			if px := x - p.BorderLeft; y >= 0 && y < p.Height && px >= 0 && px < p.Width {
				c := &cells[y/8*p.Columns()+px/8]
				if line[x] = uint8(c.paper); c.glyph[y%8]>>(7-px%8)&1 == 1 {
					line[x] = uint8(c.ink)
				}
			}
		}
		pitch := p.PitchX(720)
		e.SetLine(n, (p.Standard.Scan().FirstSample+360)/pitch-float64(width)/2, line, palette)
	}
	noise := rand.New(rand.NewPCG(m.static, 2))
	var wave []float32
	var out []*video.Field
	for len(out) < fields+4 {
		wave = e.Encode(wave)
		for i := range wave {
			wave[i] += float32(noise.NormFloat64() * m.noiseMV * 1.33) // rms in 5 MHz of the wave's 8.9
		}
		d.Decode(wave, func(f *video.Field) { out = append(out, f) })
	}
	out = out[4 : 4+fields] // the decoder has settled
	for i, f := range out {
		f.Frame = i / 2
	}
	return out
}

// device draws the traits of one of many cheap devices.
func device(rng *rand.Rand) composite.Options {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	return composite.Options{
		Comb: rng.IntN(3) == 0, DelayLine: rng.IntN(2) == 0,
		LumaHz: between(4.6e6, 6.2e6), ChromaHz: between(0.7e6, 1.4e6), NotchHz: between(0.5e6, 0.9e6), Peak: between(0, 0.4),
		ShiftX: between(-7, 7), Gain: between(0.93, 1.06), Colour: between(0.85, 1.15), HueDeg: between(-6, 6),
	}
}
