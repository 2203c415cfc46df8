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
		e := &echo{samples: c.late, part: c.part, black: black, cleared: map[*analyse.Stack]*analyse.Stack{}}
		got := e.off(s)
		for x := range line {
			want := black + (1+c.part)*(float64(line[x])-black)
			if math.Abs(float64(got.Y[x])-want) > 0.01 {
				t.Fatalf("part %.2f, %.2f samples late: %.3f at %d, want %.3f", c.part, c.late, got.Y[x], x, want)
			}
		}
		if e.off(s) != got {
			t.Error("taken off again")
		}
	}
	var none *echo
	if s := new(analyse.Stack); none.off(s) != s {
		t.Error("no echo changes the stack")
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
