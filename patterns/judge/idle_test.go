package judge_test

import (
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
	"backporch/patterns/judge"
)

// A fetch that finds the bus idle in every second column is named, with a reference and without; a shift register's stage that sticks is told from a
// stuck lane by the colours, which hold.
func TestFetchAndTap(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	draw := func(change func(line, column int, bitmap, colour *byte)) *analyse.Survey {
		s := screen(p, 7)
		for line := range p.Height {
			for column := range p.Columns() {
				change(line, column, &s.Memory[p.BitmapAddress(line, column)], &s.Memory[p.CellAddress(line/8, column)])
			}
		}
		return look(t, p, s, 2, 5)
	}
	good := look(t, p, screen(p, 7), 1, 1)
	for _, test := range []struct {
		name, kind string
		change     func(line, column int, bitmap, colour *byte)
	}{
		{"idle", "cell-fetch", func(_, column int, bitmap, colour *byte) {
			if column%2 == 1 {
				*bitmap, *colour = 0, 0x28
			}
		}},
		{"stage stuck", "shift-register", func(_, _ int, bitmap, _ *byte) { *bitmap |= 0x02 }},
	} {
		for _, reference := range []*analyse.Survey{nil, good} {
			v := judge.Classify(draw(test.change), p, judge.Options{Reference: reference})
			if len(v.Faults) == 0 || v.Faults[0].Kind != test.kind || v.Class != patterns.VideoLogic {
				t.Errorf("%s, reference %v: %s %v", test.name, reference != nil, v.Class, describe(v, p))
			}
		}
	}
}
