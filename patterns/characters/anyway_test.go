package characters

import "testing"

// A chart of 256 characters, over and over, repeats beyond any address line; a listing of which line 8 is held (both blocks of a pair are one cell: fault AF3 of march
// tests, van de Goor, Testing Semiconductor Memories, 1991, from memory) does not.
func TestRepeatsAnyway(t *testing.T) {
	const line = 8
	from := func(i int) int { return i &^ (1 << line) }
	draw := func(code func(i int) int) *page {
		p := &page{columns: 40}
		for i := range 1000 {
			p.shape, p.blank = append(p.shape, code(i)), append(p.blank, code(i) == 32)
		}
		return p
	}
	chart := draw(func(i int) int { return i % 256 })
	held := draw(func(i int) int { return from(i) * 7919 % 251 % 97 })
	for name, c := range map[string]struct {
		p    *page
		want bool
	}{"chart": {chart, true}, "held line": {held, false}} {
		if got := c.p.repeatsAnyway(from); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
	if !chart.repeatsAnyway(func(i int) int { return i | 1<<line }) {
		t.Error("chart, held at 1")
	}
}
