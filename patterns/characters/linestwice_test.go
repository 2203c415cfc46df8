package characters_test

import (
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// A screen on which each line of text stands twice, one below the other, is read with the line counter's bit held; where a line goes on repeating, or is
// repeated across the pairs, it is written so.
func TestLinesOfTextTwice(t *testing.T) {
	put := func(codes []int, row int, line string) {
		for k := range len(line) {
			codes[row*40+3+k] = int(line[k])
		}
	}
	twice := func(at ...int) []int {
		codes := boot()
		for _, row := range at {
			put(codes, row, "COUNT TO PAPER")
			put(codes, row+1, "COUNT TO PAPER")
			put(codes, row+20, "Press a key to choose")
			put(codes, row+21, "Press a key to choose")
		}
		return codes
	}
	for _, strange := range []bool{false, true} {
		codes := twice(2)
		s, p := screentest.Typed(t, codes, screentest.White)
		if strange {
			screentest.Strange(s, codes)
		}
		v := judge.Classify(s, p, judge.Options{})
		if len(v.Faults) == 0 || v.Faults[0].Kind != "line-counter" || *v.Faults[0].CounterBit != 3 {
			t.Errorf("each line twice (strange %v): said %s, %v, %v", strange, v.Class, v.Why, v.Faults)
		}
	}
	for name, codes := range map[string][]int{"across the pairs": twice(1), "on and on": twice(0, 1, 2)} {
		s, p := screentest.Typed(t, codes, screentest.White)
		if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
			t.Errorf("%s: said %s, %v, %v", name, v.Class, v.Why, v.Faults)
		}
	}
}
