package cells

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/grid"
	"backporch/video"
)

// The levels that two captures of one screen were drawn with are what ties them, whatever colour either's border has, and cells read by them
// are the same in both. Captures come from analysetest, which knows nothing of the reader.
func TestTie(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	surveyed := func(border int, gain, offset float64) *analyse.Survey {
		rng := rand.New(rand.NewPCG(3, 3))
		s := analysetest.New(p)
		analysetest.Listing(p, s, 12, rng)
		colours(p, s, rng, false)
		s.Border = border
		c := analysetest.Capture{Noise: 1.5, Gain: gain, Offset: offset}
		var fields []*video.Field
		for range 6 {
			fields = append(fields, analysetest.Draw(p, s, c, rng))
		}
		out := &analyse.Survey{Stack: analyse.Add(fields)}
		if out.Registration = grid.Register(out.Stack, p, grid.Options{}); !out.Registration.OK {
			t.Fatal(out.Registration.Reason)
		}
		r := Recover(out.Stack, out.Registration, p)
		out.Cells, out.Levels, out.Border = r.Cells, r.Levels, r.Border
		return out
	}
	good := surveyed(7, 1, 0)
	for _, c := range []struct {
		border       int
		gain, offset float64
	}{{7, 1, 0}, {1, 1.05, 4}, {0, 0.94, -3}, {2, 1.08, 6}} {
		here := surveyed(c.border, c.gain, c.offset)
		levels := Tie(here, good, p)
		if levels == nil {
			t.Errorf("%+v: not tied", c)
			continue
		}
		// Two means of cells, each good to some codes, over a range of 200.
		if got := (levels.White - levels.Black) / (good.Levels.White - good.Levels.Black); math.Abs(got-c.gain) > 0.02 {
			t.Errorf("%+v: gain %.3f", c, got)
		}
		if got := levels.Black - good.Levels.Black; math.Abs(got-c.offset-16*(c.gain-1)) > 3 && math.Abs(got-c.offset) > 3 {
			t.Errorf("%+v: black %.1f off", c, got)
		}
		r := RecoverAt(here.Stack, here.Registration, p, Known{Levels: levels})
		wrong := 0
		for i := range r.Cells {
			if a, b := r.Cells[i], good.Cells[i]; a.Paper != b.Paper || a.Ink != b.Ink {
				wrong++
			}
		}
		if wrong > len(r.Cells)/50 || r.Border.Colour != c.border {
			t.Errorf("%+v: %d cells otherwise, border %d", c, wrong, r.Border.Colour)
		}
	}
	other := *good
	other.Cells = nil
	if Tie(good, &other, p) != nil || Tie(nil, good, p) != nil || RecoverAt(good.Stack, good.Registration, p, Known{}) == nil {
		t.Error("tied to nothing")
	}
}

// Colours above the cut fall together and those below stay; a good machine's capture says which was meant.
func TestWithoutTop(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	q := Cut(p, 0.6)
	if q.Colours[1].YUV == (video.YUV{}) || q.Colours[15].Y > 0.6+1e-9 || q.Colours[0].YUV != p.Colours[0].YUV || p.Colours[15].Y < 0.99 {
		t.Errorf("cut: %+v", q.Colours)
	}
	if c := CutLuma(p, 0.6); c.Colours[15].Y != 0.6 || c.Colours[14].U != p.Colours[14].U {
		t.Errorf("luma cut: %+v", c.Colours)
	}
	r := &Result{
		Cells:      []analyse.Cell{{Paper: 7, Ink: 0, Sure: 20}, {Paper: 9, Ink: 8, Sure: 20}},
		ColourOdds: []float32{10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10},
	}
	WithoutTop(r, &analyse.Survey{Cells: []analyse.Cell{{Paper: 15, Ink: 8}, {Paper: 1, Ink: 0}}}, p, q)
	if c := r.Cells[0]; c.Paper != 15 || c.Sure != 2 || r.ColourOdds[0] != 1 {
		t.Errorf("white: %+v %v", c, r.ColourOdds[0])
	}
	if c := r.Cells[1]; c.Paper != 9 || c.Sure != 20 || r.ColourOdds[8] != 10 { // a colour below the cut is as it was
		t.Errorf("blue: %+v %v", c, r.ColourOdds[8])
	}
}
