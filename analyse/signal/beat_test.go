package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// demodulated gives fields colour differences as a decoder makes them of A sin(2 pi f t): times 2 sin and 2 cos of the subcarrier, the
// second with the sign of the line in 625/50 (ITU-R BT.470), sums of frequencies left out.
func demodulated(fields []*video.Field, lineHz, carrier, hz, amplitude float64, switched bool, rng *rand.Rand) {
	rate := lineHz * 858
	if switched {
		rate = lineHz * 864
	}
	start := 0.0
	for k, f := range fields {
		f.ChromaWidth = f.Width / 2
		f.Cb, f.Cr = make([]uint8, f.ChromaWidth*f.Height), make([]uint8, f.ChromaWidth*f.Height)
		for y := range f.Height {
			sign := 1.0
			if switched && (y+k)%2 == 1 {
				sign = -1
			}
			for x := range f.ChromaWidth {
				s, c := math.Sincos(2*math.Pi*(hz-carrier)*(start+float64(y)/lineHz+float64(2*x)/rate) + 1)
				_, cb, cr := video.YUV{U: amplitude * c, V: sign * amplitude * s}.Codes()
				f.Cb[y*f.ChromaWidth+x] = uint8(math.Round(cb + rng.NormFloat64()))
				f.Cr[y*f.ChromaWidth+x] = uint8(math.Round(cr + rng.NormFloat64()))
			}
		}
		start += 0.02 + 0.0001*float64(k)
	}
}

// A frequency so near the subcarrier that a decoder's trap leaves nothing of it in luma is found in the colour differences, and taken
// off there. The side of the subcarrier is known where V does not change sides.
func TestBeat(t *testing.T) {
	for _, c := range []struct {
		name  string
		offHz float64
	}{{"attr-256x192-60", 92e3}, {"attr-256x192-60", -231e3}, {"text-40x25-50", 175e3}, {"text-40x25-50", -94e3}} {
		p := analysetest.Profile(t, c.name)
		pal := p.Standard == video.Std625
		carrier := p.Standard.Scan().SubcarrierHz
		rng := rand.New(rand.NewPCG(8, 1))
		fields := borderFields(t, c.name, 6, 1, func(float64) float64 { return 0 })
		demodulated(fields, p.LineHz(), carrier, carrier+c.offHz, 0.06, pal, rng)
		path := Look(fields, p)
		if path.beat == nil || len(path.tones) == 0 {
			t.Fatalf("%s, %+.0f Hz: no tone", c.name, c.offHz)
		}
		got := path.tones[0]
		off := got.Hz.Value - carrier
		if pal {
			off, c.offHz = math.Abs(off), math.Abs(c.offHz)
		}
		if math.Abs(off-c.offHz) > 3e3 {
			t.Errorf("%s: %+.0f Hz off the subcarrier, want %+.0f", c.name, off, c.offHz)
		}
		if math.Abs(got.Pct.Value-12) > 3 { // lines may be added up in 625/50, or not
			t.Errorf("%s: %.1f %% peak to peak, want 12", c.name, got.Pct.Value)
		}
		clean := path.Undo(fields)
		if again := Look(clean, p); again.beat != nil && again.beat.size > 1.5 {
			t.Errorf("%s: %.1f %% of it is left", c.name, again.beat.size)
		}
		if &clean[0].Cb[0] == &fields[0].Cb[0] {
			t.Errorf("%s: the fields given were changed", c.name)
		}
	}
}

// Noise in the colour differences alone is no tone.
func TestNoBeat(t *testing.T) {
	for seed := range 4 {
		rng := rand.New(rand.NewPCG(uint64(seed), 3))
		p := analysetest.Profile(t, "attr-256x192-50")
		fields := borderFields(t, "attr-256x192-50", 6, 1, func(float64) float64 { return 0 })
		demodulated(fields, p.LineHz(), 4.43e6, 4.43e6+1e5, 0, true, rng)
		if path := Look(fields, p); path.beat != nil || len(path.tones) > 0 {
			t.Errorf("seed %d: %+v", seed, path.tones)
		}
	}
}

// The subcarrier of a coloured border, which a device that shows no colour leaves in luma, is no interference; it is taken off, and what stands
// still under it stays as it is.
func TestCarrierOfLostColour(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-60"} {
		p := analysetest.Profile(t, name)
		carrier := p.Standard.Scan().SubcarrierHz
		fields := borderFields(t, name, 6, 1, func(at float64) float64 { return 30 * math.Sin(2*math.Pi*carrier*at) })
		for _, f := range fields {
			f.ChromaWidth = f.Width / 2
			f.Cb, f.Cr = make([]uint8, f.ChromaWidth*f.Height), make([]uint8, f.ChromaWidth*f.Height)
			for i := range f.Cb {
				f.Cb[i], f.Cr[i] = 128, 128
			}
		}
		path := Look(fields, p)
		if len(path.tones) > 0 || path.carrier < 25 || path.carrier > 40 { // fields of opposite phase differ by twice as much
			t.Errorf("%s: carrier %.1f %%, want 27.4, tones %+v", name, path.carrier, path.tones)
		}
		clean := path.Undo(fields)
		again := Look(clean, p)
		if again.carrier > 1.5 {
			t.Errorf("%s: %.1f %% of the carrier is left", name, again.carrier)
		}
		f, sum := clean[0], 0.0
		for x := 200; x < 500; x++ {
			sum += float64(f.Y[f.Width*(path.frame.above[0]+3)+x]) / 300
		}
		if math.Abs(sum-150) > 1 {
			t.Errorf("%s: the border is %.1f, was 150", name, sum)
		}
	}
}

// Where only the picture has colour the carrier is in the picture alone; lines that alternate as fast in every field are no carrier, nor is noise.
func TestCarrierOfPicture(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-60"} {
		p := analysetest.Profile(t, name)
		scan := p.Standard.Scan()
		draw := func(amplitude float64, still bool) float64 {
			fields := borderFields(t, name, 6, 2, func(float64) float64 { return 0 })
			x0, y0 := p.Origin(720, fields[0].Height)
			for k, f := range fields {
				f.ChromaWidth = 360
				f.Cb, f.Cr = make([]uint8, 360*f.Height), make([]uint8, 360*f.Height)
				for i := range f.Cb {
					f.Cb[i], f.Cr[i] = 128, 128
				}
				start := float64(k) / p.FieldHz()
				if still {
					start = 0
				}
				for y := int(y0); y < int(y0)+p.Height; y++ {
					for x := int(x0); x < int(x0+float64(p.Width)*p.PitchX(720)); x++ {
						at := start + float64(y)/p.LineHz() + float64(x)/(p.LineHz()*float64(scan.LineSamples))
						f.Y[y*720+x] = uint8(math.Round(float64(f.Y[y*720+x]) + amplitude*math.Sin(2*math.Pi*scan.SubcarrierHz*at)))
					}
				}
			}
			return Look(fields, p).carrier
		}
		if got := draw(30, false); got < 15 || got > 40 { // 27.4 % in the picture, twice that between fields of opposite phase
			t.Errorf("%s: %.1f %%, want some 20", name, got)
		}
		for what, got := range map[string]float64{"still": draw(30, true), "noise": draw(0, false)} {
			if got > undoCarrier {
				t.Errorf("%s, %s: %.1f %%", name, what, got)
			}
		}
	}
}

// Luma shows a comb's image of the tone on the other side of the subcarrier too: the stronger is it, and the image is no tone of its own.
func TestBeatBesideImage(t *testing.T) {
	of := func(hz, pct, alias float64) analyse.Tone {
		return analyse.Tone{Pct: analyse.Estimate{Value: pct, Spread: 0.1}, Hz: analyse.Estimate{Value: hz, Spread: 500}, AliasHz: alias}
	}
	got := withBeat([]analyse.Tone{of(3.089e6, 6, 0), of(5.779e6, 5, 0), of(1e6, 1, 0)}, of(5.779e6, 4, 3.089e6))
	if len(got) != 2 || got[0].Hz.Value != 3.089e6 || got[0].AliasHz != 5.779e6 || math.Abs(got[0].Pct.Value-math.Hypot(6, 4)) > 0.01 || got[1].Hz.Value != 1e6 {
		t.Errorf("%+v", got)
	}
}
