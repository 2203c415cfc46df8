package simulator

import (
	"math"
	"math/rand/v2"

	"backporch/video"
	"backporch/video/composite"
)

// What a device shows without a signal.
const (
	ShowsBlue   = "blue"
	ShowsBlack  = "black"
	ShowsBars   = "bars"
	ShowsSnow   = "snow"
	ShowsFrozen = "frozen"
)

// A Device is a capture device with its own errors. The zero value means one chosen by
// the seed.
type Device struct {
	Comb      bool    // luma by line comb instead of a notch
	DelayLine bool    // chroma averaged over two lines (625/50)
	LumaHz    float64 // luma bandwidth
	ChromaHz  float64 // chroma bandwidth
	NotchHz   float64 // half width of the notch
	Peak      float64 // luma above about 2.5 MHz raised by this part
	Pull      float64 // share of a line's sync error put right at once
	ShiftX    float64 // samples that its window starts late
	ShiftY    int     // lines that its window starts late
	ScaleX    float64 // its grid is stretched by this part
	Gain      float64 // 1 is right
	Black     float64 // codes
	Colour    float64 // chroma gain, 1 is right
	HueDeg    float64
	Full      bool    // luma 0 to 255
	NoiseMV   float64 // its own, rms in 5 MHz
	FreeLines float64 // lines a field when it finds no field sync; 0: the standard's
	Without   string  // what it shows without a signal
}

// randomDevice draws the traits of one of many cheap devices.
func randomDevice(rng *rand.Rand, s video.Standard) Device {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	d := Device{
		Comb:      rng.Float64() < 0.3,
		DelayLine: s == video.Std625 && rng.Float64() < 0.6,
		LumaHz:    between(4.6e6, 6.2e6),
		ChromaHz:  between(0.7e6, 1.4e6),
		NotchHz:   between(0.5e6, 0.9e6),
		Pull:      between(0.08, 0.3),
		ShiftX:    between(-7, 7),
		ShiftY:    rng.IntN(7) - 3,
		ScaleX:    between(-0.002, 0.002),
		Gain:      between(0.93, 1.06),
		Black:     between(-3, 5),
		Colour:    between(0.85, 1.15),
		HueDeg:    between(-6, 6),
		Full:      rng.Float64() < 0.15,
		NoiseMV:   between(0.8, 3),
		Without:   []string{ShowsBlue, ShowsBlack, ShowsBars, ShowsSnow, ShowsFrozen}[rng.IntN(5)],
	}
	// Left alone it runs at the standard's rate or away from it; never at a machine's own.
	d.FreeLines = s.Scan().LineHz / s.Scan().FieldHz
	if off := between(-2, 2); rng.IntN(2) == 0 {
		d.FreeLines += off + math.Copysign(1, off)
	}
	if rng.IntN(2) == 0 {
		d.Peak = between(0, 0.4)
	}
	return d
}

func (d Device) options(s video.Standard, rate float64, setup bool) composite.Options {
	return composite.Options{
		Standard: s, Rate: rate, Comb: d.Comb, DelayLine: d.DelayLine,
		LumaHz: d.LumaHz, ChromaHz: d.ChromaHz, NotchHz: d.NotchHz, Peak: d.Peak, Pull: d.Pull, Setup: setup,
		ShiftX: d.ShiftX, ShiftY: d.ShiftY, ScaleX: d.ScaleX,
		Gain: d.Gain, Black: d.Black, Colour: d.Colour, HueDeg: d.HueDeg, Full: d.Full,
		FreeLines: d.FreeLines,
	}
}

// fill is the field that a device puts up instead of a signal.
func (d Device) fill(s video.Standard) *video.Field {
	scan := s.Scan()
	f := &video.Field{Width: 720, ChromaWidth: 360, Height: scan.FieldLines}
	f.Y = make([]uint8, f.Width*f.Height)
	f.Cb = make([]uint8, f.ChromaWidth*f.Height)
	f.Cr = make([]uint8, f.ChromaWidth*f.Height)
	colours := []video.YUV{video.YUVOfRGB(0, 0, 0)}
	switch d.Without {
	case ShowsBlue:
		colours[0] = video.YUVOfRGB(0, 0, 0.75)
	case ShowsBars:
		colours = colours[:0]
		for i := range 8 {
			part := func(b int) float64 { return 0.75 * float64(1-i>>b&1) }
			colours = append(colours, video.YUVOfRGB(part(1), part(2), part(0)))
		}
	}
	for x := range f.Width {
		y, cb, cr := colours[x*len(colours)/f.Width].Codes()
		for line := range f.Height {
			f.Y[line*f.Width+x] = uint8(y + 0.5)
			f.Cb[line*f.ChromaWidth+x/2] = uint8(cb + 0.5)
			f.Cr[line*f.ChromaWidth+x/2] = uint8(cr + 0.5)
		}
	}
	return f
}
