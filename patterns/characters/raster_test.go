package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// What comes a cell late from a column on shows one column twice, with and without a reference; a column that a writer has twice in some rows alone does not.
func TestFetchesThatComeLate(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(5, 1)))
	good, p := screentest.Typed(t, codes, screentest.White)
	for _, all := range []bool{true, false} {
		seen := append([]int(nil), codes...)
		for i := range seen {
			if i%40 > 17 && (all || i/40%2 == 0) {
				seen[i] = codes[i-1]
			}
		}
		s, _ := screentest.Typed(t, seen, screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		if told := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "cell-fetch" && v.Faults[0].Columns == "after 17"; told != all {
			t.Errorf("in all rows %v: said %s, %v, %v", all, v.Class, v.Faults, v.Why)
		}
		if !all {
			continue
		}
		if v = judge.Classify(s, p, judge.Options{Reference: good}); v.Class != patterns.VideoLogic || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != "after 17" {
			t.Errorf("beside a reference: said %s, %v, %v", v.Class, v.Faults, v.Why)
		}
	}
}

// Every second column shows one character, what floats on the bus, and writing stands between; a frame of two such columns, or a screen filled with the
// character, is no fault.
func TestColumnsThatFloat(t *testing.T) {
	const bus = 0x2a
	codes := screentest.Page(rand.New(rand.NewPCG(5, 1)))
	for name, in := range map[string]func(i int) bool{
		"every second column": func(i int) bool { return i%2 == 1 }, "a frame": func(i int) bool { return i%40 == 0 || i%40 == 39 }, "all": func(int) bool { return true },
	} {
		seen := append([]int(nil), codes...)
		for i := range seen {
			if in(i) {
				seen[i] = bus
			}
		}
		s, p := screentest.Typed(t, seen, screentest.White)
		v := judge.Classify(s, p, judge.Options{})
		if told := v.Class == patterns.VideoLogic && v.Faults[0].Kind == "cell-fetch" && v.Faults[0].Columns == "odd"; told != (name == "every second column") {
			t.Errorf("%s: said %s, %v, %v", name, v.Class, v.Faults, v.Why)
		}
	}
}
