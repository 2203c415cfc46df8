package characters_test

import (
	"testing"

	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Colours fetched a cell aside show beside a reference though what stands beside a letter's strokes is blank there, so that its ink is not known: a screen is
// cleared with one (common practice, no source), and each stroke's first cell shows that.
func TestColoursAsideOfBlanks(t *testing.T) {
	codes, colours := boot("", "", "", "", "", "", "PRESS A KEY TO START"), make([]int, 1000)
	for i := range colours {
		colours[i] = 13
	}
	for letter, ink := range []int{14, 2, 9} { // of drawn strokes
		for row := 2; row < 9; row++ {
			for k, c := range []int{0, 3, 4} {
				if i := row*40 + 4 + 9*letter + c; k == 0 || row == 5 {
					codes[i], colours[i] = 0xff, ink
				}
			}
		}
	}
	good, p := screentest.Typed(t, codes, func(i int) int { return colours[i] })
	s, _ := screentest.Typed(t, codes, func(i int) int { return colours[max(0, i-1)] })
	v := judge.Classify(s, p, judge.Options{Reference: good})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != "colour-shift" {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
