package display

import (
	"math"
	"testing"

	"backporch/video"
)

func profiles(t *testing.T) map[string]*Profile {
	t.Helper()
	all, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	byName := map[string]*Profile{}
	for _, p := range all {
		byName[p.Name] = p
	}
	return byName
}

// Clocks, counts and sizes are those that the displays were defined with; rates and
// pitches follow from them: fH = clock over pixels a line, field rate = fH over lines,
// and samples a pixel = 864 or 858 over pixels a line, BT.601's samples a line.
func TestEmbeddedProfiles(t *testing.T) {
	byName := profiles(t)
	if len(byName) != 4 {
		t.Errorf("%d profiles", len(byName))
	}
	for _, want := range []struct {
		Profile
		lineHz, fieldHz, pitch, samples float64
	}{
		{Profile{Name: "attr-256x192-50", Kind: Attr, Standard: video.Std625, PixelClockHz: 7000000, LinePixels: 448, FieldLines: 312,
			Width: 256, Height: 192, BorderLeft: 48, BorderRight: 48, BorderTop: 48, BorderBottom: 48}, 15625, 50.080128, 1.928571, 493.71},
		{Profile{Name: "attr-256x192-60", Kind: Attr, Standard: video.Std525, PixelClockHz: 7056000, LinePixels: 448, FieldLines: 262,
			Width: 256, Height: 192, BorderLeft: 48, BorderRight: 48, BorderTop: 24, BorderBottom: 24}, 15750, 60.114504, 1.915179, 490.29},
		{Profile{Name: "text-40x25-50", Kind: Text, Standard: video.Std625, PixelClockHz: 7881988, LinePixels: 504, FieldLines: 312,
			Width: 320, Height: 200, BorderLeft: 42, BorderRight: 42, BorderTop: 42, BorderBottom: 42}, 15638.865, 50.124568, 1.714286, 548.57},
		{Profile{Name: "text-40x25-60", Kind: Text, Standard: video.Std525, PixelClockHz: 8181817, LinePixels: 520, FieldLines: 263,
			Width: 320, Height: 200, BorderLeft: 42, BorderRight: 42, BorderTop: 20, BorderBottom: 20}, 15734.263, 59.826097, 1.65, 528},
	} {
		p := byName[want.Name]
		if p == nil {
			t.Errorf("no %s", want.Name)
			continue
		}
		if p.Kind != want.Kind || p.Standard != want.Standard || p.PixelClockHz != want.PixelClockHz ||
			p.LinePixels != want.LinePixels || p.FieldLines != want.FieldLines || p.Width != want.Width || p.Height != want.Height ||
			p.BorderLeft != want.BorderLeft || p.BorderRight != want.BorderRight || p.BorderTop != want.BorderTop || p.BorderBottom != want.BorderBottom {
			t.Errorf("%s: %+v", want.Name, p)
		}
		for _, c := range []struct {
			what           string
			got, want, tol float64 // tol: half of the last figure of want
		}{
			{"line rate", p.LineHz(), want.lineHz, 5e-4},
			{"field rate", p.FieldHz(), want.fieldHz, 5e-7},
			{"pitch", p.PitchX(720), want.pitch, 5e-7},
			{"pitch at 640", p.PitchX(640), want.pitch * 640 / 720, 5e-7},
			{"width in samples", p.PitchX(720) * float64(p.Width), want.samples, 5e-3},
			{"lines a picture line", p.PitchY(p.Standard.Scan().FieldLines), 1, 0},
		} {
			if math.Abs(c.got-c.want) > c.tol {
				t.Errorf("%s, %s: %v, want %v", want.Name, c.what, c.got, c.want)
			}
		}
		x, y := p.Origin(720, p.Standard.Scan().FieldLines)
		right := 720 - x - p.PitchX(720)*float64(p.Width)
		below := float64(p.Standard.Scan().FieldLines-p.Height) - y
		if math.Abs(x-right) > 1e-9 || math.Abs(y-below) > 1 {
			t.Errorf("%s: left %v, right %v, above %v, below %v", want.Name, x, right, y, below)
		}
	}
}

// Bright colours are the bars of BT.601 at 100 %; the normal ones are those at 0.85 of
// it: codes computed from BT.601's equations, tolerance a code for its rounding of factors.
func TestAttrPaletteCodes(t *testing.T) {
	want := map[string][3]float64{
		"bright white": {235, 128, 128}, "bright yellow": {210, 16, 146}, "bright cyan": {170, 166, 16}, "bright green": {145, 54, 34},
		"bright magenta": {106, 202, 222}, "bright red": {81, 90, 240}, "bright blue": {41, 240, 110}, "bright black": {16, 128, 128},
		"white": {202, 128, 128}, "yellow": {181, 33, 143}, "cyan": {146, 160, 33}, "green": {125, 65, 48},
		"magenta": {93, 191, 208}, "red": {72, 96, 223}, "blue": {37, 223, 113}, "black": {16, 128, 128},
	}
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60"} {
		p := profiles(t)[name]
		for i, c := range p.Colours {
			y, cb, cr := c.Codes()
			w, ok := want[c.Name]
			if !ok || math.Abs(y-w[0]) > 1 || math.Abs(cb-w[1]) > 1 || math.Abs(cr-w[2]) > 1 {
				t.Errorf("%s, colour %d %s: %.1f %.1f %.1f, want %v", name, i, c.Name, y, cb, cr, w)
			}
		}
		if p.Colours[6].Name != "yellow" || p.Colours[8+1].Name != "bright blue" {
			t.Error("index is not 8 bright + 4 green + 2 red + blue")
		}
	}
}

// Colour angles are those of colour bars on the U-V plane (computed from BT.1700's
// weights); two levels of luma.
func TestTextPalette(t *testing.T) {
	angle := map[string]float64{"red": 103.48, "yellow": 167.11, "green": 240.66, "cyan": 283.48, "blue": 347.11, "magenta": 60.66}
	order := []string{"red", "yellow", "green", "cyan", "blue", "magenta"}
	for _, name := range []string{"text-40x25-50", "text-40x25-60"} {
		p := profiles(t)[name]
		for i, luma := range []float64{0, 0.33, 0.66, 1} {
			if c := p.Colours[i]; c.Y != luma || c.Saturation() != 0 {
				t.Errorf("%s, grey %d: %+v", name, i, c)
			}
		}
		for i, hue := range order {
			for k, luma := range []float64{0.35, 0.70} {
				c := p.Colours[4+6*k+i]
				if c.Y != luma || math.Abs(c.Saturation()-0.20) > 1e-12 || math.Abs(c.Hue()-angle[hue]) > 1e-9 {
					t.Errorf("%s, %s: %+v at %.2f", name, c.Name, c, c.Hue())
				}
			}
		}
	}
}
