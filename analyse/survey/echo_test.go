package survey

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// copied puts a second copy of a line onto it, so many samples later.
func copied(v []float32, part, late, rest float64) []float32 {
	out := make([]float32, len(v))
	for x := range v {
		before := float64(x) - late
		i := int(math.Floor(before))
		at := func(i int) float64 {
			if i < 0 {
				return rest
			}
			return float64(v[i])
		}
		f := before - float64(i)
		out[x] = v[x] + float32(part*((1-f)*at(i)+f*at(i+1)-rest))
	}
	return out
}

// What a copy has been put onto comes back, even parts at the level that they had with it: 1 + part times what they were (the sum of the geometric series that the
// recursion is).
func TestEchoOff(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const black, width = 16, 400
	for _, c := range []struct{ part, late float64 }{{0.25, 20}, {-0.3, 33.4}, {0.6, 7.75}} {
		line := make([]float32, width)
		for x := range line {
			line[x] = black
			if x > 40 && x < 360 {
				line[x] = float32(black + 200*rng.Float64())
			}
		}
		s := &analyse.Stack{Width: width, Height: 1, Y: copied(line, c.part, c.late, black)}
		e := &echo{samples: c.late, part: c.part, black: black}
		got := e.off(s)
		for x := range line {
			want := black + (1+c.part)*(float64(line[x])-black)
			if math.Abs(float64(got.Y[x])-want) > 0.01 {
				t.Fatalf("part %.2f, %.2f samples late: %.3f at %d, want %.3f", c.part, c.late, got.Y[x], x, want)
			}
		}
	}
	var none *echo
	if s := new(analyse.Stack); none.off(s) != s {
		t.Error("no echo changes the stack")
	}
}

// What the colour differences of a copy are is found, turned by the subcarrier's phase or not, and comes off.
func TestEchoOfColours(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	rng := rand.New(rand.NewPCG(6, 6))
	const width, chroma, height = 720, 360, 288
	s := &analyse.Survey{
		Registration: analyse.Registration{OK: true, OriginX: 110, OriginY: 48, PitchX: 1.92857, PitchY: 1},
		Border:       analyse.Border{Colour: 1}, Levels: analyse.Levels{Black: 16},
	}
	for i := range p.Columns() * p.Rows() {
		s.Cells = append(s.Cells, analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Paper: rng.IntN(8), Ink: -1, Single: true})
	}
	for _, want := range [][2][2]float64{{{0.3, 0}, {0, 0.3}}, {{0.12, -0.25}, {0.25, 0.12}}} {
		e := &echo{samples: 24.5, part: 0.3, black: 16}
		st := &analyse.Stack{Width: width, ChromaWidth: chroma, Height: height,
			Y: make([]float32, width*height), Cb: make([]float32, chroma*height), Cr: make([]float32, chroma*height)}
		plain := [2][]float32{make([]float32, chroma*height), make([]float32, chroma*height)}
		pixels, line := ideal(s.Cells, p), make([][2]float64, chroma)
		for y := range height {
			for x := range line {
				line[x] = [2]float64{}
			}
			if row := y - 48; row >= 0 && row < p.Height {
				e.expected(line, pixels[row*p.Width:(row+1)*p.Width], s, p, 2)
			}
			first := [2][]float32{make([]float32, chroma), make([]float32, chroma)}
			for x, c := range line {
				first[0][x], first[1][x] = float32(neutral+120*c[0]), float32(neutral+150*c[1])
			}
			// The copy of each alone, then what of it goes where.
			var copies [2][]float32
			for i := range copies {
				copies[i] = copied(first[i], 1, e.samples/2, neutral)
			}
			for x := range line {
				b, r := float64(copies[0][x]-first[0][x]), float64(copies[1][x]-first[1][x])
				at := y*chroma + x
				st.Cb[at] = first[0][x] + float32(want[0][0]*b+want[0][1]*r)
				st.Cr[at] = first[1][x] + float32(want[1][0]*b+want[1][1]*r)
				plain[0][at], plain[1][at] = first[0][x], first[1][x]
			}
		}
		s.Stack = st
		e.hear(s, p)
		for i := range want {
			for j := range want[i] {
				if math.Abs(e.chroma[i][j]-want[i][j]) > 0.01 {
					t.Fatalf("copy %v, want %v", e.chroma, want)
				}
			}
		}
		got := e.off(st)
		for at := range got.Cb {
			b, r := float64(plain[0][at])-neutral, float64(plain[1][at])-neutral
			cb, cr := neutral+b+want[0][0]*b+want[0][1]*r, neutral+r+want[1][0]*b+want[1][1]*r
			if math.Abs(float64(got.Cb[at])-cb) > 1 || math.Abs(float64(got.Cr[at])-cr) > 1 {
				t.Fatalf("%.1f, %.1f at %d, want %.1f, %.1f", got.Cb[at], got.Cr[at], at, cb, cr)
			}
		}
	}
}

// Letters under a strong copy of the picture are read as without it, a coloured border and all.
func TestReadUnderEcho(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	analysetest.Listing(p, screen, 16, rand.New(rand.NewPCG(3, 5)))
	fields := make([]*video.Field, 8)
	rng := rand.New(rand.NewPCG(4, 4))
	const part, late = 0.35, 21.6 // 1.6 us
	for i := range fields {
		f := analysetest.Draw(p, screen, analysetest.Capture{Noise: 1, Gain: 0.7}, rng)
		for y := range f.Height {
			row := f.Y[y*f.Width : (y+1)*f.Width]
			line := make([]float32, len(row))
			for x, v := range row {
				line[x] = float32(v)
			}
			for x, v := range copied(line, part, late, 16) {
				row[x] = uint8(min(max(math.Round(float64(v)), 1), 254))
			}
		}
		f.Time = time.Duration(i) * 20 * time.Millisecond
		f.Frame, f.Parity = i/2, i%2
		fields[i] = f
	}
	s, _, err := Run(fields, video.Info{Kind: video.KindFile, Standard: p.Standard, Rate: p.FieldHz() / 2}, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	wrong := 0
	for a := range p.ColourBase {
		if s.Memory.Bytes[a] != screen.Memory[a] {
			wrong++
		}
	}
	if g := s.Signal.Ghost; g == nil || math.Abs(g.Pct.Value-100*part) > 5 {
		t.Errorf("ghost: %+v", g)
	}
	if wrong > 3 {
		t.Errorf("%d bytes of %d are misread", wrong, p.ColourBase)
	}
}

// A frame given once more shows what the one before did.
func TestStanding(t *testing.T) {
	var fields []*video.Field
	for _, v := range []uint8{1, 2, 3, 4, 3, 4, 5, 6, 5, 6, 5, 6} {
		fields = append(fields, &video.Field{Y: []uint8{v}})
	}
	want := []int{0, 1, 2, 3, 2, 3, 6, 7, 6, 7, 6, 7}
	for k, got := range standing(fields) {
		if got != want[k] {
			t.Errorf("field %d: %d, want %d", k, got, want[k])
		}
	}
}
