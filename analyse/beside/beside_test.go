package beside

import (
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/cells"
	"backporch/video"
	"backporch/video/display"
)

// read is a survey of a screen as a device of this blur, noise and gain shows it, read without an error.
func read(p *display.Profile, s *analysetest.Screen, c analysetest.Capture, seed uint64) *analyse.Survey {
	rng := rand.New(rand.NewPCG(seed, 1))
	fields := make([]*video.Field, 8)
	for i := range fields {
		fields[i] = analysetest.Draw(p, s, c, rng)
	}
	out := &analyse.Survey{Stack: analyse.Add(fields), Levels: analyse.Levels{Black: 16, White: 235, Saturation: 1}}
	out.Registration = analyse.Registration{OK: true, PitchX: p.PitchX(720), PitchY: 1}
	out.Registration.OriginX, out.Registration.OriginY = p.Origin(720, p.Standard.Scan().FieldLines)
	out.Border.Colour = s.Border
	pixels := s.Pixels(p, false)
	for i := range p.Rows() * p.Columns() {
		c := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Sure: 30, Ink: -1}
		first := int(pixels[c.Row*8*p.Width+c.Column*8])
		c.Paper, c.Single = first, true
		for y := range 8 {
			for x := range 8 {
				if v := int(pixels[(c.Row*8+y)*p.Width+c.Column*8+x]); v != first {
					c.Ink, c.Single = v, false
					c.Bits[y] |= 0x80 >> x
				}
			}
		}
		out.Cells = append(out.Cells, c)
	}
	return out
}

func still(int) bool { return false }

func settleBeside(r *cells.Result, here, good *analyse.Survey, p *display.Profile) int {
	d := Compare(here, good, p)
	if d == nil {
		return 0
	}
	return d.Settle(r, still)
}

func resultOf(s *analyse.Survey, p *display.Profile) *cells.Result {
	return &cells.Result{Cells: append([]analyse.Cell(nil), s.Cells...), PixelOdds: make([]float32, p.Width*p.Height), ColourOdds: make([]float32, 8*len(s.Cells))}
}

// A cell that a softer device's capture was misread in is taken for the good machine's; one whose memory is wrong is not, and says how
// plainly it differs. Where the good machine's capture shows another screen, or lies a line off, nothing is.
func TestSettle(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := func() *analysetest.Screen {
		s := analysetest.New(p)
		analysetest.Listing(p, s, 20, rand.New(rand.NewPCG(4, 4)))
		return s
	}
	sharp := analysetest.Capture{BlurNs: 40, Noise: 1.5}
	soft := analysetest.Capture{BlurNs: 110, Noise: 3, Gain: 0.92, Offset: 4}
	good := read(p, screen(), sharp, 1)
	struck := -1 // a cell with strokes
	for i, c := range good.Cells {
		if !c.Single && c.Row > 2 && c.Bits[3] != 0 {
			struck = i
			break
		}
	}

	here := read(p, screen(), soft, 2)
	r := resultOf(here, p)
	r.Cells[struck].Bits[3] ^= 0x10 // misread
	if n := settleBeside(r, here, good, p); n != 1 || !same(&r.Cells[struck], &good.Cells[struck]) || r.Cells[struck].Apart >= 0 {
		t.Errorf("misread: %d settled, reads %08b for %08b", n, r.Cells[struck].Bits[3], good.Cells[struck].Bits[3])
	}

	wrong := screen()
	row, column := good.Cells[struck].Row, good.Cells[struck].Column
	wrong.Memory[p.BitmapAddress(row*8+3, column)] ^= 0x10
	here = read(p, wrong, soft, 3)
	r = resultOf(here, p)
	if n := settleBeside(r, here, good, p); n != 0 || r.Cells[struck].Apart < 8 {
		t.Errorf("a wrong bit: %d settled, apart by %.1f nats", n, r.Cells[struck].Apart)
	}
	for i, c := range r.Cells {
		if i != struck && c.Apart != 0 {
			t.Fatalf("cell %d is as the good machine's, and is apart by %.1f nats", i, c.Apart)
		}
	}

	other := analysetest.New(p)
	analysetest.Listing(p, other, 20, rand.New(rand.NewPCG(9, 9)))
	for name, reference := range map[string]*analyse.Survey{"another screen": read(p, other, sharp, 5), "a line off": read(p, screen(), sharp, 6)} {
		if name == "a line off" {
			reference.Registration.OriginY++
		}
		here = read(p, screen(), soft, 7)
		r = resultOf(here, p)
		r.Cells[struck].Bits[3] ^= 0x10
		if n := settleBeside(r, here, reference, p); n != 0 {
			t.Errorf("%s: %d settled", name, n)
		}
	}
}

// The coefficients of a regression are those that made its values, whatever a third of them are; of many that stripes allow, those nearest to the first guess.
func TestRegression(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	want := []float64{0.2, 0.7, -0.1, 12}
	r := regression{terms: 4}
	for i := range 600 {
		row := []float64{rng.Float64() * 200, rng.Float64() * 200, rng.Float64() * 200, 1}
		v := rng.NormFloat64()
		for k, u := range row {
			v += want[k] * u
		}
		if i%3 == 0 {
			v += 60
		}
		r.v, r.rows = append(r.v, v), append(r.rows, row...)
	}
	f, ok := r.fit()
	for k := range want {
		if tolerance := []float64{0.01, 0.01, 0.01, 1.5}[k]; !ok || f.taps[k] < want[k]-tolerance || f.taps[k] > want[k]+tolerance {
			t.Errorf("%v, want %v", f.taps, want)
		}
	}
	if f.sd < 0.8 || f.sd > 2 {
		t.Errorf("deviation %.2f, want 1 or somewhat more", f.sd)
	}
	r = regression{terms: 4, first: []float64{0, 1, 0}}
	for i := range 400 { // each pixel is its second neighbour's like
		v := float64(i%2)*100 + 20
		r.v, r.rows = append(r.v, v), append(r.rows, 120-float64(i%2)*100, v, 120-float64(i%2)*100, 1)
	}
	f, ok = r.fit()
	if !ok || f.taps[1] < 0.9 || f.taps[0] < -0.1 || f.taps[0] > 0.1 {
		t.Errorf("stripes: %v", f.taps)
	}
}

// Cells that move are left as they were read, but for those of single pixels, which the subcarrier makes move.
func TestMovingCells(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	analysetest.Listing(p, screen, 20, rand.New(rand.NewPCG(4, 4)))
	const row, column = 22, 9
	for y := range 8 {
		screen.Memory[p.BitmapAddress(row*8+y, column)] = 0xaa >> (y % 2)
	}
	good := read(p, screen, analysetest.Capture{BlurNs: 40, Noise: 1.5}, 1)
	here := read(p, screen, analysetest.Capture{BlurNs: 60, Noise: 1.5}, 2)
	d := Compare(here, good, p)
	if d == nil {
		t.Fatal("the captures are of one screen")
	}
	fine := row*p.Columns() + column
	stroke := slices.IndexFunc(good.Cells, func(c analyse.Cell) bool { return !c.Single && c.Row > 2 && c.Bits[3] != 0 })
	r := resultOf(here, p)
	r.Cells[fine].Bits[3] ^= 0x10
	r.Cells[stroke].Bits[3] ^= 0x10
	if n := d.Settle(r, func(int) bool { return true }); n != 1 || !same(&r.Cells[fine], &good.Cells[fine]) || same(&r.Cells[stroke], &good.Cells[stroke]) {
		t.Errorf("%d settled, single pixels %08b, strokes %08b", n, r.Cells[fine].Bits[3], r.Cells[stroke].Bits[3])
	}
}

// A picture that one low-pass more has made soft is the good machine's; one that a lane is missing from is not, however soft it is (common practice, no source).
func TestSoftPictureIsComparedAndALostLaneIsNot(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	analysetest.Listing(p, screen, 20, rand.New(rand.NewPCG(4, 4)))
	good := read(p, screen, analysetest.Capture{BlurNs: 40, Noise: 1.5}, 1)
	soft := analysetest.Capture{BlurNs: 260, Noise: 1.5}
	if d := Compare(read(p, screen, soft, 2), good, p); d == nil {
		t.Error("the soft picture is not compared")
	}
	for a := range p.ColourBase {
		screen.Memory[a] &^= 1 << 4
	}
	if d := Compare(read(p, screen, soft, 3), good, p); d != nil {
		t.Error("the picture without a lane is taken for a soft one")
	}
}
