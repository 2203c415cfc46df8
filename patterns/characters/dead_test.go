package characters_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A row of the chips in which a lane is held shows without the font, by the same character where blanks are to be expected; the same
// characters at other places of the screen do not make one.
func TestDeadRowInAStrangeFont(t *testing.T) {
	for _, apart := range []int{128, 121, 40} {
		codes := screentest.Program(14)
		for k := range 8 {
			if at := 30 + apart*k; at < len(codes) {
				codes[at] |= 1
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		v := judge.Classify(s, p, judge.Options{})
		dead := v.Class == patterns.RAMBit && v.Faults[0].Kind == "row-dead" && *v.Faults[0].Row == 30
		if dead != (apart == 128) || !dead && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("%d apart: said %s, %v, %v", apart, v.Class, v.Faults, v.Why)
		}
	}
}

// Woken memory and all characters in order show the same along the rows of the chips: no row stands out.
func TestOrderIsNoDeadRow(t *testing.T) {
	codes := make([]int, 1000)
	rng := rand.New(rand.NewPCG(2, 6))
	for i := range codes {
		if codes[i] = i & 0x7f; rng.IntN(3) == 0 {
			codes[i] = ' '
		}
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.RAMBit {
		t.Errorf("said %v, %v", v.Faults, v.Why)
	}
}

// A column of the chips that is held is a block that begins and ends where the chip's column does: other characters than the fill's, or
// inverted ones. A block elsewhere is a writer's.
func TestBlocksOfAColumn(t *testing.T) {
	invert := func(s *analyse.Survey, from, to int) {
		for i := from; i < to; i++ {
			c := &s.Cells[i]
			if c.Single {
				c.Paper = 3
				continue
			}
			for y := range c.Bits {
				c.Bits[y] = ^c.Bits[y]
			}
		}
	}
	filled := func(from, to int) []int {
		codes := make([]int, 1000)
		for i := range codes {
			if codes[i] = 'N'; i >= from && i < to {
				codes[i] = 'O'
			}
		}
		return codes
	}
	for _, from := range []int{640, 600, 650} {
		s, p := screentest.Typed(t, filled(from, from+128), screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		if dead := v.Class == patterns.RAMBit && v.Faults[0].Kind == "column-dead" && *v.Faults[0].Column == 5 && *v.Faults[0].Bit == 0; dead != (from == 640) {
			t.Errorf("other characters from %d on: said %s, %v, %v", from, v.Class, v.Faults, v.Why)
		}
		codes := screentest.Program(22)
		s, _ = screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		invert(s, from, from+128)
		v = judge.Classify(s, p, judge.Options{})
		if dead := v.Class == patterns.RAMBit && v.Faults[0].Kind == "column-dead" && *v.Faults[0].Column == 5; dead != (from == 640) {
			t.Errorf("inverted from %d on: said %s, %v, %v", from, v.Class, v.Faults, v.Why)
		}
	}
}

// Words with a capital in front speak for no lane, and bars that are black for none either.
func TestHeadingsAndBlackBars(t *testing.T) {
	codes := make([]int, 1000)
	clean := 0
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(3, seed))
		for i := range codes {
			codes[i] = ' '
		}
		for k, c := range ".Paper..Field....And......Small" {
			if c != '.' {
				codes[k] = int(c)
			}
		}
		for line := 2; line < 16; line++ {
			for k, c := range fmt.Sprintf("   %5d   %5d   %5d   %5d", rng.IntN(99999), rng.IntN(99999), rng.IntN(99999), rng.IntN(99999)) {
				codes[line*40+k] = int(c)
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		switch v := judge.Classify(s, p, judge.Options{}); v.Class {
		case patterns.Clean:
			clean++
		case patterns.Undetermined: // of so many figures some go together
		default:
			t.Errorf("headings %d: said %s, %v, %v", seed, v.Class, v.Faults, v.Why)
		}
	}
	if clean < 7 {
		t.Errorf("headings: %d of 8 screens are called clean", clean)
	}
	// Colour bars of whole blocks; the ink of the first is the background's.
	for i := range codes {
		if codes[i] = ' '; i < 640 {
			codes[i] = 0xa0
		}
	}
	bars, p := screentest.Typed(t, codes, screentest.White)
	for c := range 128 {
		for y, b := range bars.Text.Glyphs[c] {
			bars.Text.Glyphs[c+128][y] = ^b
		}
	}
	for i := range 640 {
		c := &bars.Cells[i]
		c.Single, c.Ink, c.Bits = true, -1, [8]uint8{}
		if c.Paper = (8 + i%40/3) % 16; c.Paper == 8 {
			bars.Text.Codes[i] = ' '
		}
	}
	if v := judge.Classify(bars, p, judge.Options{}); v.Class == patterns.RAMBit || v.Class == patterns.VideoLogic {
		t.Errorf("bars: said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
}

// A few cells of one row of the chips that show an unlikely character, and would a likely one but for the same bit, are that row's, if such cells stand nowhere
// else: as many that lie in no row are not, and blanks that look alike with the bit at either level say nothing against it.
func TestFewCellsOfADeadRow(t *testing.T) {
	for _, apart := range []int{128, 123} {
		codes := screentest.Program(0)
		for i := range 800 { // figures in columns, as of a table
			if i%8 < 5 {
				codes[i] = '0' + (i*7+i/8*3+i/40)%10
			}
		}
		for k := range 7 {
			codes[26+apart*k] &^= 1 << 5 // a graphic in place of a figure, a space as before
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		dead := v.Class == patterns.RAMBit && v.Faults[0].Kind == "row-dead"
		if dead != (apart == 128) || dead && (*v.Faults[0].Row != 26 || *v.Faults[0].Bit != 5 || *v.Faults[0].Level != 0) {
			t.Errorf("%d apart: said %s, %s, %v", apart, v.Class, v.Faults[0].Describe(p), v.Why)
		}
	}
}
