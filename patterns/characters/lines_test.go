package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Lines of all characters that repeat show without the font, and may be the line counter's or the generator's; so they do beside a
// reference, where a decoder has spoilt some pixels of each. A font with a few such characters has no fault.
func TestLinesOfGlyphsThatRepeat(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	for bit := range 3 {
		for _, sorts := range []int{256, 20} {
			for _, beside := range []bool{false, true} {
				if beside && sorts < 256 {
					continue
				}
				good, p := screentest.Typed(t, codes, screentest.White)
				screentest.Strange(good, codes)
				s, _ := screentest.Typed(t, codes, screentest.White)
				screentest.Strange(s, codes)
				rng := rand.New(rand.NewPCG(9, uint64(bit)))
				for i, code := range codes {
					if code*7%256 >= sorts {
						continue
					}
					c := &s.Cells[i]
					rows := c.Bits
					for y := range 8 {
						c.Bits[y] = rows[withBit(y, bit, 1)]
					}
					if beside && !c.Single {
						c.Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
					}
				}
				o := judge.Options{}
				if beside {
					o.Reference = good
				}
				v := judge.Classify(s, p, o)
				if sorts < 256 {
					if v.Class == patterns.VideoLogic {
						t.Errorf("bit %d, some characters: said %v, %v", bit, v.Faults, v.Why)
					}
					continue
				}
				other := false
				for _, f := range v.Faults {
					other = other || f.Kind == "character-generator" && len(f.Lines) == 1 && f.Lines[0] == bit
				}
				if v.Class != patterns.VideoLogic || v.Faults[0].Kind != "line-counter" || *v.Faults[0].CounterBit != bit || !other {
					t.Errorf("bit %d, reference %v: said %s, %v, %v", bit, beside, v.Class, v.Faults, v.Why)
				}
			}
		}
	}
}

// An address line that is held repeats what stands there; that the ink of some copies is the background's hides these, and nothing more.
func TestFoldsUnderOtherInks(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for k, c := range "SCORE 32337   TIME 189   ROOM 37" {
		codes[k] = int(c)
	}
	for range 40 {
		at, code := 40+rng.IntN(900), 33+rng.IntN(90)
		for k := range 2 + rng.IntN(6) {
			codes[at+k] = code
		}
	}
	for _, folds := range []bool{true, false} {
		seen := make([]int, len(codes))
		for i := range seen {
			if seen[i] = codes[i]; folds {
				seen[i] = codes[i&^64]
			}
		}
		s, p := screentest.Typed(t, seen, func(i int) int {
			if r := i / 5 % 25; r == 3 || r == 11 {
				return 8
			}
			return []int{3, 14, 9, 4, 1, 6}[i/5%6]
		})
		v := judge.Classify(s, p, judge.Options{})
		told := v.Class == patterns.RAMBit && v.Faults[0].Kind == "address-line-stuck" && len(v.Faults[0].Lines) == 1 && v.Faults[0].Lines[0] == 6
		if told != folds || !folds && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("folded %v: said %s, %v, %v", folds, v.Class, v.Faults, v.Why)
		}
	}
}

// Characters with all of their ink in a few columns of pixels are what a shift register with stuck stages leaves; those of a narrow font, and
// one narrow character in several readings, are not.
func TestStagesThatAreStuck(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	for name, mask := range map[string]uint8{"stuck": 0x60, "narrow": 0x7c} {
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		for i := range s.Cells {
			for y := range 8 {
				s.Cells[i].Bits[y] &= mask
			}
		}
		v := judge.Classify(s, p, judge.Options{})
		if stuck := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "shift-register"; stuck != (name == "stuck") || !stuck && v.Class != patterns.Clean {
			t.Errorf("%s: said %s, %v, %v", name, v.Class, v.Faults, v.Why)
		}
	}
	for i := range codes {
		codes[i] = '!'
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	rng := rand.New(rand.NewPCG(4, 9))
	for i := range s.Cells {
		c := &s.Cells[i]
		c.Bits = [8]uint8{0x28, 0x38, 0x10, 0x38, 0x20, 0x18, 0x08, 0x30}
		for range 3 {
			c.Bits[rng.IntN(8)] ^= 0x08 << rng.IntN(3)
		}
	}
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.VideoLogic {
		t.Errorf("one character: said %v, %v", v.Faults, v.Why)
	}
}

// A data bit of the generator that is held at 1 shows as a stroke down all characters, blanks too, whatever the font; a font with such a stroke in some
// of its characters has no fault.
func TestColumnOfGlyphsHeld(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 3)))
	for _, sorts := range []int{256, 60} {
		for _, bit := range []int{0, 3, 7} {
			s, p := screentest.Typed(t, codes, screentest.White)
			screentest.Strange(s, codes)
			for i, code := range codes {
				if code*7%256 >= sorts {
					continue
				}
				c := &s.Cells[i]
				c.Single = false
				for y := range c.Bits {
					c.Bits[y] |= 1 << bit
				}
			}
			v := judge.Classify(s, p, judge.Options{})
			held := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "character-generator" && v.Faults[0].Bit != nil && *v.Faults[0].Bit == bit
			if held != (sorts == 256) {
				t.Errorf("bit %d of %d sorts: said %s, %v, %v", bit, sorts, v.Class, v.Faults, v.Why)
			}
		}
	}
}

// A data bit of the generator that is held at 0 leaves a column of pixels without ink between others that have some, in all characters; in some of them a
// font has that too, and all do where the cells are not where they seem to be and the gap between letters stands in that column.
func TestColumnOfGlyphsBroken(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 3)))
	for _, bit := range []int{2, 3, 5} {
		for _, sorts := range []int{256, 60} {
			s, p := screentest.Typed(t, codes, screentest.White)
			screentest.Handwritten(s, codes, screentest.OtherHand())
			for i, code := range codes {
				if code*7%256 >= sorts {
					continue
				}
				c := &s.Cells[i]
				for y := range c.Bits {
					c.Bits[y] &^= 1 << bit
				}
				if c.Bits == [8]uint8{} {
					c.Single, c.Ink = true, -1
				}
			}
			v := judge.Classify(s, p, judge.Options{})
			broken := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "character-generator" && v.Faults[0].Bit != nil && *v.Faults[0].Bit == bit && *v.Faults[0].Level == 0
			if broken != (sorts == 256) {
				t.Errorf("bit %d of %d sorts: said %s, %v", bit, sorts, v.Class, v.Why)
			}
		}
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	for row := range 25 { // letters as wide as their cells, three pixels aside
		for y := range 8 {
			line := uint64(0)
			for column := range 40 {
				c := &s.Cells[row*40+column]
				was := line
				line = uint64(0xfe)
				if codes[row*40+column] == ' ' {
					line = 0
				} else if y > 0 {
					line &= uint64(codes[row*40+column])*0x9d>>y | 0x82
				}
				c.Bits[y] = uint8(was<<5 | line>>3)
			}
		}
	}
	for i := range s.Cells {
		c := &s.Cells[i]
		if c.Single, c.Ink = c.Bits == [8]uint8{}, 3; c.Single {
			c.Ink = -1
		}
	}
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.VideoLogic {
		t.Errorf("letters aside: said %v, %v", v.Faults, v.Why)
	}
}

// A lane that makes one dot of the space is told where a path loses half of the dots.
func TestLostDots(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 3))
	codes := screentest.Page(rng)
	for i := range codes {
		codes[i] &^= 1 << 5
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	s.Text.Glyphs[0] = [8]uint8{3: 0x10}
	for i := range codes {
		if c := &s.Cells[i]; codes[i] == 0 {
			c.Bits, c.Single, c.Ink = s.Text.Glyphs[0], false, 3
			if rng.IntN(2) == 0 {
				c.Bits, c.Single, c.Ink = [8]uint8{}, true, -1
			}
		}
	}
	v := judge.Classify(s, p, judge.Options{})
	if v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-stuck" || *v.Faults[0].Bit != 5 || *v.Faults[0].Level != 0 {
		t.Errorf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
}
