package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A row or a column of a chip that is dead now and then is told by which cells change, and an address line by what shows in them; where as many cells of the same lane change
// anywhere, it is the lane that fails.
func TestPlacesThatFailNowAndThen(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(2, 9)))
	good, p := screentest.Typed(t, codes, screentest.White)
	rows := 1 << p.RowBits
	for _, c := range []struct {
		kind string
		now  func(i int) int
	}{
		{"row-dead", func(i int) int {
			if i%rows == 45 {
				return codes[i] | 8
			}
			return codes[i]
		}},
		{"column-dead", func(i int) int {
			if i/rows == 3 {
				return codes[i] &^ 1
			}
			return codes[i]
		}},
		{"address-line-stuck", func(i int) int {
			if from := i &^ 16; i < 990 {
				return codes[i]&^4 | codes[from]&4
			}
			return codes[i]
		}},
		{"data-bit-weak", func(i int) int {
			if i*7919%31 == 0 {
				return codes[i] ^ 2
			}
			return codes[i]
		}},
	} {
		s, _ := screentest.Typed(t, codes, screentest.White)
		var at, code []int
		for i := range codes {
			if now := c.now(i); good.Text.Glyphs[now] != good.Text.Glyphs[codes[i]] {
				at, code = append(at, i), append(code, now)
			}
		}
		flickering(s, at, code, func(int) []int { return []int{1, 4, 5, 9, 13, 14, 15, 22} }, 2)
		for _, o := range []judge.Options{{}, {Reference: good}} {
			v := judge.Classify(s, p, o)
			if v.Class != patterns.RAMBit || v.Faults[0].Kind != c.kind {
				t.Errorf("%s, reference %v: %d cells, said %s, %v, %v", c.kind, o.Reference != nil, len(at), v.Class, v.Why, v.Faults)
				continue
			}
			f := v.Faults[0]
			switch c.kind {
			case "row-dead":
				if *f.Row != 45 || *f.Bit != 3 || *f.Level != 1 {
					t.Errorf("said %+v", f)
				}
			case "column-dead":
				if *f.Column != 3 || *f.Bit != 0 || *f.Level != 0 {
					t.Errorf("said %+v", f)
				}
			case "address-line-stuck":
				if f.Lines[0] != 4 || f.Lanes[0] != 2 {
					t.Errorf("said %+v", f)
				}
			}
		}
	}
}

// A line of text that flashes, turned round by bit 7 of its codes, lies in one column of the chip, and leaves the rest of that as it is; a few characters that noise
// misreads in the only lines of a screen do so, too.
func TestFewLinesAreNoColumn(t *testing.T) {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for k, c := range "PRESS FIRE TO START" {
		codes[410+k] = int(c)
	}
	for _, what := range []string{"flash", "noise"} {
		s, p := screentest.Typed(t, codes, screentest.White)
		if what == "noise" {
			screentest.Strange(s, codes)
		}
		var at, code []int
		for i, c := range codes {
			switch {
			case c == ' ':
			case what == "flash":
				at, code = append(at, i), append(code, c|0x80)
			case i%5 == 0:
				at, code = append(at, i), append(code, 'a'+i%26)
			}
		}
		flickering(s, at, code, func(k int) []int { return []int{3, 8, 9, 17 + k%5} }, 2)
		if what == "flash" {
			for k, i := range at {
				rows := s.Cells[i].Bits
				for y := range rows {
					rows[y] = ^rows[y]
				}
				s.Text.Changes[k].Other.Bits = rows
			}
		}
		v := judge.Classify(s, p, judge.Options{})
		for _, f := range v.Faults {
			if f.Kind == "column-dead" || f.Kind == "row-dead" {
				t.Errorf("%s: said %s, %v, %v", what, v.Class, v.Why, v.Faults)
			}
		}
	}
}
