package grid

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// trapped takes a band about a frequency, cycles a sample, out of every line, as a decoder's trap does: by a filter that is even in time.
func trapped(plane []float32, width int, frequency float64, reach int) []float32 {
	kernel := make([]float64, 2*reach+1)
	sum := 0.0
	for k := range kernel {
		kernel[k] = 1 + math.Cos(math.Pi*float64(k-reach)/float64(reach+1))
		sum += kernel[k]
	}
	out := make([]float32, len(plane))
	for i := range plane {
		v := float64(plane[i])
		for k, w := range kernel {
			x := min(max(i%width+k-reach, 0), width-1)
			v -= 2 * w / sum * math.Cos(2*math.Pi*frequency*float64(k-reach)) * float64(plane[i-i%width+x])
		}
		out[i] = float32(v)
	}
	return out
}

// Behind a short trap at a little more than half the pixels' rate most edges lie half a pixel aside, all alike; those that stand by themselves lie where
// they were, and the picture is placed by them.
func TestEdgesThatStandAlone(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60", "text-40x25-50"} {
		for seed := range uint64(3) {
			p := analysetest.Profile(t, name)
			rng := rand.New(rand.NewPCG(seed, 11))
			s := analysetest.New(p)
			analysetest.Listing(p, s, 20, rng)
			pitch := p.PitchX(720)
			ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
			c := analysetest.Capture{OriginX: ox + pitch*rng.Float64(), OriginY: oy, Noise: 1, BlurNs: 60}
			fields := make([]*video.Field, 4)
			for i := range fields {
				fields[i] = analysetest.Draw(p, s, c, rng)
			}
			stack := analyse.Add(fields)
			stack.Y = trapped(stack.Y, 720, 0.55/pitch, 3)
			aside := func(at float64) float64 {
				off := (at - c.OriginX) / pitch
				return math.Abs(off - math.Round(off))
			}
			from, to := window(p, 720, stack.Height, 24)
			all := horizontal(stack.Y, 720, stack.Height, from, to, 8, pitch, false).at(pitch)
			alone := horizontal(stack.Y, 720, stack.Height, from, to, 8, pitch, true).at(pitch)
			if aside(all.phase) < 0.3 || all.length > doubtfulEdges {
				t.Errorf("%s, seed %d: all edges are %.2f of a pixel aside (%.2f alike): no trap", name, seed, aside(all.phase), all.length)
			}
			if aside(alone.phase) > 0.1 || alone.length < 0.5 {
				t.Errorf("%s, seed %d: edges that stand alone are %.2f of a pixel aside (%.2f alike)", name, seed, aside(alone.phase), alone.length)
			}
			best, ok := standingAlone(stack, from, to, 8, []lattice{{pitch: 1.01 * pitch}, {pitch: pitch}})
			if !ok || aside(best.phase) > 0.1 || best.pitch != pitch {
				t.Errorf("%s, seed %d: %v, %.2f of a pixel aside, a pitch of %.3f where %.3f was drawn", name, seed, ok, aside(best.phase), best.pitch, pitch)
			}
			if reg := Register(stack, p, Options{}); !reg.OK || aside(reg.OriginX) > 0.1 {
				t.Errorf("%s, seed %d: placed (%v) %.2f of a pixel aside", name, seed, reg.OK, aside(reg.OriginX))
			}
		}
	}
}

// Edges at any place say nothing, however many, nor do none.
func TestAnyEdgesStandNowhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	s := &analyse.Stack{Width: 720, Height: 288, N: 1, Y: make([]float32, 720*288)}
	for y := range s.Height {
		for k := range 6 { // broad bars, anywhere
			at := 60 + 110*k + rng.IntN(60)
			for x := at; x < at+20; x++ {
				s.Y[y*720+x] = 100 * float32(min(x-at, at+20-x, 2)) / 2
			}
		}
	}
	if l, ok := standingAlone(s, 20, 700, 8, []lattice{{pitch: 1.93}}); ok {
		t.Errorf("bars at any place are placed: %+v", l)
	}
	if l, ok := standingAlone(&analyse.Stack{Width: 720, Height: 288, N: 1, Y: make([]float32, 720*288)}, 20, 700, 8, []lattice{{pitch: 1.93}}); ok {
		t.Errorf("nothing is placed: %+v", l)
	}
}

// An edge has others near it within reach, on either side, that are a third as strong or more.
func TestNear(t *testing.T) {
	line := []step{{10, 40}, {30, 10}, {33, 40}, {60, -40}, {64, 30}, {64.5, 2}}
	for i, want := range []bool{false, true, false, true, true, true} {
		if got := near(line, i, 5); got != want {
			t.Errorf("edge %d: %v", i, got)
		}
	}
}
