package characters_test

import (
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// lines shows each line of a cell as one of two characters has it.
func lines(font [][8]uint8, a, b int, second func(y int) bool) (out [8]uint8) {
	out = font[a]
	for y := range out {
		if second(y) {
			out[y] = font[b][y]
		}
	}
	return out
}

// show gives a cell these pixels, white on blue.
func show(c *analyse.Cell, rows [8]uint8) {
	c.Bits, c.Ink = rows, 3
	if c.Single = rows == [8]uint8{}; c.Single {
		c.Ink = -1
	}
}

// A lane that fails at single fetches leaves cells of lines of two characters, all over a written screen: they name its bit. Lines that come
// from any other character name none.
func TestLinesOfTwoCharacters(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 16))
	codes := screentest.Page(rng)
	for _, lane := range []bool{true, false} {
		s, p := screentest.Typed(t, codes, screentest.White)
		for i, code := range codes {
			other := code | 2
			if !lane {
				other = 33 + rng.IntN(90)
			}
			show(&s.Cells[i], lines(s.Text.Glyphs, code, other, func(int) bool { return rng.IntN(2) == 0 }))
		}
		v := judge.Classify(s, p, judge.Options{})
		weak := v.Class == patterns.RAMBit && v.Faults[0].Kind == "data-bit-weak" && v.Faults[0].Bit != nil && *v.Faults[0].Bit == 1
		if weak != lane {
			t.Errorf("lane %v: said %s, %v, %v", lane, v.Class, v.Faults, v.Why)
		}
	}
}

// The same over time, of a font that is not known, on a screen of one character and a title: each line that changes always shows the same other thing, if a
// lane has it so; what is anything in each cell is no lane's.
func TestLinesThatMix(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 16))
	codes := written1("WRITING FF AT 1280", "", "")
	for i := 120; i < 520; i++ {
		codes[i] = 'O'
	}
	font := screentest.OtherHand()
	for _, lane := range []bool{true, false} {
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Handwritten(s, codes, font)
		s.Text.Changes = []analyse.Change{}
		for i := 120; i < 520; i += 2 {
			c := s.Cells[i]
			rows := font['O']
			for y := range rows {
				if rng.IntN(3) == 0 {
					if rows[y] = font['O'^0x40][y]; !lane {
						rows[y] = uint8(rng.Uint32())
					}
				}
			}
			if show(&c, rows); rows == font['O'] {
				continue
			}
			in := []int{}
			for k := range 24 {
				if rng.IntN(3) == 0 {
					in = append(in, k)
				}
			}
			s.Text.Changes = append(s.Text.Changes, analyse.Change{At: i, Other: c, Pictures: 4, Turns: 11, Fields: len(in), Of: 24, In: in})
		}
		v := judge.Classify(s, p, judge.Options{})
		weak := v.Class == patterns.RAMBit && v.Faults[0].Kind == "data-bit-weak"
		if weak != lane {
			t.Errorf("lane %v: said %s, %v, %v", lane, v.Class, v.Faults, v.Why)
		}
	}
}

// What holds a bit of the generator's data now and then makes the one picture of each cell of the other; what exchanges characters is a lane.
func TestTurnsThatComeAndGo(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(7, 16)))
	font := screentest.OtherHand()
	for _, held := range []bool{true, false} {
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Handwritten(s, codes, font)
		s.Text.Changes = []analyse.Change{}
		in := []int{0, 1, 2, 6, 7, 12, 13, 14, 15, 20}
		for i, code := range codes {
			rows := font[code]
			for y := range rows {
				rows[y] &^= 0x10
			}
			if !held {
				rows = font[code^4]
			}
			if rows == font[code] {
				continue
			}
			c := s.Cells[i]
			show(&c, rows)
			s.Text.Changes = append(s.Text.Changes, analyse.Change{At: i, Other: c, Pictures: 2, Turns: 7, Fields: len(in), Of: 24, In: in})
		}
		v := judge.Classify(s, p, judge.Options{})
		if len(v.Faults) == 0 || (v.Faults[0].Kind == "character-generator") != held || held && *v.Faults[0].Bit != 4 {
			t.Errorf("held %v: said %s, %v, %v", held, v.Class, v.Faults, v.Why)
		}
	}
}

// From one column on all cells show what floats on the bus; the same in one part of the rows, or a blank, was written.
func TestBusFromAColumnOn(t *testing.T) {
	for _, c := range []struct {
		name  string
		shows int
		rows  int
		want  bool
	}{{"all rows", '@', 25, true}, {"most rows", '@', 20, false}, {"a blank", ' ', 25, false}} {
		codes := screentest.Program(20)
		for i := range codes {
			if i%40 > 28 && i/40 < c.rows {
				codes[i] = c.shows
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Handwritten(s, codes, screentest.OtherHand())
		v := judge.Classify(s, p, judge.Options{})
		got := len(v.Faults) > 0 && v.Faults[0].Kind == "cell-fetch" && v.Faults[0].Columns == "after 28"
		if got != c.want || !c.want && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Faults, v.Why)
		}
	}
}

// A screen filled with what a lane makes of the space is one of that lane; filled with a full stop, which no one bit makes of it, it is none.
func TestFilledWithTheSpace(t *testing.T) {
	for _, lane := range []bool{true, false} {
		codes := screentest.Program(3)
		for i, c := range codes {
			switch {
			case lane:
				codes[i] = c | 0x40
			case c == ' ' && i >= 120:
				codes[i] = '.'
			}
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		if got := v.Class == patterns.RAMBit && *v.Faults[0].Bit == 6; got != lane || !lane && v.Class != patterns.Clean && v.Class != patterns.Undetermined {
			t.Errorf("lane %v: said %s, %v, %v", lane, v.Class, v.Faults, v.Why)
		}
	}
}

// An address line of one lane, beside a reference in a font that is not at hand, is told with its lines and its lane.
func TestLaneThatFolds(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(8, 16)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Handwritten(good, codes, screentest.OtherHand())
	folded := slices.Clone(codes)
	for i := range folded {
		folded[i] = codes[i]&^4 | codes[i&^8]&4
	}
	s, _ := screentest.Typed(t, folded, screentest.White)
	screentest.Handwritten(s, folded, screentest.OtherHand())
	v := judge.Classify(s, p, judge.Options{Reference: good})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "address-line-stuck" || !slices.Equal(v.Faults[0].Lines, []int{3}) {
		t.Fatalf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
	if f := v.Faults[0]; !slices.Equal(f.Lanes, []int{2}) {
		t.Errorf("said %v", f)
	}
	// Characters that are all read otherwise are no lane's, whatever a few of them have in common.
	screentest.Strange(s, codes)
	v = judge.Classify(s, p, judge.Options{Reference: good})
	for _, f := range v.Faults {
		if f.Kind == "address-line-stuck" && f.Probability > 0.3 {
			t.Errorf("in another font: said %s, %v", v.Class, v.Faults)
		}
	}
}

// A decoder takes a character's single pixels for chroma, and shows its lines even; a generator that has lost them shows something else.
func TestBlendedIsNotLost(t *testing.T) {
	codes := screentest.Program(12)
	for _, at := range []int{700, 741, 777, 815} {
		codes[at] = '~'
	}
	draw := func(rows uint64) *analyse.Survey {
		s, _ := screentest.Typed(t, codes, screentest.White)
		binary.BigEndian.PutUint64(s.Text.Glyphs['~'][:], 0xaa00aa00aa00aa00)
		for i, code := range codes {
			var own [8]uint8
			if binary.BigEndian.PutUint64(own[:], rows); code == '~' {
				show(&s.Cells[i], own)
			}
		}
		return s
	}
	_, p := screentest.Typed(t, codes, screentest.White)
	good := draw(0xaa00aa00aa00aa00)
	for _, c := range []struct {
		rows  uint64
		clean bool
	}{{0xfe00fe00fe00fe00, true}, {0x3c427e8199a5423c, false}} {
		v := judge.Classify(draw(c.rows), p, judge.Options{Reference: good})
		if (v.Class == patterns.Clean) != c.clean {
			t.Errorf("%016x: said %s, %v, %v", c.rows, v.Class, v.Faults, v.Why)
		}
	}
}

// Snow that puts anything into blank cells is no register that loses all but a column of what it shows.
func TestSnowIsNoTurn(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 16))
	codes := screentest.Program(6)
	s, p := screentest.Typed(t, codes, screentest.White)
	s.Text.Changes = []analyse.Change{}
	for i := 0; i < 1000; i += 5 {
		c := s.Cells[i]
		rows := c.Bits
		rows[rng.IntN(8)] = uint8(1 + rng.IntN(127))
		show(&c, rows)
		in := []int{rng.IntN(24)}
		s.Text.Changes = append(s.Text.Changes, analyse.Change{At: i, Other: c, Pictures: 2, Turns: 2, Fields: 1, Of: 24, In: in})
	}
	if v := judge.Classify(s, p, judge.Options{}); len(v.Faults) == 0 || v.Faults[0].Kind != "cell-snow" {
		t.Errorf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
}

// A column of a chip full of spaces that fails now and then is told though the picture was read a row of cells too high, as where border and paper are alike; two whole
// rows of cells that flash are no column.
func TestColumnAtAnotherPlace(t *testing.T) {
	codes := screentest.Program(3)
	for _, c := range []struct {
		name        string
		first, last int
		want        bool
	}{{"a column", 512, 639, true}, {"rows", 520, 599, false}} {
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Handwritten(s, codes, screentest.OtherHand())
		s.Registration.Shifts = []analyse.Shift{{Probability: 0.5}, {Lines: 1, Probability: 0.3}, {Lines: -8, Probability: 0.2}}
		s.Text.Changes = []analyse.Change{}
		in := []int{0, 1, 2, 6, 7, 12, 13, 14, 15, 20}
		for i := c.first - 40; i <= c.last-40; i++ {
			cell := s.Cells[i]
			show(&cell, screentest.OtherHand()['0'])
			s.Text.Changes = append(s.Text.Changes, analyse.Change{At: i, Other: cell, Pictures: 2, Turns: 7, Fields: len(in), Of: 24, In: in})
		}
		v := judge.Classify(s, p, judge.Options{})
		got := len(v.Faults) > 0 && v.Faults[0].Kind == "column-dead" && *v.Faults[0].Column == 4
		if got != c.want {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Faults, v.Why)
		}
	}
}
