package nats

import "testing"

// Fetches fail in all of the columns that a counter's state names, and in no others (a fault of the sequencer befalls every fetch in that state); one column that moves, as
// where a border runs into it, or a line of all of them, says nothing of that.
func TestColumnsOf(t *testing.T) {
	counts := func(moves func(c int) int) []Tally {
		out := make([]Tally, 32)
		for c := range out {
			out[c] = Tally{Changed: moves(c), Of: 192}
		}
		return out
	}
	for name, c := range map[string]struct {
		count []Tally
		want  string // "": none
	}{
		"odd":                   {counts(func(c int) int { return c & 1 * 5 }), "odd"},
		"even, with some stray": {counts(func(c int) int { return 4 * (1 - c&1) / (1 + c%5/4) * (1 + c%3) }), "even"},
		"after 20":              {counts(func(c int) int { return max(0, c-20) / max(1, c-20) * 6 }), "after 20"},
		"the first alone":       {counts(func(c int) int { return max(0, 1-c) * 60 }), ""},
		"one in each":           {counts(func(c int) int { return 1 + max(0, 1-c)*2 }), ""},
		"anywhere":              {counts(func(c int) int { return c * 7 % 5 }), ""},
	} {
		columns, odds := ColumnsOf(c.count)
		if told := odds > SurelyPlaced; told != (c.want != "") || told && columns != c.want {
			t.Errorf("%s: %q by %.1f nats", name, columns, odds)
		}
	}
}
