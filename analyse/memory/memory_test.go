package memory

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/cells"
	"backporch/analyse/grid"
	"backporch/video"
)

// The bytes that were written are the bytes that are recovered, at their addresses, as far as the
// picture shows them: of bits said to be surer than a thousand to one none is wrong, and of all of them no more than one
// in a thousand; and no bit that it doesn't show is said to be seen. Each pair of colours stands on these
// screens one way round: where ink and paper change places, no picture can tell which byte was written.
func TestMemoryComesBack(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60"} {
		p := analysetest.Profile(t, name)
		for seed := range uint64(6) {
			rng := rand.New(rand.NewPCG(seed, 21))
			s := analysetest.New(p)
			analysetest.Listing(p, s, 12+rng.IntN(10), rng)
			for i := p.ColourBase; i < len(s.Memory); i++ {
				s.Memory[i] = []byte{0x38, 0x0f, 0x78, 0x30}[(i-p.ColourBase)/192]
			}
			var fields []*video.Field
			for range 6 {
				fields = append(fields, analysetest.Draw(p, s, analysetest.Capture{Noise: 1.5}, rng))
			}
			stack := analyse.Add(fields)
			reg := grid.Register(stack, p, grid.Options{})
			if !reg.OK {
				t.Fatalf("%s, seed %d: %s", name, seed, reg.Reason)
			}
			r := cells.Recover(stack, reg, p)
			m := FromCells(p, r, false)
			bits, wrong := 0, 0
			for a, want := range s.Memory {
				for bit := range 8 {
					if m.Seen[a]>>bit&1 == 0 {
						continue
					}
					read, odds := (m.Bytes[a]^want)>>bit&1 == 0, m.Odds[a*8+bit]
					if odds >= 6.9 && !read {
						t.Fatalf("%s, seed %d, address %d: %#02x read as %#02x, bit %d with odds of %.1f", name, seed, a, want, m.Bytes[a], bit, odds)
					}
					bits++
					if !read {
						wrong++
					}
				}
			}
			if wrong*1000 > bits {
				t.Errorf("%s, seed %d: %d of %d bits wrong", name, seed, wrong, bits)
			}
			for i := range r.Cells {
				seen := m.Seen[p.ColourBase+i]
				if seen&0x80 != 0 || r.Cells[i].Single && seen&0x07 != 0 {
					t.Errorf("%s, seed %d, cell %d: flash or a hidden ink said to be seen (%#02x)", name, seed, i, seen)
				}
			}
		}
	}
}
