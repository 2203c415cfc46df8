package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Misread cells differ in any bits of the code, a weak lane in one: the first must not be taken for the second.
func TestMisreadCellsAreNoLane(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	codes := screentest.Page(rng)
	good, p := screentest.Typed(t, codes, screentest.White)
	for _, weak := range []bool{false, true} {
		seen := append([]int(nil), codes...)
		for k := range 8 {
			i := 41 + k*113
			if seen[i] = rng.IntN(256); weak {
				seen[i] = codes[i] ^ 1<<6
			}
		}
		s, _ := screentest.Typed(t, seen, screentest.White)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if weak && (v.Class != patterns.RAMBit || v.Faults[0].Kind != "data-bit-weak" || *v.Faults[0].Bit != 6) || !weak && v.Class != patterns.Clean {
			t.Errorf("weak %v: said %s, %v, %v", weak, v.Class, v.Why, v.Faults)
		}
		if weak && (len(v.Why) == 0 || len(v.Table) == 0) {
			t.Errorf("a verdict without reason or table: %v %v", v.Why, v.Table)
		}
	}
}

// A colour memory's lane moves every ink that has the bit otherwise, and nothing else.
func TestColourLaneAgainstReference(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(1, 2)))
	inks := []int{3, 1, 15, 7, 13, 11, 5}
	good, p := screentest.Typed(t, codes, func(i int) int { return inks[i/40%len(inks)] })
	for bit := range 3 { // bit 3 would put 7 on 15, the bright hues on dark ones
		s, _ := screentest.Typed(t, codes, func(i int) int { return withBit(inks[i/40%len(inks)], bit, 0) })
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if v.Class != patterns.RAMBit || v.Faults[0].Memory != "colour" || *v.Faults[0].Bit != bit || *v.Faults[0].Level != 0 {
			t.Errorf("bit %d: said %s, %v, %v", bit, v.Class, v.Why, v.Faults)
		}
	}
}

// Codes that follow the chips' rows and columns are woken memory; those that a test puts up in order are not.
func TestWokenCodes(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	woken, ordered := make([]int, 1000), make([]int, 1000)
	for a := range woken {
		ordered[a] = a % 256
		for bit := range 8 {
			v := a >> [8]int{3, 3, 6, 3, 0, 6, 3, 6}[bit] & 1
			if rng.Float64() < 0.05 {
				v ^= 1
			}
			woken[a] |= v << bit
		}
	}
	s, p := screentest.Typed(t, woken, func(i int) int { return 1 + i>>5&1*2 })
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.CPUSide {
		t.Errorf("woken memory: said %s, %v", v.Class, v.Why)
	}
	s, _ = screentest.Typed(t, ordered, screentest.White)
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("all characters in order: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
	screentest.Strange(s, ordered)
	if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.CPUSide {
		t.Errorf("all characters in order, in a strange font: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Lanes that woke alike along two bits of the address, with many cells that woke otherwise, are woken memory in a font that is not known too; the same
// characters in any order are not. So are lanes of which some woke by chance alone, so that any of many characters stands at each address.
func TestWokenInAStrangeFont(t *testing.T) {
	for k := range 4 {
		woken, chance := k%2 == 0, k/2*3 // lanes
		rng := rand.New(rand.NewPCG(9, 4))
		codes := make([]int, 1000)
		for a := range codes {
			for bit, on := range [8]int{4, 6, 4, 4, 6, 4, 6, 4} {
				v := a >> on & 1
				if rate := rng.Float64(); rate < 0.18 || bit < chance && rate < 0.5 {
					v ^= 1
				}
				codes[a] |= v << bit
			}
		}
		if !woken {
			rng.Shuffle(len(codes), func(i, j int) { codes[i], codes[j] = codes[j], codes[i] })
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		if v := judge.Classify(s, p, judge.Options{}); (v.Class == patterns.CPUSide) != woken {
			t.Errorf("woken %v, %d lanes by chance: said %s, %v, %v", woken, chance, v.Class, v.Faults, v.Why)
		}
	}
}

// One code all over the screen is a test's fill, or a lane: no lane may be named. Those that memory tests write are as they should be;
// 0x2A is none of them, and may be a lane's doing.
func TestFilledScreen(t *testing.T) {
	for fill, class := range map[int]patterns.Class{0x00: patterns.Clean, 0x55: patterns.Clean, 0xaa: patterns.Clean, 0xff: patterns.Clean, 0x2a: patterns.Undetermined} {
		codes := make([]int, 1000)
		for i := range codes {
			codes[i] = fill
		}
		s, p := screentest.Typed(t, codes, screentest.White)
		if v := judge.Classify(s, p, judge.Options{}); v.Class != class || len(v.Why) == 0 {
			t.Errorf("0x%02X: said %s, %v, %v", fill, v.Class, v.Why, v.Faults)
		}
	}
}

// withBit holds a bit of a code or nibble at a level.
func withBit(v, bit, level int) int { return v&^(1<<bit) | level<<bit }
