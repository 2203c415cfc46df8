package characters

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns/nats"
)

// Cells that all move in the same fields say by how often they turn no more than one does; such as move by themselves say it together.
func TestCellsInUnison(t *testing.T) {
	list := func(in func(cell, field int) bool) (out []analyse.Change) {
		for cell := range 12 {
			c := analyse.Change{At: cell, Of: 40}
			for k := range 40 {
				if in(cell, k) {
					c.In = append(c.In, k)
				}
				if k > 0 && in(cell, k) != in(cell, k-1) {
					c.Turns++
				}
			}
			out = append(out, c)
		}
		return out
	}
	all := &analyse.Motion{Flips: 400, Chance: 300}
	rng := rand.New(rand.NewPCG(2, 8))
	chance := make([]bool, 12*40)
	for i := range chance {
		chance[i] = rng.IntN(3) == 0
	}
	for name, c := range map[string]struct {
		in            func(cell, field int) bool
		unison, turns bool
	}{
		"by chance":            {func(_, field int) bool { return chance[field] }, true, false},
		"by turns":             {func(_, field int) bool { return field%2 == 0 }, true, true},
		"by turns, either way": {func(cell, field int) bool { return (field+cell)%2 == 0 }, true, true},
		"each by itself":       {func(cell, field int) bool { return chance[cell*40+field] }, false, true},
	} {
		got := inUnison(list(c.in), all)
		if (got != all) != c.unison || nats.ByTurns(got) != c.turns {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// Bits that decay are told though every second field shows them otherwise, as the subcarrier steps, and though a bit is read both ways for a moment when it turns. Cells that
// change from each field to the next do not decay.
func TestStepsUnderTheSubcarrier(t *testing.T) {
	from := func(first, step, end int) (in []int) {
		for k := first; k < end; k += step {
			in = append(in, k)
		}
		return in
	}
	for _, c := range []struct {
		name     string
		in       []int
		pictures int
		good     bool
	}{
		{"late", from(16, 1, 24), 2, true},
		{"both ways for a moment", append([]int{15}, from(17, 1, 24)...), 2, true},
		{"every second field from the tenth on", from(10, 2, 24), 3, true},
		{"every second field until the tenth", from(1, 2, 10), 3, true},
		{"each second field", from(1, 2, 24), 2, false},
		{"single fields", []int{3, 12, 19}, 2, false},
		{"one field near the end", []int{22}, 2, false},
	} {
		x := changed{}
		x.Of, x.In, x.Fields, x.Pictures = 24, c.in, len(c.in), c.pictures
		was := false
		for k := range 24 {
			in := false
			for _, v := range c.in {
				in = in || v == k
			}
			if k > 0 && in != was {
				x.Turns++
			}
			was = in
		}
		if x.forGood() != c.good {
			t.Errorf("%s: changes for good: %v", c.name, !c.good)
		}
	}
	x := changed{}
	x.Of, x.In, x.shows = 24, from(11, 2, 24), 'b'
	if early, late := x.order('a'); early != 'a' || late != 'b' {
		t.Errorf("the later picture was taken for the earlier")
	}
}
