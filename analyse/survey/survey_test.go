package survey

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/picture"
)

func drawn(p *display.Profile, s *analysetest.Screen, n int, c analysetest.Capture) []*video.Field {
	rng := rand.New(rand.NewPCG(7, 7))
	fields := make([]*video.Field, n)
	for i := range fields {
		fields[i] = analysetest.Draw(p, s, c, rng)
		fields[i].Time = time.Duration(i) * 20 * time.Millisecond
		fields[i].Frame, fields[i].Parity = i/2, i%2
	}
	return fields
}

// A stuck lane puts a column into every eighth pixel of the Attr display, 9 pixels apart on the Text
// display's grid (504 against 448 pixel periods a line): its edges fit both.
func TestChooseBesideStripes(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-50"} {
		p := analysetest.Profile(t, name)
		s := analysetest.New(p)
		analysetest.Listing(p, s, 12, rand.New(rand.NewPCG(3, 3)))
		if p.Kind == display.Attr {
			for a := range s.Memory {
				s.Memory[a] |= 1 << 3
			}
		}
		stack := analyse.Add(drawn(p, s, 4, analysetest.Capture{Noise: 2}))
		displays := []*display.Profile{
			analysetest.Profile(t, "text-40x25-50"), analysetest.Profile(t, "attr-256x192-50"), analysetest.Profile(t, "attr-256x192-60"),
		}
		got, note := choose(stack, video.Std625, Options{Displays: displays})
		if got == nil || got.Name != name || note != "" {
			t.Errorf("%s was taken for %+v, %q", name, got, note)
		}
	}
}

// An even picture fits any display: which was taken is a guess, and is said to be.
func TestChoiceOfNothingIsAGuess(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	f := drawn(p, analysetest.New(p), 1, analysetest.Capture{})
	for i := range f[0].Y {
		f[0].Y[i] = 90
	}
	displays := []*display.Profile{analysetest.Profile(t, "text-40x25-50"), p}
	if _, note := choose(analyse.Add(f), video.Std625, Options{Displays: displays}); note == "" {
		t.Error("nothing said of the guess")
	}
}

// Glyphs say where cells begin when the edges leave it open by whole pixels and lines.
func TestGlyphsFindTheCells(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	s := analysetest.New(p)
	analysetest.Listing(p, s, 12, rand.New(rand.NewPCG(5, 5)))
	fields := drawn(p, s, 4, analysetest.Capture{Noise: 2})
	whole, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	v := &view{p: p, fields: fields, phase: fields}
	for _, d := range []analyse.Shift{{}, {Pixels: 2, Lines: -3}, {Pixels: -1}, {Lines: 9}} {
		off := *whole
		move(&off, d)
		v.read(&off)
		v.settle(&off)
		if got, want := off.Registration.OriginX, whole.Registration.OriginX; got < want-0.1 || got > want+0.1 {
			t.Errorf("moved by %+v: found at x %.2f, want %.2f", d, got, want)
		}
		if got, want := off.Registration.OriginY, whole.Registration.OriginY; got < want-0.1 || got > want+0.1 {
			t.Errorf("moved by %+v: found at y %.2f, want %.2f", d, got, want)
		}
	}
}

// A bit of the code that comes and goes shows as a second character of the cell.
func TestChangingCell(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	s := analysetest.New(p)
	analysetest.Text(p, s, 4, 2, strings.Repeat("ACEGIKMOQ ", 3))
	fields := drawn(p, s, 6, analysetest.Capture{Noise: 2})
	wrong := p.CellAddress(4, 3)
	s.Memory[wrong] ^= 1 << 4 // C to S
	fields = append(fields, drawn(p, s, 2, analysetest.Capture{Noise: 2})...)
	number(fields)
	out, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Text.Changes) != 1 {
		t.Fatalf("%d cells change: %+v", len(out.Text.Changes), out.Text.Changes)
	}
	if c := out.Text.Changes[0]; c.At != wrong || c.Code != 'S' || c.Pictures != 2 || c.Turns != 1 || c.Fields != 2 || c.Of != 8 {
		t.Errorf("%+v", c)
	}
	if out.Text.Codes[wrong] != 'C' {
		t.Errorf("read as %c in most fields", rune(out.Text.Codes[wrong]))
	}
}

// its pattern is that of one phase. A lane that comes and goes field by field is no flash.
func TestFlash(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	s := analysetest.New(p)
	analysetest.Listing(p, s, 10, rand.New(rand.NewPCG(2, 2)))
	analysetest.Text(p, s, 20, 5, "HELLO")
	for c := 5; c < 10; c++ {
		s.Memory[p.CellAddress(20, c)] |= 0x80
	}
	fields := drawn(p, s, 10, analysetest.Capture{Noise: 1.5})
	fields = append(fields, drawn(p, s, 10, analysetest.Capture{Noise: 1.5, Swap: true})...)
	number(fields)
	out, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: 25}, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	for i := range out.Cells {
		c := &out.Cells[i]
		if want := c.Row == 20 && c.Column >= 5 && c.Column < 10; c.Flash != want {
			t.Errorf("cell %d,%d: flash %v", c.Column, c.Row, c.Flash)
		}
	}
	for i, c := range moved(out, p, nil, analyse.Shift{}).Cells { // laid again, as beside a reference
		if c.Flash != out.Cells[i].Flash {
			t.Errorf("cell %d,%d: flash %v when laid again", c.Column, c.Row, c.Flash)
		}
	}
	if out.Used != 10 {
		t.Errorf("%d fields in the stack, 10 are of one phase", out.Used)
	}

	for a := range p.ColourBase {
		s.Memory[a] |= 1
	}
	still, moved := analysetest.New(p), s
	fields = nil
	for i := range 20 {
		screen := still
		if i%3 == 0 {
			screen = moved
		}
		fields = append(fields, drawn(p, screen, 1, analysetest.Capture{Noise: 1.5})...)
	}
	if _, other := splitFlash(fields, analyse.Add(fields)); len(other) > 0 {
		t.Errorf("%d fields that change every third time were taken for the other phase of flash", len(other))
	}
}

func number(fields []*video.Field) {
	for i, f := range fields {
		f.Time, f.Frame, f.Parity = time.Duration(i)*20*time.Millisecond, i/2, i%2
	}
}

// What a whole survey costs a frame, beside decoding that frame's Motion JPEG.
func BenchmarkRun(b *testing.B) {
	p := analysetest.Profile(b, "attr-256x192-50")
	s := analysetest.New(p)
	analysetest.Listing(p, s, 16, rand.New(rand.NewPCG(1, 2)))
	fields := drawn(p, s, 100, analysetest.Capture{Noise: 2})
	frame := weave(fields[0], fields[1])
	data, err := picture.EncodeJPEG(nil, frame, picture.JPEGOptions{})
	if err != nil {
		b.Fatal(err)
	}
	const decodes = 20
	begin := time.Now()
	for range decodes {
		if _, _, err := picture.DecodeJPEG(data, frame.Height); err != nil {
			b.Fatal(err)
		}
	}
	decode := time.Since(begin).Seconds() / decodes
	for b.Loop() {
		if _, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: 25, Codec: "MJPG"}, Options{Display: p}); err != nil {
			b.Fatal(err)
		}
	}
	perFrame := b.Elapsed().Seconds() / float64(b.N) / float64(len(fields)/2)
	b.ReportMetric(1e3*perFrame, "ms/frame")
	b.ReportMetric(perFrame/decode, "x-decode")
}

func weave(top, bottom *video.Field) *video.Frame {
	f := &video.Frame{Width: top.Width, Height: 2 * top.Height, ChromaWidth: top.ChromaWidth, ChromaHeight: 2 * top.Height}
	for y := range top.Height {
		for _, field := range [2]*video.Field{top, bottom} {
			f.Y = append(f.Y, field.Line(y)...)
			f.Cb = append(f.Cb, field.Cb[y*field.ChromaWidth:(y+1)*field.ChromaWidth]...)
			f.Cr = append(f.Cr, field.Cr[y*field.ChromaWidth:(y+1)*field.ChromaWidth]...)
		}
	}
	return f
}
