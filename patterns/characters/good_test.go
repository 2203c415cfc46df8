package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// mirrored gives a survey the glyphs of a generator whose upper half is the lower one inverted, and shows codes with them.
func mirrored(s *analyse.Survey, codes []int, ink func(i int) int) {
	for c := range 128 {
		for y, b := range s.Text.Glyphs[c] {
			s.Text.Glyphs[c+128][y] = ^b
		}
	}
	for i, code := range codes {
		c := &s.Cells[i]
		c.Bits, c.Single, c.Paper, c.Ink = s.Text.Glyphs[code], false, 8, ink(i)
		switch c.Bits {
		case [8]uint8{}:
			c.Single, c.Ink = true, -1
		case [8]uint8{255, 255, 255, 255, 255, 255, 255, 255}:
			c.Single, c.Paper, c.Ink, c.Bits = true, c.Ink, -1, [8]uint8{}
		}
	}
}

func anyCodes(rng *rand.Rand) []int {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = rng.IntN(256)
	}
	return codes
}

// Where a screen has two colours and as many inverted characters as others, either may be taken for the background: the same screen is
// the same with the other one.
func TestBackgroundOfTwoColours(t *testing.T) {
	codes := anyCodes(rand.New(rand.NewPCG(3, 1)))
	good, p := screentest.Typed(t, codes, screentest.White)
	mirrored(good, codes, screentest.White)
	s, _ := screentest.Typed(t, codes, screentest.White)
	mirrored(s, codes, screentest.White)
	for i := range s.Cells {
		if c := &s.Cells[i]; !c.Single {
			c.Paper, c.Ink = c.Ink, c.Paper
			for y := range c.Bits {
				c.Bits[y] = ^c.Bits[y]
			}
		}
	}
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A block of inverted cells agrees with itself at any distance: that is no address line.
func TestBlocksAreNoFold(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(3, 2)))
	for i := range codes[:14*40] {
		codes[i] = 160
	}
	for i := 14 * 40; i < len(codes); i++ {
		if i/40%2 == 0 || i%40 > 23 {
			codes[i] = ' '
		}
	}
	ink := func(i int) int {
		if i < 560 {
			return []int{1, 2, 3, 9, 11, 12, 13, 14}[i%40/5]
		}
		return 3
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	mirrored(s, codes, ink)
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// What is drawn with characters may hold any of them in any colour; woken memory has a pattern.
func TestAnyCodesAreNotWoken(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	codes := anyCodes(rng)
	s, p := screentest.Typed(t, codes, func(int) int { return rng.IntN(16) })
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.CPUSide {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A decoder makes colours of fine strokes. Inks that the reference has there, and that are not read at all or as the others are in the
// capture, are no lane's doing; nor a component's of the colours, of which the other inks show nothing.
func TestColoursOfFineStrokes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	codes := anyCodes(rng)
	pink := func(int) int { return 10 }
	good, p := screentest.Typed(t, codes, pink)
	s, _ := screentest.Typed(t, codes, pink)
	for i := range codes {
		a, b := &good.Cells[i], &s.Cells[i]
		if a.Single {
			continue
		}
		switch {
		case i%3 == 0:
			a.Sure = 0
		case i%40 == 1:
			a.Ink, b.Sure = 14, 0
		case i%40 == 7:
			a.Ink = 11
			if i%80 == 7 {
				b.Sure = 0
			}
		case i%5 == 0:
			b.Sure = 0
		}
	}
	s.Levels.Components = []analyse.Component{{Name: "cb", Level: 0}, {Name: "cr", Level: 0}}
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A reference that was misread as a whole, a line too low, is no fault of a capture that shows the font's characters.
func TestMisplacedReference(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(3, 5)))
	good, p := screentest.Typed(t, codes, screentest.White)
	for i := range good.Cells {
		if c := &good.Cells[i]; !c.Single {
			copy(c.Bits[1:], c.Bits[:7])
			c.Bits[0] = 0
			c.Bits[4] |= c.Bits[3] >> 1
		}
	}
	s, _ := screentest.Typed(t, codes, screentest.White)
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.Clean && v.Class != patterns.Undetermined {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A generator that has lost some cells shows the codes that were there as bits at random, and nothing else is wrong.
func TestSeveralWrongCodes(t *testing.T) {
	for _, known := range []bool{true, false} {
		codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, codes, screentest.White)
		if !known {
			for _, v := range []*analyse.Survey{good, s} {
				for i := range v.Text.Glyphs {
					v.Text.Glyphs[i] = [8]uint8{uint8(i), uint8(i * 7), uint8(i * 31), uint8(i * 57), 129}
				}
			}
		}
		rng := rand.New(rand.NewPCG(4, 4))
		for _, wrong := range []int{'R', 'k', ':', 'e'} {
			var rows [8]uint8
			for y := range rows {
				rows[y] = uint8(rng.IntN(256))
			}
			for i, code := range codes {
				if code == wrong {
					s.Cells[i].Bits = rows
				}
			}
		}
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if v.Class != patterns.VideoLogic || v.Faults[0].Kind != "character-generator" {
			t.Errorf("font known %v: said %s, %v, %v", known, v.Class, v.Why, v.Faults)
		} else if known && len(v.Faults[0].Codes) != 4 {
			t.Errorf("codes %v", v.Faults[0].Codes)
		}
	}
}

// A lane held in all cells and a line of the generator's address make one picture: both are listed, the memory's first, for it fails more often.
func TestGeneratorsAddressLine(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	seen := make([]int, len(codes))
	for i, c := range codes {
		seen[i] = withBit(c, 3, 1)
	}
	s, _ := screentest.Typed(t, seen, screentest.White)
	for _, ref := range []*analyse.Survey{nil, good} {
		v := judge.Classify(s, p, judge.Options{Reference: ref})
		listed := false
		for _, f := range v.Faults {
			listed = listed || f.Kind == "character-generator" && len(f.Lines) == 1 && f.Lines[0] == 6 && *f.Level == 1
		}
		if v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-stuck" || !listed {
			t.Errorf("reference %v: said %s, %v, %v", ref != nil, v.Class, v.Why, v.Faults)
		}
	}
}

// An edge's echo leaves a stroke in the blank cell beside it, and blurs a few characters: no lane does.
func TestEchoesAreNoLane(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(good, codes)
	s, _ := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	for k := range 24 {
		i := 30 + k*40
		s.Cells[i].Single, s.Cells[i].Ink, s.Cells[i].Bits = false, 3, [8]uint8{128, 128, 128, 128, 128, 128, 128, 128}
		if k%3 == 0 {
			s.Cells[i+1].Single, s.Cells[i+1].Ink, s.Cells[i+1].Bits = false, 3, [8]uint8{0, 64, 0, 64, 0, 64, 0, 64}
		}
		if c := &s.Cells[k*40+5]; !c.Single && k < 8 {
			c.Bits[k] ^= 0x3c
			c.Bits[7-k] ^= 0x80
		}
	}
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.RAMBit {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Windows of inverted words stand at one place in row after row: their edges are one block's, and no address line's.
func TestWindowsAreNoFold(t *testing.T) {
	words := "level score OPEN room LIVES key 31415 STOP engine PAPER "
	codes := make([]int, 1000)
	rng := rand.New(rand.NewPCG(3, 6))
	for i := range codes {
		codes[i] = ' '
		row, column := i/40, i%40
		if row%12 > 1 && row%12 < 10 && column >= 4 && column < 26 {
			codes[i] = 160
			if column > 4 && column < 21 {
				codes[i] = 128 + int(words[(column+row*11+rng.IntN(2))%len(words)])
			}
		}
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	mirrored(s, codes, screentest.White)
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// All characters in order follow their addresses as woken memory does, whatever the font; but no few of them stand everywhere.
func TestOrderOfAStrangeFontIsNotWoken(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 7))
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = i % 256
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	for i := range s.Cells {
		if c := &s.Cells[i]; !c.Single {
			c.Ink = rng.IntN(16)
			if i%3 == 0 { // not read alike everywhere
				c.Bits[rng.IntN(8)] ^= uint8(rng.IntN(256))
			}
		}
	}
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.CPUSide {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A capture whose characters are blurred, each a little otherwise, differs from its reference in every sort of character, and not as a lane would
// have it nor a generator.
func TestBlurIsNoLane(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(good, codes)
	s, _ := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	for i := range s.Cells {
		if c := &s.Cells[i]; !c.Single && i%6 == 0 {
			for y := range c.Bits {
				c.Bits[y] ^= 1 << ((i + y*3) % 8)
			}
		}
	}
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.RAMBit || v.Class == patterns.VideoLogic {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Two captures that were sampled half a pixel apart show the last pixel of round letters in its place on the one and a pixel aside on the other; or strokes a pixel thicker. That is no
// fault of the glyphs, nor of a lane; but where nothing is there in place of what is gone it is the generator's.
func TestStrokesAside(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 7)))
	for _, c := range []struct {
		name      string
		good, now func(b uint8, line int) uint8
		fault     bool
	}{
		{"aside", func(b uint8, line int) uint8 {
			if (line == 4 || line == 5) && b&3 == 2 { // the last pixel, in two lines
				return b&^2 | 1
			}
			return b
		}, func(b uint8, _ int) uint8 { return b }, false},
		{"thicker", func(b uint8, _ int) uint8 { return b }, func(b uint8, _ int) uint8 { return b | b<<1 | b>>1 }, false},
		{"gone", func(b uint8, _ int) uint8 { return b }, func(b uint8, _ int) uint8 { return b &^ 8 }, true},
	} {
		good, p := screentest.Typed(t, codes, screentest.White)
		s, _ := screentest.Typed(t, codes, screentest.White)
		other := screentest.OtherHand()
		screentest.Handwritten(good, codes, other)
		screentest.Handwritten(s, codes, other)
		for i := range s.Cells {
			for y := range 8 {
				good.Cells[i].Bits[y] = c.good(good.Cells[i].Bits[y], y)
				s.Cells[i].Bits[y] = c.now(s.Cells[i].Bits[y], y)
			}
		}
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if found := v.Class == patterns.VideoLogic; found != c.fault || v.Class == patterns.RAMBit {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Why, v.Faults)
		}
	}
}

// Menus and titles have letters alone: that no figure stands there is no lane's doing.
func TestLettersAloneAreNoLane(t *testing.T) {
	codes := screentest.Menu()
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Handwritten(s, codes, screentest.OtherHand())
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
