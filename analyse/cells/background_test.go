package cells

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/grid"
	"backporch/video"
)

// A Text display's paper stands in every cell of two colours, however much of the screen is another colour all over: blocks of ink, as spaces show that are
// inverted. Where few cells have two colours, or all the same two, what covers more is the paper.
func TestPaperUnderBlocks(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	for _, c := range []struct {
		name  string
		inks  []byte
		paper int
	}{{"of many inks", []byte{2, 4, 5, 6, 8}, 3}, {"of one ink", []byte{0}, 0}} {
		rng := rand.New(rand.NewPCG(7, 7))
		s := analysetest.New(p)
		s.Font.Glyphs = append([][8]uint8(nil), s.Font.Glyphs...)
		for code := range 128 { // the upper half inverts the lower
			g := s.Font.Glyph(byte(code))
			for y := range g {
				g[y] = ^g[y]
			}
			for len(s.Font.Glyphs) < 256 {
				s.Font.Glyphs = append(s.Font.Glyphs, [8]uint8{})
			}
			s.Font.Glyphs[128+code] = g
		}
		s.Paper, s.Border = 3, 14
		for i := range s.Memory {
			s.Memory[i], s.Colours[i] = ' '|0x80, 0
		}
		for k := range 120 {
			at := 100 + 7*k
			s.Memory[at], s.Colours[at] = byte('A'+rng.IntN(26))|0x80, c.inks[k%len(c.inks)]
		}
		var fields []*video.Field
		for range 6 {
			fields = append(fields, analysetest.Draw(p, s, analysetest.Capture{Noise: 1}, rng))
		}
		stack := analyse.Add(fields)
		reg := grid.Register(stack, p, grid.Options{})
		if !reg.OK {
			t.Fatalf("%s: not registered: %s", c.name, reg.Reason)
		}
		wrong := 0
		for _, cell := range Recover(stack, reg, p).Cells {
			if !cell.Single && cell.Paper != c.paper {
				wrong++
			}
		}
		if wrong > 0 {
			t.Errorf("%s: %d cells have another paper than %d", c.name, wrong, c.paper)
		}
	}
}
