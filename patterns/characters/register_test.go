package characters_test

import (
	"encoding/binary"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// shiftedBy shows a survey's cells through an alteration of their lines.
func shiftedBy(s *analyse.Survey, f func(b uint8) uint8) {
	for i := range s.Cells {
		c := &s.Cells[i]
		binary.BigEndian.PutUint64(c.Bits[:], text.EachLine(f)(binary.BigEndian.Uint64(c.Bits[:])))
		if c.Single = c.Bits == [8]uint8{}; !c.Single {
			c.Ink = max(c.Ink, 3)
		} else {
			c.Ink = -1
		}
	}
}

// A register that shows each second pixel twice has all pixels in twos, by the font, beside a reference, and by what all characters have in common where the
// font is not known. The machine's own characters do not.
func TestPixelsInTwos(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	left := func(b uint8) uint8 { return b&0xaa | b&0xaa>>1 }
	right := func(b uint8) uint8 { return b&0x55 | b&0x55<<1 }
	half := func(b uint8) (out uint8) {
		for bit := range 8 {
			out |= b >> (4 + bit/2) & 1 << bit
		}
		return out
	}
	for name, f := range map[string]func(b uint8) uint8{"left": left, "right": right, "half the rate": half, "good": func(b uint8) uint8 { return b }} {
		for _, known := range []bool{true, false} {
			good, p := screentest.Typed(t, codes, screentest.White)
			s, _ := screentest.Typed(t, codes, screentest.White)
			if !known {
				screentest.Strange(good, codes)
				screentest.Strange(s, codes)
			}
			shiftedBy(s, f)
			for _, ref := range []*analyse.Survey{nil, good} {
				v := judge.Classify(s, p, judge.Options{Reference: ref})
				told := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "shift-register"
				if told != (name != "good") || !told && v.Class != patterns.Clean {
					t.Errorf("%s, font %v, reference %v: said %s, %v, %v", name, known, ref != nil, v.Class, v.Faults, v.Why)
				}
			}
		}
	}
}

// A register that is never loaded shows the same bars everywhere, in the inks of what is written; a test that fills the screen with a bar does so in one.
func TestRegisterIsNeverLoaded(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	menu := func(i int) int {
		if r := i / 40; r > 8 && r < 17 && i%40 > 9 && i%40 < 30 {
			return 1
		}
		return 3
	}
	good, p := screentest.Typed(t, codes, menu)
	for _, c := range []struct {
		name  string
		ink   func(i int) int
		good  *analyse.Survey
		fails bool
	}{{"inks of a menu", menu, nil, true}, {"one ink", screentest.White, nil, false}, {"beside a reference", menu, good, true}} {
		s, _ := screentest.Typed(t, codes, c.ink)
		for i := range s.Cells {
			s.Cells[i].Bits = [8]uint8{5, 5, 5, 5, 5, 5, 5, 5}
			s.Cells[i].Single, s.Cells[i].Ink = false, c.ink(i)
		}
		v := judge.Classify(s, p, judge.Options{Reference: c.good})
		if told := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "shift-register"; told != c.fails {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Faults, v.Why)
		}
	}
}
