package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Cells of one column of the chips that are read with a bit of their codes at 0 are a dead column where the two pictures say that they are others than the good
// machine's, and nothing wrong where they don't.
func TestPicturesSayWhatDiffers(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(7, 3)))
	good, p := screentest.Typed(t, codes, screentest.White)
	const bit, column = 2, 1
	seen := append([]int(nil), codes...)
	for i := range seen {
		if i>>p.RowBits == column {
			seen[i] &^= 1 << bit
		}
	}
	for _, c := range []struct {
		apart float32
		class patterns.Class
	}{{0.5, patterns.Clean}, {60, patterns.RAMBit}} {
		s, _ := screentest.Typed(t, seen, screentest.White)
		n := 0
		for i := range s.Cells {
			if seen[i] != codes[i] {
				s.Cells[i].Apart = c.apart
				n++
			}
		}
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if n < 10 || v.Class != c.class || c.class != patterns.Clean && (v.Faults[0].Kind != "column-dead" || *v.Faults[0].Column != column || *v.Faults[0].Bit != bit) {
			t.Errorf("%d cells apart by %.1f nats: said %s, %v, %v", n, c.apart, v.Class, v.Why, v.Faults)
		}
	}
}

// Which of two colours was taken for the ink of most characters differs between two captures of one screen: it is the reference's that holds for both.
func TestTurnedAsTheReference(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(7, 4)))
	good, p := screentest.Typed(t, codes, screentest.White)
	s, _ := screentest.Typed(t, codes, screentest.White)
	for i := range good.Text.Inverse {
		good.Text.Inverse[i] = true
	}
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.Clean {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
