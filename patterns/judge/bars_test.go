package judge

import (
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// Bars go from white down, or up from black, in the order of ITU-R BT.471: white, yellow, cyan, green, magenta, red, blue, black. What a fault leaves of that order tells it.
func TestBars(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	order := []int{7, 6, 5, 4, 3, 2, 1, 0}
	draw := func(width, column int, colour func(k int) int) *evidence {
		s := &analyse.Survey{}
		for i := range p.Columns() * p.Rows() {
			c := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Ink: -1, Single: true, Sure: 20}
			if k := c.Column - column; c.Row > 3 && c.Row < 8 && k >= 0 && k < 8*width {
				c.Paper = colour(k / width)
			}
			s.Cells = append(s.Cells, c)
		}
		return gather(s, p)
	}
	hues := []change{nothing{}, lane{1, 1}, lane{6, 0}} // what leaves a paper's hue
	for name, c := range map[string]struct {
		e    *evidence
		told []change
	}{
		"good":               {draw(4, 0, func(k int) int { return order[k] }), hues},
		"bright, up, narrow": {draw(2, 5, func(k int) int { return 7 - order[k] | 8 }), hues},
		"without green":      {draw(3, 2, func(k int) int { return order[k] &^ 4 }), []change{component{2, 0}, lane{5, 0}}},
		"always red":         {draw(4, 0, func(k int) int { return order[k] | 2 }), []change{component{1, 1}, lane{4, 1}}},
		"in no order":        {draw(4, 0, func(k int) int { return order[k*3%8] }), nil},
		"an empty screen":    {draw(4, 0, func(int) int { return 3 }), nil},
	} {
		all := slices.Clone(hues)
		for bit := range 3 {
			for level := range 2 {
				all = append(all, component{bit, level}, lane{bit + 3, level})
			}
		}
		for _, k := range all {
			want := slices.Contains(c.told, k)
			if got := c.e.showsBars(k); got != want {
				t.Errorf("%s: %#v: %v", name, k, got)
			}
		}
	}
}
