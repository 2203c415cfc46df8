package characters_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Without the machine's font and a reference no bit can be named: an answer is less sure, and says what was not judged.
// Where the space itself shows as a character, the screen is not called clean.
func TestUnknownFont(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	v := judge.Classify(s, p, judge.Options{})
	if v.Class != patterns.Clean || *v.Confidence > 0.85 || !strings.Contains(strings.Join(v.Why, " "), "--font") {
		t.Errorf("said %s, %v", v.Class, v.Why)
	}
	for i := range codes {
		codes[i] |= 1 << 2
	}
	screentest.Strange(s, codes)
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.Clean {
		t.Errorf("spaces show as a character: said %s, %v", v.Class, v.Why)
	}
}

// Beside a reference a stuck lane shows by what becomes of each character, whatever the font. Characters that are exchanged
// at random, cell by cell, are no lane's doing.
func TestUnknownFontBesideReference(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(good, codes)
	for _, bit := range []int{0, 3, 6} {
		for level := range 2 {
			seen := make([]int, len(codes))
			for i := range seen {
				seen[i] = withBit(codes[i], bit, level)
			}
			s, _ := screentest.Typed(t, codes, screentest.White)
			screentest.Strange(s, seen)
			v := judge.Classify(s, p, judge.Options{Reference: good})
			if v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-stuck" || v.Faults[0].Memory != "screen" {
				t.Errorf("bit %d at %d: said %s, %v, %v", bit, level, v.Class, v.Why, v.Faults)
			}
		}
	}
	rng := rand.New(rand.NewPCG(6, 1))
	seen := make([]int, len(codes))
	for i := range seen {
		if seen[i] = codes[i]; rng.IntN(3) == 0 {
			seen[i] = codes[rng.IntN(len(codes))]
		}
	}
	s, _ := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, seen)
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.RAMBit && strings.HasPrefix(v.Faults[0].Kind, "data-bit") {
		t.Errorf("exchanged at random: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Colours that turn in step with the subcarrier, each cell's to another one, are the decoder's; those that change in one bit are a lane's.
func TestColoursThatTurn(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	for _, lane := range []bool{false, true} {
		s, p := screentest.Typed(t, codes, screentest.White)
		s.Text.Changes = []analyse.Change{}
		for i := range s.Cells {
			if s.Cells[i].Single || i%3 > 0 {
				continue
			}
			c := analyse.Change{At: i, Other: s.Cells[i], Code: codes[i], Pictures: 2, Of: 80}
			if c.Other.Ink = [3]int{1, 12, 15}[i%13%3]; lane {
				c.Other.Ink = 3 ^ 8
			}
			for k := range 80 {
				if k*3%8 < 4 { // three eighths of a cycle a field
					c.In = append(c.In, k)
				}
			}
			c.Fields, c.Turns = len(c.In), 60
			s.Text.Changes = append(s.Text.Changes, c)
		}
		v := judge.Classify(s, p, judge.Options{})
		if lane && (v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-weak" || v.Faults[0].Memory != "colour" || *v.Faults[0].Bit != 3) {
			t.Errorf("a lane: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
		if !lane && v.Class != patterns.Clean {
			t.Errorf("in step: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
}

// A column or row of a chip that is dead is seen beside a reference without the font: most of what differs lies there, and each character shows as
// one other.
func TestDeadLineWithoutTheFont(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(good, codes)
	for _, c := range []struct {
		kind       string
		bit, level int
		in         func(i int) bool
		at         int
	}{
		{"column-dead", 4, 1, func(i int) bool { return i>>p.RowBits == 2 }, 2},
		{"column-dead", 0, 0, func(i int) bool { return i>>p.RowBits == 5 }, 5},
		{"row-dead", 6, 0, func(i int) bool { return i&(1<<p.RowBits-1) == 9 }, 9},
	} {
		seen := slices.Clone(codes)
		for i := range seen {
			if c.in(i) {
				seen[i] = withBit(codes[i], c.bit, c.level)
			}
		}
		s, _ := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, seen)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if v.Class != patterns.RAMBit || v.Faults[0].Kind != c.kind {
			t.Errorf("%s %d: said %s, %v, %v", c.kind, c.at, v.Class, v.Why, v.Faults)
			continue
		}
		if f := v.Faults[0]; c.kind == "column-dead" && *f.Column != c.at || c.kind == "row-dead" && *f.Row != c.at {
			t.Errorf("%s %d: said %+v", c.kind, c.at, f)
		}
	}
}
