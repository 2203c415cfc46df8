package survey

import (
	"encoding/binary"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/text"
	"backporch/video"
	"backporch/video/display"
)

// alteredFont is the shipped font with all glyphs changed alike.
func alteredFont(alter text.Alteration) display.Font {
	shipped := display.ShippedFont()
	out := display.Font{Glyphs: make([][8]uint8, 256)}
	for code := range out.Glyphs {
		g := shipped.Glyph(byte(code))
		binary.BigEndian.PutUint64(out.Glyphs[code][:], alter(binary.BigEndian.Uint64(g[:])))
	}
	return out
}

// Where a fault changes all glyphs alike none is the font's, and they say all the same where cells begin; glyphs of which each has pixels wrong of its own
// are another machine's, and say nothing.
func TestAlteredGlyphsFindTheCells(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	for name, alter := range map[string]text.Alteration{"data bit 3 at 1": text.DataHeld(3, 1), "line bit 1 at 0": text.LinesHeld(1, 0), "mirrored": text.Mirrored()} {
		s := analysetest.New(p)
		s.Font = alteredFont(alter)
		analysetest.Listing(p, s, 12, rand.New(rand.NewPCG(5, 5)))
		fields := drawn(p, s, 4, analysetest.Capture{Noise: 2})
		whole, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}, Options{Display: p})
		if err != nil {
			t.Fatal(err)
		}
		x, y := p.Origin(720, p.Standard.Scan().FieldLines)
		if reg := whole.Registration; reg.OriginX < x-0.3 || reg.OriginX > x+0.3 || reg.OriginY != y {
			t.Errorf("%s: found at %.2f, %.0f, drawn at %.2f, %.0f", name, reg.OriginX, reg.OriginY, x, y)
		}
		v := &view{p: p, fields: fields, phase: fields}
		for _, d := range []analyse.Shift{{Pixels: 1}, {Pixels: -2, Lines: 3}} {
			off := *whole
			move(&off, d)
			v.read(&off)
			if v.settle(&off); off.Registration.OriginX < x-0.3 || off.Registration.OriginX > x+0.3 || off.Registration.OriginY != y {
				t.Errorf("%s, moved by %+v: found at %.2f, %.0f, drawn at %.2f, %.0f", name, d, off.Registration.OriginX, off.Registration.OriginY, x, y)
			}
		}
	}
	s := analysetest.New(p)
	rng := rand.New(rand.NewPCG(3, 3))
	s.Font = alteredFont(func(g uint64) uint64 {
		if g == 0 {
			return 0
		}
		return g ^ rng.Uint64()&rng.Uint64()
	})
	analysetest.Listing(p, s, 12, rng)
	seen := surveyed(t, p, drawn(p, s, 4, analysetest.Capture{Noise: 2}))
	if list := newLettering(seen, p, display.ShippedFont()).place([]analyse.Shift{{Probability: 0.5}, {Pixels: 1, Probability: 0.5}}); list != nil {
		t.Errorf("another font's glyphs say %+v", list)
	}
}

// Characters beside their reference are laid over it from a line aside that nobody doubted; what a fault of the raster moves stays where it is.
func TestAlignCharacters(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	reference, seen := surveyedListing(t, p, 1), surveyedListing(t, p, 1)
	for _, s := range []*analyse.Survey{reference, seen} {
		s.Registration.Shifts = []analyse.Shift{{Probability: 1}}
	}
	if here, there := align(seen, reference, p, false); here != (analyse.Shift{}) || there != (analyse.Shift{}) {
		t.Errorf("one and the same was moved by %+v and %+v", here, there)
	}
	late := *seen // from the twentieth column on a cell late
	late.Cells = append([]analyse.Cell(nil), seen.Cells...)
	for i := range late.Cells {
		if c := &late.Cells[i]; c.Column > 20 {
			was := seen.Cells[i-1]
			c.Bits, c.Single, c.Ink, c.Paper = was.Bits, was.Single, was.Ink, was.Paper
		}
	}
	if here, there := align(&late, reference, p, false); here != (analyse.Shift{}) || there != (analyse.Shift{}) {
		t.Errorf("a fault was moved by %+v and %+v", here, there)
	}
	v := &view{p: p}
	move(seen, analyse.Shift{Pixels: 1, Lines: -1})
	v.read(seen)
	if here, there := align(seen, reference, p, false); here.Pixels != -1 || here.Lines != 1 || there != (analyse.Shift{}) {
		t.Errorf("moved by %+v and %+v, want the capture back by a pixel and a line", here, there)
	}
}
