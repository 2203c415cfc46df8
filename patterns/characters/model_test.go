package characters

import (
	"math/rand/v2"
	"testing"
)

// All codes in order with holes are written as easily as they can be: only where the holes are takes writing down, and a
// character with a wrong bit stands out.
func TestScribeReadsARowOfCodesWithHoles(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	symbols := make([]int, 1000)
	for i := range symbols {
		if symbols[i] = i & 0xff; r.IntN(2) == 0 {
			symbols[i] = ' '
		}
	}
	const wrongAt = 900
	symbols[wrongAt] = wrongAt&0xff ^ 0x10
	late := 0.0
	font := &glyphs{order: &order{}}
	for k := range font.rows {
		font.rows[k], font.means[k], font.stands[k] = uint64(k), k, k
	}
	font.index()
	costs := written(symbols, 40, font, nil)
	for i := 500; i < 800; i++ {
		late += costs[i]
	}
	if late < -60 {
		t.Errorf("300 cells of a row of codes with holes cost %.1f nats", -late)
	}
	if costs[wrongAt] > -3 {
		t.Errorf("a wrong code among them costs %.2f nats", -costs[wrongAt])
	}
}

// A row of codes goes on past a cell or two that were not read.
func TestScribeKeepsCounting(t *testing.T) {
	s := newScribe(40, nil)
	for c := range 20 {
		s.write(100 + c)
	}
	s.skip()
	sure := s.p(121)
	s.write(7) // misread
	if after := s.p(122); sure < 0.3 || after < 0.2 {
		t.Errorf("behind a gap %.2f, behind a misread one %.2f", sure, after)
	}
}
