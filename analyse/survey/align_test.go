package survey

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video/display"
)

// surveyedListing is the survey of lines of words.
func surveyedListing(t *testing.T, p *display.Profile, seed uint64) *analyse.Survey {
	s := analysetest.New(p)
	analysetest.Listing(p, s, 16, rand.New(rand.NewPCG(seed, 2)))
	return surveyed(t, p, drawn(p, s, 4, analysetest.Capture{Noise: 1}))
}

// A capture whose place is in doubt is laid over its reference, and one that shows another
// screen stays where it is.
func TestAlign(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	reference, seen := surveyedListing(t, p, 1), surveyedListing(t, p, 1)
	v := &view{p: p}
	move(seen, analyse.Shift{Pixels: 2, Lines: 8})
	v.read(seen)
	seen.Registration.Shifts = []analyse.Shift{{Probability: 0.6}, {Pixels: -2, Lines: -8, Probability: 0.3}, {Pixels: 1, Probability: 0.1}}
	if here, there := align(seen, reference, p, false); here.Pixels != -2 || here.Lines != -8 || there != (analyse.Shift{}) {
		t.Errorf("moved by %+v and %+v, want the capture back by 2 pixels and 8 lines", here, there)
	}
	other := surveyedListing(t, p, 9)
	for i := range other.Cells { // nothing of the reference's is left
		for y := range other.Cells[i].Bits {
			other.Cells[i].Bits[y], other.Cells[i].Ink, other.Cells[i].Paper = 0x5a, 2, 4
		}
	}
	other.Registration.Shifts = seen.Registration.Shifts
	if here, there := align(other, reference, p, false); here != (analyse.Shift{}) || there != (analyse.Shift{}) {
		t.Errorf("another screen was moved by %+v and %+v", here, there)
	}
}

// Without colours cells are read in greys, none of them the reference's, but their outlines tell by how much a capture lies aside; the same
// colours in a capture that has its chroma are another screen.
func TestAlignByOutlines(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, c := range []struct {
		name       string
		seed       uint64
		dead, back bool
	}{{"without colours", 1, true, true}, {"with other colours", 1, false, false}, {"another screen without colours", 9, true, false}} {
		reference, seen := surveyedListing(t, p, 1), surveyedListing(t, p, c.seed)
		v := &view{p: p}
		move(seen, analyse.Shift{Pixels: 2, Lines: 8})
		v.read(seen)
		for i := range seen.Cells {
			seen.Cells[i].Paper = 5
			if !seen.Cells[i].Single {
				seen.Cells[i].Ink = 1
			}
		}
		seen.Signal.ChromaDead = c.dead
		seen.Registration.Shifts = []analyse.Shift{{Probability: 0.6}, {Pixels: -2, Lines: -8, Probability: 0.3}, {Pixels: 1, Probability: 0.1}}
		want := analyse.Shift{}
		if c.back {
			want = analyse.Shift{Pixels: -2, Lines: -8}
		}
		if here, there := align(seen, reference, p, false); here != want || there != (analyse.Shift{}) {
			t.Errorf("%s: moved by %+v and %+v, want %+v", c.name, here, there, want)
		}
	}
}

// Outlines are where a pixel differs from the one to its left; none run along the left edge.
func TestOutlines(t *testing.T) {
	got := outlines([]uint8{7, 7, 0, 0, 0, 7, 7, 7, 1, 2, 2, 3}, 4)
	for i, want := range []uint8{0, 0, 1, 0, 0, 1, 0, 0, 0, 1, 0, 1} {
		if got[i] != want {
			t.Errorf("pixel %d: %d, want %d", i, got[i], want)
		}
	}
	if n := sum(got); n != 4 {
		t.Errorf("%d outlines, want 4", n)
	}
}

// A survey laid elsewhere keeps what flashes: of a new cell as the old one had it that most of it covered, and only where that was seen.
func TestKeepFlash(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	blank := func(p *display.Profile) *analyse.Survey {
		s := &analyse.Survey{Memory: &analyse.Memory{Bytes: make([]uint8, p.Size()), Seen: make([]uint8, p.Size())}}
		for i := range p.Columns() * p.Rows() {
			s.Cells = append(s.Cells, analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns()})
		}
		return s
	}
	for _, c := range []struct {
		moved       analyse.Shift
		row, column int // where the cell is then that flashed in row 10, column 20
	}{
		{analyse.Shift{}, 10, 20},
		{analyse.Shift{Pixels: 3, Lines: -3}, 10, 20},
		{analyse.Shift{Pixels: 5}, 10, 19},
		{analyse.Shift{Pixels: -8}, 10, 21},
		{analyse.Shift{Pixels: -13, Lines: 16}, 8, 22},
		{analyse.Shift{Lines: -6}, 11, 20},
	} {
		from, to := blank(p), blank(p)
		at, now := 10*p.Columns()+20, c.row*p.Columns()+c.column
		from.Cells[at].Flash = true
		from.Memory.Seen[p.CellAddress(10, 20)] = 0x80
		keepFlash(to, from, p, c.moved)
		for i := range to.Cells {
			a := p.CellAddress(to.Cells[i].Row, to.Cells[i].Column)
			if is := i == now; to.Cells[i].Flash != is || (to.Memory.Bytes[a] == 0x80) != is || (to.Memory.Seen[a] == 0x80) != is {
				t.Errorf("moved by %+v: cell %d,%d flashes %v, memory %02x of which %02x seen", c.moved, to.Cells[i].Column, to.Cells[i].Row, to.Cells[i].Flash, to.Memory.Bytes[a], to.Memory.Seen[a])
			}
		}
	}
	from, to := blank(p), blank(p)
	from.Cells[0].Flash, from.Memory.Seen[p.CellAddress(0, 0)] = true, 0x80
	from.Memory = nil
	if keepFlash(to, from, p, analyse.Shift{}); to.Cells[0].Flash {
		t.Error("flash was taken from a survey without a memory")
	}
}
