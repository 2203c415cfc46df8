package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// A lane that is wrong in one line of five leaves few empty cells without a dot; a rule drawn down the screen in one lane puts the same column in its cells, and letters that
// differ in one column alone stand there again and again.
func TestBreaks(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	fill := func(put func(memory []uint8, rng *rand.Rand)) *evidence {
		screen := analysetest.New(p)
		memory := screen.Memory[:p.Size()]
		put(memory, rand.New(rand.NewPCG(3, 7)))
		return inLetters(t, p, memory)
	}
	const lane = 1
	dotted := fill(func(m []uint8, rng *rand.Rand) {
		for a := range p.ColourBase {
			if rng.IntN(5) == 0 {
				m[a] |= 1 << lane
			}
		}
	})
	if odds := excess(dotted.flips, lane, cellEnds); odds < 20 {
		t.Errorf("%.1f nats for dots in one lane: %v", odds, dotted.flips)
	}
	solid := fill(func(m []uint8, rng *rand.Rand) { // blocks, which are read as paper, that a lane is missing from in places: no cell is empty
		for a := range p.ColourBase {
			if rng.IntN(5) > 0 {
				m[a] |= 1 << lane
			}
		}
	})
	if odds := excess(solid.flips, lane, cellEnds); odds < 20 {
		t.Errorf("%.1f nats for a lane with gaps: %v", odds, solid.flips)
	}
	ends := fill(func(m []uint8, _ *rand.Rand) { // arms of large letters and dithered edges that reach a pixel into the next cell, and bars
		for a := range p.ColourBase {
			y, column := p.BitmapPlace(a)
			if [3]uint8{0x8b, 0x55, 0xff}[column%3]>>(y%8)&1 == 1 {
				m[a] |= 1 << lane
			}
		}
	})
	if odds := excess(ends.flips, lane, cellEnds); odds > 2 {
		t.Errorf("%.1f nats for what ends in a cell: %v", odds, ends.flips)
	}
	ruled := fill(func(m []uint8, _ *rand.Rand) {
		for y := range p.Height {
			for _, column := range []int{3, 9, 20} {
				m[p.BitmapAddress(y, column)] |= 1 << lane
			}
		}
	})
	if odds := excess(ruled.flips, lane, cellEnds); odds > 3 {
		t.Errorf("%.1f nats for rules down the screen: %v", odds, ruled.flips)
	}
	uprights := fill(func(m []uint8, rng *rand.Rand) { // letters of an upright alone, each another, stand amid others
		for i := range 8 * p.Columns() {
			for y := range 6 {
				b := uint8(rng.IntN(64)) &^ (1 << lane)
				if i%7 == 3 {
					b = uint8(rng.IntN(2)) << lane
				}
				m[p.BitmapAddress(i/p.Columns()*8+y, i%p.Columns())] = b
			}
		}
	})
	if odds := excess(uprights.flips, lane, cellEnds); odds > 3 {
		t.Errorf("%.1f nats for letters that are an upright: %v", odds, uprights.flips)
	}
	pairs := fill(func(m []uint8, rng *rand.Rand) {
		for i := range 20 * p.Columns() { // ten letters, each of which has a sister with two more lines of the lane
			letter := uint8(rng.IntN(10))
			for y := range 6 {
				m[p.BitmapAddress(i/p.Columns()*8+y, i%p.Columns())] = (letter*37 + uint8(y)*11) &^ (1 << lane)
			}
			if rng.IntN(3) == 0 {
				m[p.BitmapAddress(i/p.Columns()*8+2, i%p.Columns())] |= 1 << lane
				m[p.BitmapAddress(i/p.Columns()*8+4, i%p.Columns())] |= 1 << lane
			}
		}
	})
	if pairs.flips[lane] != 0 {
		t.Errorf("letters that differ in one column: %d breaks", pairs.flips[lane])
	}
}

// A second lane that takes a quarter as many events moves by itself, unless it is next to the first and takes less than half: blur takes some there.
func TestBesides(t *testing.T) {
	for _, c := range []struct {
		lanes [8]int
		want  int
	}{
		{[8]int{220, 68, 44, 1523, 27, 29, 65, 111}, 0}, // the same for letters' edges that move a little
		{[8]int{0, 0, 600, 1523, 600, 0, 0, 0}, 0},
		{[8]int{47041, 686, 11, 4, 28, 135, 615, 13304}, 0}, // in the next cell
		{[8]int{0, 0, 900, 1523, 0, 0, 0, 0}, 900},
		{[8]int{5942, 33925, 43, 15097, 2189, 5641, 618, 501}, 15097},
	} {
		m := &analyse.Motion{ByLane: c.lanes}
		if got := besides(m, busiest(m)); got != c.want {
			t.Errorf("%v: %d, want %d", c.lanes, got, c.want)
		}
	}
}
