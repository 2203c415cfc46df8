package judge

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
)

// A verdict states no more than it weighs and no more than such verdicts were worth; what it weighs stays beside it.
func TestStated(t *testing.T) {
	for kind, w := range worths {
		if patterns.KindOf(kind) == nil {
			t.Errorf("%s is no kind", kind)
		}
		for screen := range 2 {
			for side := range 2 {
				if w.right[screen][side] > w.of[screen][side] {
					t.Errorf("%s: %d right of %d", kind, w.right[screen][side], w.of[screen][side])
				}
			}
		}
	}
	for _, weighed := range []float64{0.6, 0.999} {
		for _, at := range [][2]bool{{false, false}, {false, true}, {true, false}, {true, true}} {
			varied, beside := at[0], at[1]
			v := &patterns.Verdict{Class: patterns.RAMBit, Confidence: ptr(weighed), Faults: []patterns.Fault{{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: weighed}}}
			state(v, varied, beside)
			want := math.Min(weighed, trust("data-bit-stuck", varied, beside))
			if *v.Weighed != weighed || v.Faults[0].Weighed != weighed || *v.Confidence != want || v.Faults[0].Probability != want {
				t.Errorf("weighed %v varied %v beside %v: stated %v of %v", weighed, varied, beside, *v.Confidence, *v.Weighed)
			}
		}
	}
	// Bayes by hand: 0.3 x 189/285 over that and 0.7 x 119/678, and so on.
	for screen, want := range [2][2]float64{{0.6182, 0.8478}, {0.7264, 0.8658}} {
		for side := range 2 {
			if got := cleanWorth(screen, side); math.Abs(got-want[side]) > 5e-4 {
				t.Errorf("clean is worth %.4f on screen %d, side %d, by hand %.4f", got, screen, side, want[side])
			}
		}
	}
	// A kind's worth by hand: 57 right of 64 on varied screens without a reference, of all 123 of 160, with two of three more.
	if got, want := trust("data-bit-stuck", true, false), (57+4*125.0/163)/(64+4); math.Abs(got-want) > 1e-9 {
		t.Errorf("a stuck bit is worth %.4f, by hand %.4f", got, want)
	}
}

// A screen with letters is varied, also with all pixels inverted; one byte, or one with a line misread here and there, is not.
func TestVaried(t *testing.T) {
	screen := func(look func(i int) [8]uint8) *analyse.Survey {
		s := &analyse.Survey{}
		for i := range 768 {
			s.Cells = append(s.Cells, analyse.Cell{Bits: look(i), Row: i / 32, Column: i % 32})
		}
		return s
	}
	fill := func(int) [8]uint8 { return [8]uint8{0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55} }
	misread := func(i int) [8]uint8 {
		rows := fill(i)
		if i%3 > 0 {
			return rows
		}
		rows[i%8], rows[(i*3+1)%8] = uint8(i), uint8(i*5)
		if i%2 == 1 {
			for y := range rows {
				rows[y] = ^rows[y]
			}
		}
		return rows
	}
	written := func(i int) [8]uint8 {
		k := uint8(i % 7)
		return [8]uint8{0, k * 37, k*53 + 1, k * 11, k * 91, k*29 + 2, k * 3, 0}
	}
	for _, c := range []struct {
		name string
		look func(int) [8]uint8
		want bool
	}{{"fill", fill, false}, {"fill misread", misread, false}, {"letters", written, true}} {
		if got := Varied(screen(c.look)); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
