package characters

import (
	"testing"

	"backporch/analyse"
)

// Of cells that differ from the reference while the pictures hardly say so nothing is left, unless most that differ do so plainly, all over the screen: a generator that
// draws every character without one column of pixels.
func TestDoubt(t *testing.T) {
	for _, c := range []struct {
		plainly, hardly int
		left            bool
	}{{60, 40, true}, {10, 9, false}, {5, 77, false}, {0, 38, false}} {
		const n = 200
		seen, want, cells := &page{}, &page{}, make([]analyse.Cell, n)
		for i := range n {
			row := uint64(3)
			switch {
			case i < c.plainly:
				row, cells[i].Apart = 1, 20
			case i < c.plainly+c.hardly:
				row, cells[i].Apart = 1, 0.5
			}
			seen.rows, want.rows = append(seen.rows, row), append(want.rows, 3)
			seen.shape, want.shape = append(seen.shape, 65), append(want.shape, 65)
			seen.code, want.code = append(seen.code, 65), append(want.code, 65)
		}
		seen.doubt(cells, want)
		for i := range c.plainly + c.hardly {
			if kept := seen.rows[i] == 1; kept != (c.left || i < c.plainly) {
				t.Errorf("%d plainly, %d hardly: cell %d kept %v", c.plainly, c.hardly, i, kept)
				break
			}
		}
	}
}
