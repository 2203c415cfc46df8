package characters_test

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// changes marks cells that show another code in some of 24 fields.
func flickering(s *analyse.Survey, at, code []int, in func(k int) []int, pictures int) {
	font := s.Text.Glyphs
	s.Text.Changes = []analyse.Change{}
	for k, i := range at {
		fields := in(k)
		c := s.Cells[i]
		c.Bits, c.Single, c.Ink = font[code[k]], font[code[k]] == [8]uint8{}, 3
		turns, last := 0, false
		for f := range 24 {
			now := false
			for _, v := range fields {
				now = now || v == f
			}
			if now != last && f > 0 {
				turns++
			}
			last = now
		}
		s.Text.Changes = append(s.Text.Changes, analyse.Change{
			At: i, Other: c, Code: code[k], Pictures: pictures, Turns: turns, Fields: len(fields), Of: 24, In: fields,
		})
	}
}

// Each kind leaves on a written screen what the catalogue says of it (the simulator is not asked), and is named from that, with a reference
// and without one.
func TestKindsOfTextDisplay(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	codes := screentest.Page(rng)
	for i := range codes { // rows that differ, with a row of other words here and there
		if i/40%3 == 2 && i%40 < 36 {
			codes[i] = int("The screen shows 25 rows; each is read by its 40 cells, one after another "[(i*7/5+i/40*11)%74])
		}
	}
	good, p := screentest.Typed(t, codes, screentest.White)
	columns := p.Columns()
	moved := func(from func(i int) int) []int {
		out := make([]int, len(codes))
		for i := range out {
			out[i] = codes[from(i)]
		}
		return out
	}
	turned := func(f func(b uint8) uint8) *analyse.Survey {
		s, _ := screentest.Typed(t, codes, screentest.White)
		for i := range s.Cells {
			c := &s.Cells[i]
			var rows [8]byte
			binary.BigEndian.PutUint64(rows[:], text.EachLine(f)(binary.BigEndian.Uint64(c.Bits[:])))
			if c.Bits = rows; rows != [8]byte{} {
				c.Single, c.Ink = false, 3
			} else {
				c.Single, c.Ink = true, -1
			}
		}
		return s
	}
	seen := func(codes []int) *analyse.Survey { s, _ := screentest.Typed(t, codes, screentest.White); return s }
	held := func(bit, level int, in func(i int) bool) []int {
		out := append([]int(nil), codes...)
		for i := range out {
			if in(i) {
				out[i] = withBit(out[i], bit, level)
			}
		}
		return out
	}
	restless := func(change func(s *analyse.Survey)) *analyse.Survey {
		s, _ := screentest.Typed(t, codes, screentest.White)
		change(s)
		return s
	}
	some := func(n int) (at []int) {
		for k := range n {
			at = append(at, 41+k*53%900)
		}
		return at
	}
	cases := []struct {
		kind string
		free bool // shows without a reference too
		s    *analyse.Survey
	}{
		{"address-line-stuck", true, seen(moved(func(i int) int { return i &^ 8 }))},
		{"address-line-stuck", true, seen(moved(func(i int) int { return i &^ (1<<1 | 1<<8) }))},
		{"line-counter", true, seen(moved(func(i int) int { return i/columns&^2*columns + i%columns }))},
		{"cell-fetch", true, seen(moved(func(i int) int { return i/columns*columns + min(i%columns, 11) }))},
		{"column-dead", true, seen(held(6, 0, func(i int) bool { return i>>p.RowBits == 3 }))},
		{"row-dead", false, seen(held(4, 1, func(i int) bool { return i&127 == 41 }))},
		{"character-generator", true, turned(func(b uint8) uint8 { return b &^ 0x10 })},
		{"character-generator", true, turned(func(b uint8) uint8 { return b | 0x20 })},
		{"shift-register", true, turned(func(b uint8) uint8 { return b>>1&0x08 | b&^0x08 })},
		{"cell-snow", true, restless(func(s *analyse.Survey) {
			at := some(14)
			var code []int
			for range at {
				code = append(code, 0x21+rng.IntN(0x5e))
			}
			flickering(s, at, code, func(k int) []int { return []int{k + 3} }, 2)
		})},
		{"refresh-loss", true, restless(func(s *analyse.Survey) {
			at := some(30)
			var code, where []int
			for _, i := range at {
				if codes[i]>>2&1 == 0 {
					where, code = append(where, i), append(code, codes[i]|4)
				}
			}
			flickering(s, where, code, func(k int) []int {
				var late []int
				for f := 14 + k%6; f < 24; f++ {
					late = append(late, f)
				}
				return late
			}, 2)
		})},
		{"data-bit-weak", true, restless(func(s *analyse.Survey) {
			at := some(30)
			var code []int
			for _, i := range at {
				code = append(code, codes[i]^4)
			}
			flickering(s, at, code, func(k int) []int { return []int{2 + k%3, 9, 15 + k%5} }, 2)
		})},
		{"supply-or-all-lanes", true, restless(func(s *analyse.Survey) {
			var at, code []int
			for i := 0; i < 1000; i += 2 {
				at, code = append(at, i), append(code, codes[i]^(1+rng.IntN(255)))
			}
			flickering(s, at, code, func(k int) []int { return []int{1, 4, 6, 9, 13, 15, 18, 22} }, 8)
		})},
	}
	for k, c := range cases {
		for _, ref := range []*analyse.Survey{nil, good} {
			if ref == nil && !c.free {
				continue
			}
			t.Run(fmt.Sprintf("%d/kind=%s/reference=%v", k, c.kind, ref != nil), func(t *testing.T) {
				v := judge.Classify(c.s, p, judge.Options{Reference: ref})
				if len(v.Faults) == 0 || v.Faults[0].Kind != c.kind || v.Class != patterns.KindOf(c.kind).Class {
					t.Errorf("said %s, %v", v.Class, v.Why)
					for _, f := range v.Faults[:min(len(v.Faults), 4)] {
						t.Errorf("  %s %.2f", f.Kind, f.Probability)
					}
				} else if len(v.Why) == 0 {
					t.Error("no reason given")
				}
			})
		}
	}
	if v := judge.Classify(seen(codes), p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("the good screen: %s, %v", v.Class, v.Why)
	}
}
