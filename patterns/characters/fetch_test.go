package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
	"backporch/patterns/nats"
)

// Cells that show what floats on the bus, or their neighbour, in some fields are fetches that fail, where they stand in some columns alone;
// where they stand anywhere they are another's doing.
func TestFetchesThatFailNowAndThen(t *testing.T) {
	for _, name := range []string{"odd", "even", "after 24", ""} {
		rng := rand.New(rand.NewPCG(6, 2))
		codes := screentest.Page(rng)
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, codes, screentest.White)
		var at, code []int
		in := nats.ColumnsNamed(name)
		for i, c := range codes {
			if c == ' ' || i%40 == 0 || name != "" && !in(i%40) || name == "" && rng.IntN(2) == 0 {
				continue
			}
			at = append(at, i)
			if rng.IntN(2) == 0 {
				code = append(code, 0xff)
			} else {
				code = append(code, codes[i-1])
			}
		}
		flickering(s, at, code, func(int) (out []int) {
			for k := range 24 {
				if rng.IntN(3) == 0 {
					out = append(out, k)
				}
			}
			return out
		}, 2)
		for _, o := range []judge.Options{{}, {Reference: good}} {
			v := judge.Classify(s, p, o)
			fetch := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "cell-fetch"
			if fetch != (name != "") || fetch && v.Faults[0].Columns != name {
				t.Errorf("%q, reference %v: said %s, %v, %v", name, o.Reference != nil, v.Class, v.Why, v.Faults)
			}
		}
	}
}

// Fetches that fail in every field show what floats on the bus: one character in all cells of some columns, whatever the font.
func TestFetchesThatShowTheBus(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(6, 3)))
	for _, known := range []bool{true, false} {
		for _, columns := range []string{"odd", "even", "after 4", "after 30"} {
			in := nats.ColumnsNamed(columns)
			seen := make([]int, len(codes))
			for i := range seen {
				if seen[i] = codes[i]; in(i % 40) {
					seen[i] = 'z'
				}
			}
			good, p := screentest.Typed(t, codes, screentest.White)
			s, _ := screentest.Typed(t, seen, screentest.White)
			if !known {
				for i := range s.Text.Glyphs {
					g := [8]uint8{uint8(i), uint8(i * 7), uint8(i * 31), uint8(i * 57), 129}
					s.Text.Glyphs[i], good.Text.Glyphs[i] = g, g
				}
			}
			v := judge.Classify(s, p, judge.Options{Reference: good})
			if v.Class != patterns.VideoLogic || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != columns {
				t.Errorf("%s, font known %v: said %s, %v, %v", columns, known, v.Class, v.Why, v.Faults)
			}
		}
	}
}

// A few cells that go back and forth between two characters, the same two wherever they stand, are a weak lane's without the font too, beside a reference or not;
// those that do so between any are not, nor are those that do so at one rhythm.
func TestFewCellsThatSwap(t *testing.T) {
	for _, name := range []string{"swap", "any", "rhythm"} {
		rng := rand.New(rand.NewPCG(6, 2))
		codes := screentest.Program(10)
		good, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(good, codes)
		s, _ := screentest.Typed(t, codes, screentest.White)
		var at, code []int
		for i, c := range codes {
			if c == ' ' || i%4 > 0 {
				continue
			}
			at = append(at, i)
			if code = append(code, c^1); name == "any" {
				code[len(code)-1] = 64 + len(code)
			}
		}
		flickering(s, at, code, func(int) (out []int) {
			for k := range 24 {
				if name == "rhythm" && k%4 < 2 || name != "rhythm" && rng.IntN(3) == 0 {
					out = append(out, k)
				}
			}
			return out
		}, 2)
		screentest.Strange(s, codes)
		drawn, _ := screentest.Typed(t, codes, screentest.White)
		all := make([]int, 1000)
		for i := range all {
			all[i] = i % 256
		}
		screentest.Strange(drawn, all)
		for k := range s.Text.Changes {
			c := &s.Text.Changes[k]
			c.Other.Bits, c.Other.Single, c.Other.Ink = drawn.Cells[code[k]].Bits, code[k] == ' ', 3
		}
		for _, o := range []judge.Options{{}, {Reference: good}} {
			v := judge.Classify(s, p, o)
			if weak := v.Class == patterns.RAMBit && v.Faults[0].Kind == "data-bit-weak" && v.Faults[0].Memory == "screen"; weak != (name == "swap") {
				t.Errorf("%s, reference %v: said %s, %v", name, o.Reference != nil, v.Class, v.Why)
			}
		}
	}
}

// Snow on a screen whose font is at hand shows characters and what is none of them; in blanks nothing else does, while what a decoder makes of
// strokes for a field is no snow.
func TestSnowThatIsNoCharacter(t *testing.T) {
	for _, blanks := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(6, 2))
		codes := screentest.Program(14)
		s, p := screentest.Typed(t, codes, screentest.White)
		var at, code []int
		for i, c := range codes {
			if (c == ' ') == blanks && rng.IntN(3) == 0 {
				at, code = append(at, i), append(code, 0xff)
			}
		}
		flickering(s, at, code, func(int) []int { return []int{rng.IntN(24)} }, 2)
		for k := range s.Text.Changes {
			c := &s.Text.Changes[k]
			for y := range 8 {
				c.Other.Bits[y] = uint8(rng.Uint32())
				if !blanks { // a few pixels more or less
					if c.Other.Bits[y] = s.Cells[c.At].Bits[y]; y < 5 {
						c.Other.Bits[y] ^= 1 << rng.IntN(8)
					}
				}
			}
			c.Other.Single, c.Other.Ink = false, 3
		}
		v := judge.Classify(s, p, judge.Options{})
		if snow := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "cell-snow"; snow != blanks {
			t.Errorf("in blanks %v: said %s, %v, %v", blanks, v.Class, v.Faults, v.Why)
		}
	}
}
