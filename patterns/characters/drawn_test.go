package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// mosaic is a screen drawn with the sixteen characters that show a cell's quarters, and a space where nothing is drawn.
func mosaic(rng *rand.Rand, block int) []int {
	codes := make([]int, 1000)
	for i := range codes {
		if codes[i] = ' '; rng.IntN(3) > 0 {
			codes[i] = block*16 + rng.IntN(16)
		}
	}
	return codes
}

// quarters gives a block of sixteen codes of a survey's font the quarters of a cell, and what is no ASCII any other pictures.
func quarters(glyphs [][8]uint8, block int) {
	rng := rand.New(rand.NewPCG(6, 6))
	for c := range glyphs {
		for y := range 8 {
			if c < 32 || c > 126 {
				glyphs[c][y] = uint8(rng.Uint32())
			}
		}
	}
	for k := range 16 {
		for y := range 8 {
			b := uint8(0)
			for side, ink := range [2]uint8{0xf0, 0x0f} {
				if k>>(y/4*2+side)&1 == 1 {
					b |= ink
				}
			}
			glyphs[block*16+k][y] = b
		}
	}
}

// A screen that is drawn has the characters of one block of the set, which have most bits of their codes in common: no lane is held.
func TestDrawnScreensAreNoLane(t *testing.T) {
	for _, block := range []int{0, 1, 9} {
		for seed := range uint64(3) {
			rng := rand.New(rand.NewPCG(6, seed))
			codes := mosaic(rng, block)
			s, p := screentest.Typed(t, codes, screentest.White)
			quarters(s.Text.Glyphs, block)
			for i, code := range codes {
				c := &s.Cells[i]
				c.Bits, c.Single, c.Ink = s.Text.Glyphs[code], false, 1+rng.IntN(15)
				switch c.Bits {
				case [8]uint8{}:
					c.Single, c.Ink = true, -1
				case [8]uint8{255, 255, 255, 255, 255, 255, 255, 255}:
					c.Single, c.Paper, c.Ink, c.Bits = true, c.Ink, -1, [8]uint8{}
				}
				if i%11 == 0 && !c.Single { // what was not read is no other level
					c.Sure = 0
					for range 12 {
						c.Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
					}
				}
			}
			if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean && v.Class != patterns.Undetermined {
				t.Errorf("block %d, %d: said %s, %v, %v", block, seed, v.Class, v.Faults, v.Why)
			}
		}
	}
}

// Where the set has its pictures twice, in place of what a bit makes of letters too, a screen that is drawn with them in runs is as well written with the letters under a
// held lane: but letters do not stand in such runs, and what one draws with is pictures.
func TestPicturesThatLettersWouldShowAreNoLane(t *testing.T) {
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(8, seed))
		codes := make([]int, 1000)
		for i := range codes {
			if codes[i] = 0xc1 + rng.IntN(26); i > 0 && rng.IntN(10) > 3 {
				codes[i] = codes[i-1]
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		glyphs := s.Text.Glyphs
		for k := range 32 {
			for y := range 8 {
				glyphs[0x80+k][y] = uint8(rng.Uint32())
			}
			glyphs[0xc0+k] = glyphs[0x80+k]
		}
		for i, code := range codes {
			s.Cells[i].Bits, s.Cells[i].Single, s.Cells[i].Ink = glyphs[code], false, 3
		}
		if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("%d: said %s, %v, %v", seed, v.Class, v.Faults, v.Why)
		}
	}
}

// A lane that is held shows in all that is written, and in no blank that has its background's colour as ink: it does not come and go.
func TestHeldLaneUnderUnseenInk(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(6, 1)))
	for _, weak := range []bool{false, true} {
		rng := rand.New(rand.NewPCG(6, 2))
		seen := append([]int(nil), codes...)
		for i := range seen {
			switch {
			case weak && rng.IntN(2) == 0, !weak && codes[i] == ' ' && i%40 >= 31:
			default:
				seen[i] |= 1 << 6
			}
		}
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, seen, screentest.White)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		kind := map[bool]string{false: "data-bit-stuck", true: "data-bit-weak"}[weak]
		if v.Class != patterns.RAMBit || v.Faults[0].Kind != kind || *v.Faults[0].Bit != 6 {
			t.Errorf("weak %v: said %s, %v, %v", weak, v.Class, v.Faults, v.Why)
		}
	}
}

// A column of the chips that is held goes through bars whose ink is their background's: these stay as they are.
func TestDeadColumnAcrossUnseenBars(t *testing.T) {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
		for k, top := range []int{6, 4, 12, 7, 15, 9} {
			if c := i%40 - 3 - 3*k; c >= 0 && c < 2 && i/40 >= top && i/40 < 22 {
				codes[i] = 0x0f
			}
		}
	}
	for k, c := range "SALES OF 1982" {
		codes[2+k] = int(c)
	}
	for _, from := range []int{640, 600} {
		s, p := screentest.Typed(t, codes, screentest.White)
		for y := range 8 {
			s.Text.Glyphs[0x0f][y] = 0xff
		}
		for i, code := range codes {
			if i >= from && i < from+128 {
				code |= 1 << 6
			}
			c := &s.Cells[i]
			c.Bits, c.Single, c.Paper, c.Ink = s.Text.Glyphs[code], false, 8, 3
			switch unseen := i%40 >= 12 && i%40 < 14 && i/40 < 22 && i/40 >= 7; {
			case unseen || c.Bits == [8]uint8{}:
				c.Bits, c.Single, c.Ink = [8]uint8{}, true, -1
			case code == 0x0f:
				c.Bits, c.Single, c.Paper, c.Ink = [8]uint8{}, true, 3, -1
			}
		}
		v := judge.Classify(s, p, judge.Options{})
		dead := v.Class == patterns.RAMBit && v.Faults[0].Kind == "column-dead" && *v.Faults[0].Column == 5 && *v.Faults[0].Bit == 6
		if dead != (from == 640) {
			t.Errorf("from %d on: said %s, %v, %v", from, v.Class, v.Faults, v.Why)
		}
	}
}

// A counter's bit at 1 reads the last rows from where nothing is known of; that they are blank, as before, says nothing against it.
func TestCounterReadsBeyondTheScreen(t *testing.T) {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for at, words := range map[int]string{0: "BENCH SYSTEM V2.1", 200: "_", 960: "(C) 1985 ANY WORKS LTD"} {
		for k, c := range words {
			codes[at+k] = int(c)
		}
	}
	seen := make([]int, len(codes))
	for i := range seen {
		if seen[i] = ' '; i/40|8 < 25 {
			seen[i] = codes[(i/40|8)*40+i%40]
		}
	}
	good, p := screentest.Typed(t, codes, screentest.White)
	s, _ := screentest.Typed(t, seen, screentest.White)
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.VideoLogic || v.Faults[0].Kind != "line-counter" || *v.Faults[0].CounterBit != 6 {
		t.Errorf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
}

// Few cells that the reference shows something in and the capture nothing, right of where writing ends, were misread: no fetch fails there.
func TestFewLostCellsAreNoFetch(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(6, 3)))
	good, p := screentest.Typed(t, codes, screentest.White)
	for _, row := range []int{3, 9, 17, 20} {
		c := &good.Cells[row*40+34]
		c.Single, c.Ink, c.Bits = false, 3, [8]uint8{0x81, 0x5a, 0x24, 0x99, 0x7e, 0x18, 0xc3, 0x24}
	}
	s, _ := screentest.Typed(t, codes, screentest.White)
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.VideoLogic && v.Faults[0].Kind == "cell-fetch" {
		t.Errorf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
}
