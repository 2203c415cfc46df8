package characters_test

import (
	"testing"

	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
)

// Single characters amid others in the colour that a bit makes of theirs, all in one row of the chips, are a row of the colour memory in which the bit is lost. Letters
// that are set off in a menu stand anywhere.
func TestSingleCellsRecoloured(t *testing.T) {
	codes := screentest.Program(24)
	for _, row := range []int{5, 45, 85} {
		s, p := screentest.Typed(t, codes, func(i int) int {
			if i%128 == row {
				return 14 &^ 4
			}
			return 14
		})
		v := judge.Classify(s, p, judge.Options{})
		if len(v.Faults) == 0 || v.Faults[0].Kind != "row-dead" || v.Faults[0].Memory != "colour" || *v.Faults[0].Row != row || *v.Faults[0].Bit != 2 {
			t.Errorf("row %d: said %s, %v, %v", row, v.Class, v.Why, v.Faults)
		}
	}
	s, p := screentest.Typed(t, codes, func(i int) int {
		if i%40 == 6 {
			return 14 &^ 4
		}
		return 14
	})
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean {
		t.Errorf("letters set off in a column: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
