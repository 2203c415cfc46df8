package judge_test

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/survey"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/video"
	"backporch/video/display"
)

// What anybody sees beside a good machine's picture, on an ideal chain: memory drawn with the fault put at its addresses.
func TestPlainlySeen(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	reference := look(t, p, screen(p, 3), 1, 1)
	rng := rand.New(rand.NewPCG(9, 9))
	blank := func(s *analysetest.Screen, i int) bool {
		for y := range 8 {
			if s.Memory[p.BitmapAddress(i/p.Columns()*8+y, i%p.Columns())] != 0 {
				return false
			}
		}
		return true
	}
	row := func(of int) func(s *analysetest.Screen) {
		return func(s *analysetest.Screen) {
			for a := range s.Memory {
				if r, _ := p.ChipAddress(a); r == of {
					s.Memory[a] &^= 1 << 5
				}
			}
		}
	}
	for _, c := range []struct {
		name string
		put  func(s *analysetest.Screen)
		swap bool // the capture shows flash's other phase
		want func(f *patterns.Fault) bool
	}{
		{"a weak lane in the papers of blank cells", func(s *analysetest.Screen) {
			for i := range p.Rows() * p.Columns() {
				if blank(s, i) && rng.IntN(16) == 0 {
					s.Memory[p.ColourBase+i] &^= 1 << 3
				}
			}
		}, false, func(f *patterns.Fault) bool { return f.Kind == "data-bit-weak" && *f.Bit == 3 }},
		{"a dead row in the papers of some cells", row(125), false, func(f *patterns.Fault) bool {
			return f.Kind == "row-dead" && *f.Bit == 5 && *f.Row == 125
		}},
		{"all cells flash, drawn as memory has them", func(s *analysetest.Screen) { force(s.Memory, 7, 1) }, false, func(f *patterns.Fault) bool {
			return f.Kind == "data-bit-stuck" && *f.Bit == 7 && *f.Level == 1
		}},
		{"all cells flash, in the other phase", func(s *analysetest.Screen) { force(s.Memory, 7, 1) }, true, func(f *patterns.Fault) bool {
			return f.Kind == "data-bit-stuck" && *f.Bit == 7 && *f.Level == 1
		}},
	} {
		s := screen(p, 3)
		c.put(s)
		v := judge.Classify(shown(t, p, s, c.swap), p, judge.Options{Reference: reference})
		if len(v.Faults) == 0 || v.Class != patterns.RAMBit || !c.want(&v.Faults[0]) {
			t.Errorf("%s: said %s %v, why %v", c.name, v.Class, describe(v, p), v.Why)
		}
	}
}

// A component that is stuck on colours black, which has no brightness to go by: the cells' other colour tells it.
func TestComponentOnBlack(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	draw := func(colour byte, border int) *analysetest.Screen {
		s := screen(p, 4)
		for i := range p.Rows() * p.Columns() {
			s.Memory[p.ColourBase+i] = colour
		}
		for i := range 32 { // both brightnesses, so that levels are no guess
			s.Memory[p.ColourBase+i*24] = colour&^0x40 | 0x38
		}
		s.Border = border
		return s
	}
	reference := look(t, p, draw(0x44, 0), 1, 2) // bright green on black
	seen := look(t, p, draw(0x56, 2), 1, 3)      // with red on: bright yellow on bright red
	v := judge.Classify(seen, p, judge.Options{Reference: reference})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "colour-path" || v.Faults[0].Component != "red" || *v.Faults[0].Level != 1 {
		t.Errorf("said %s %v, why %v", v.Class, describe(v, p), v.Why)
	}
}

// shown is look at a short capture of one phase of flash.
func shown(t *testing.T, p *display.Profile, s *analysetest.Screen, swap bool) *analyse.Survey {
	t.Helper()
	rng := rand.New(rand.NewPCG(8, 3))
	fields := make([]*video.Field, 8)
	for i := range fields {
		fields[i] = analysetest.Draw(p, s, analysetest.Capture{Noise: 1, Swap: swap}, rng)
		fields[i].Frame, fields[i].Parity = i/2, i%2
	}
	out, _, err := survey.Run(fields, video.Info{Kind: video.KindFile, Standard: p.Standard, Rate: p.FieldHz() / 2}, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Fetches that hold the byte of one column from there on show it in all the others, as this capture reads it: what was misread of that column in the reference
// does not count again in each of them.
func TestHeldColumnMisread(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	const column = 12
	whole, held := screen(p, 21), screen(p, 21)
	for y := range p.Height {
		v := held.Memory[p.BitmapAddress(y, column)]
		for c := column + 1; c < p.Columns(); c++ {
			held.Memory[p.BitmapAddress(y, c)] = v
		}
	}
	for row := range p.Rows() {
		v := held.Memory[p.CellAddress(row, column)]
		for c := column + 1; c < p.Columns(); c++ {
			held.Memory[p.CellAddress(row, c)] = v
		}
	}
	reference, seen := look(t, p, whole, 1, 4), look(t, p, held, 1, 5)
	rng := rand.New(rand.NewPCG(4, 4))
	for row := range p.Rows() {
		if c := &reference.Cells[row*p.Columns()+column]; !c.Single {
			for range 24 {
				c.Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
			}
		}
	}
	v := judge.Classify(seen, p, judge.Options{Reference: reference})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != "after 12" {
		t.Errorf("said %s %v, why %v", v.Class, describe(v, p), v.Why)
	}
}
