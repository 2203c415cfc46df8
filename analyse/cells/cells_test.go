package cells

import (
	"math/bits"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/grid"
	"backporch/video"
	"backporch/video/display"
)

// What was written is what is read, pixel by pixel, for random screens, colours,
// levels and blur. The pictures come from analysetest, which knows nothing of the reader.
func TestPicturesAreRead(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60", "text-40x25-50", "text-40x25-60"} {
		t.Run(name, func(t *testing.T) {
			p := analysetest.Profile(t, name)
			for seed := range uint64(12) {
				rng := rand.New(rand.NewPCG(seed, 11))
				s := analysetest.New(p)
				analysetest.Listing(p, s, 10+rng.IntN(10), rng)
				if seed >= 4 {
					colours(p, s, rng, seed >= 8)
				}
				c := analysetest.Capture{
					Noise: 1 + float64(seed%3), Gain: 0.94 + 0.12*rng.Float64(), Offset: 6*rng.Float64() - 3,
					BlurNs: 30 + 30*rng.Float64(), ChromaBlurNs: 150 + 200*rng.Float64(),
				}
				fields := make([]*video.Field, 8)
				for i := range fields {
					fields[i] = analysetest.Draw(p, s, c, rng)
				}
				stack := analyse.Add(fields)
				reg := grid.Register(stack, p, grid.Options{})
				if !reg.OK {
					t.Errorf("seed %d: not registered: %s", seed, reg.Reason)
					continue
				}
				r := Recover(stack, reg, p)
				want := s.Pixels(p, false)
				wrong, wrongCells, level := 0, map[int]bool{}, 0
				for i := range r.Cells {
					cell := &r.Cells[i]
					for y := range 8 {
						for x := range 8 {
							got := cell.Paper
							if cell.Bits[y]>>(7-x)&1 == 1 {
								got = cell.Ink
							}
							w := int(want[(cell.Row*8+y)*p.Width+cell.Column*8+x])
							if got != w && !(p.Kind == display.Attr && got&7 == 0 && w&7 == 0) {
								wrong++
								wrongCells[i] = true
								if p.Kind == display.Attr && got&7 == w&7 {
									level++
								}
							}
						}
					}
					if cell.Third {
						t.Errorf("seed %d: cell %d,%d said to hold a third colour", seed, cell.Column, cell.Row)
					}
				}
				if wrong > 0 {
					t.Errorf("seed %d: %d pixels wrong in %d cells (%d only in brightness), sigma %.1f, levels %+v, reg %+v; drawn %+v", seed, wrong, len(wrongCells), level, r.Sigma, r.Levels, reg, c)
				}
				if r.Border.Colour != s.Border {
					t.Errorf("seed %d: border %d read as %+v", seed, s.Border, r.Border)
				}
			}
		})
	}
}

// colours gives cells random colours: patches of a few pairs, or (wild) any.
func colours(p *display.Profile, s *analysetest.Screen, rng *rand.Rand, wild bool) {
	if p.Kind == display.Text {
		for i := range s.Colours {
			s.Colours[i] = []byte{3, 2, 12, 0, 15}[i/40*5/25]
		}
		return
	}
	s.Border = rng.IntN(8)
	for i := p.ColourBase; i < len(s.Memory); i++ {
		k := (i - p.ColourBase) / 96
		if wild {
			k = (i - p.ColourBase) / 7
		}
		s.Memory[i] = []byte{0x38, 0x07, 0x47, 0x78, 0x16, 0x0e, 0x4f, 0x30, 0x61, 0x05}[k%10]
	}
}

func BenchmarkRecover(b *testing.B) {
	p := analysetest.Profile(b, "attr-256x192-50")
	rng := rand.New(rand.NewPCG(1, 1))
	s := analysetest.New(p)
	analysetest.Listing(p, s, 20, rng)
	colours(p, s, rng, false)
	stack := analyse.Add([]*video.Field{analysetest.Draw(p, s, analysetest.Capture{Noise: 2}, rng)})
	b.Run("step=register", func(b *testing.B) {
		for b.Loop() {
			grid.Register(stack, p, grid.Options{})
		}
	})
	reg := grid.Register(stack, p, grid.Options{})
	b.Run("step=recover", func(b *testing.B) {
		for b.Loop() {
			Recover(stack, reg, p)
		}
	})
}

// Blocks that are mostly ink, in colours of their own, take nothing from thin strokes elsewhere on a Text display's screen.
func TestHeavyCellsBesideThinOnes(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	s := analysetest.New(p)
	s.Paper, s.Border = 3, 3 // white
	block := byte(0x80)
	s.Font.Glyphs[block] = [8]byte{0xff, 0xff, 0xe7, 0xc3, 0xc3, 0xe7, 0xff, 0xff}
	for i := range s.Colours {
		s.Colours[i] = 14 // light blue
		if row := i / 40; row > 3 && row < 15 {
			s.Memory[i], s.Colours[i] = block, []byte{15, 14, 9, 8, 4, 2, 11, 0}[i%40/5]
		}
	}
	analysetest.Text(p, s, 1, 1, "it is quick: 1l1l1l i|i|i| still")
	analysetest.Text(p, s, 18, 1, "ill lilt, till 11:11")
	rng := rand.New(rand.NewPCG(4, 4))
	var fields []*video.Field
	for range 6 {
		fields = append(fields, analysetest.Draw(p, s, analysetest.Capture{Noise: 1.5, BlurNs: 70}, rng))
	}
	stack := analyse.Add(fields)
	r := Recover(stack, grid.Register(stack, p, grid.Options{}), p)
	wrong := 0
	for i := range r.Cells {
		want := s.Font.Glyph(s.Memory[i])
		for y, b := range r.Cells[i].Bits {
			wrong += bits.OnesCount8(b ^ want[y])
		}
	}
	if wrong > 10 {
		t.Errorf("%d pixels were misread", wrong)
	}
}
