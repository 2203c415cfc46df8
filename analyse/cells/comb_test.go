package cells

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/grid"
	"backporch/video"
)

// combed is a field behind a comb of one line: what lies about a quarter of the sampling rate is halved on its line, and the other half is left on the next.
func combed(f *video.Field) *video.Field {
	out := *f
	out.Y = make([]uint8, len(f.Y))
	band := func(y, x int) float64 {
		if y < 0 || x < 2 || x >= f.Width-2 {
			return 0
		}
		l := f.Line(y)
		return 0.5*float64(l[x]) - 0.25*(float64(l[x-2])+float64(l[x+2]))
	}
	for y := range f.Height {
		for x := range f.Width {
			v := float64(f.Line(y)[x]) - 0.5*band(y, x) + 0.5*band(y-1, x)
			out.Y[y*f.Width+x] = uint8(min(max(v+0.5, 0), 255))
		}
	}
	return &out
}

// Pixels are read through a comb as they are without one: its part on the line before is found, and no screen that has none gets one.
func TestCombIsUndone(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 17))
		s := analysetest.New(p)
		analysetest.Listing(p, s, 20, rng)
		for _, through := range []bool{false, true} {
			fields := make([]*video.Field, 6)
			for i := range fields {
				fields[i] = analysetest.Draw(p, s, analysetest.Capture{Noise: 1, BlurNs: 45}, rng)
				if through {
					fields[i] = combed(fields[i])
				}
			}
			stack := analyse.Add(fields)
			reg := grid.Register(stack, p, grid.Options{})
			if !reg.OK {
				t.Fatalf("seed %d: not registered: %s", seed, reg.Reason)
			}
			reader := newReader(stack, reg, p)
			r := reader.recover(stack, reg, nil)
			m := reader.model
			if m.combed != through || through && m.lines[0][0] < 3*m.lines[1][0] {
				t.Errorf("seed %d: through a comb %v: found %v, parts above %.2f, below %.2f", seed, through, m.combed, m.lines[0], m.lines[1])
			}
			want, wrong := s.Pixels(p, false), 0
			for i := range r.Cells {
				c := &r.Cells[i]
				for k := range 64 {
					got := c.Paper
					if c.Bits[k/8]>>(7-k%8)&1 == 1 {
						got = c.Ink
					}
					if got != int(want[(c.Row*8+k/8)*p.Width+c.Column*8+k%8]) {
						wrong++
					}
				}
			}
			if wrong > 0 {
				t.Errorf("seed %d: through a comb %v: %d pixels wrong", seed, through, wrong)
			}
		}
	}
}
