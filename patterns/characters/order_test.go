package characters_test

import (
	"fmt"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
	"backporch/video/display"
)

// capitalsFirst puts the shipped font in the order that begins with the capitals, and a screen's text in its codes.
func capitalsFirst(s *analyse.Survey, codes []int) {
	shipped := display.ShippedFont()
	ascii := func(code int) int { return []int{0x40, 0x20, 0x60, 0x00}[code%128/32] + code%32 + code&128 }
	back := map[int]int{}
	for code := range s.Text.Glyphs {
		s.Text.Glyphs[code] = shipped.Glyph(byte(ascii(code)))
		back[ascii(code)] = code
	}
	for i, code := range codes {
		s.Text.Codes[i] = back[code]
	}
}

func boot(lines ...string) []int {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for row, line := range lines {
		for k := range len(line) {
			codes[80*row+k] = int(line[k])
		}
	}
	return codes
}

// A font may have its codes in another order than ASCII's: a good machine's screen is good in it all the same, in capitals too, and a lane tells as well.
func TestCodesInAnotherOrder(t *testing.T) {
	for _, codes := range [][]int{boot("LEVEL 2 RIVER 6.4", "32K RAM 35259 BYTES FREE", "OK"), screentest.Menu(), screentest.Program(18)} {
		s, p := screentest.Typed(t, codes, screentest.White)
		capitalsFirst(s, codes)
		if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
			t.Errorf("a good screen: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
	for bit := range 3 {
		stuck := make([]int, 1000)
		good := boot("LEVEL 2 RIVER 6.4", "32K RAM 35259 BYTES FREE", "OK")
		for i, code := range good { // the lower five bits are those of ASCII
			stuck[i] = code &^ (1 << bit)
		}
		s, p := screentest.Typed(t, stuck, screentest.White)
		capitalsFirst(s, stuck)
		v := judge.Classify(s, p, judge.Options{})
		if len(v.Faults) == 0 || v.Faults[0].Kind != "data-bit-stuck" || fmt.Sprint(*v.Faults[0].Bit, *v.Faults[0].Level) != fmt.Sprint(bit, 0) {
			t.Errorf("bit %d at 0: said %s, %v, %v", bit, v.Class, v.Why, v.Faults)
		}
	}
}
