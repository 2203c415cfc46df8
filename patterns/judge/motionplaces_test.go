package judge

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
)

// drawnScreen is an Attr screen all of whose cells show both colours, with a memory in which nothing changes.
func drawnScreen(t *testing.T, seed uint64) *evidence {
	p := analysetest.Profile(t, "attr-256x192-50")
	rng := rand.New(rand.NewPCG(seed, 3))
	m := &analyse.Memory{Bytes: make([]uint8, p.Size()), Changed: make([]uint16, 8*p.Size())}
	for a := range m.Bytes {
		m.Bytes[a] = uint8(rng.Uint32())
	}
	s := &analyse.Survey{Memory: m}
	for i := range p.Columns() * p.Rows() {
		c := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Paper: 7, Sure: 20}
		for y := range c.Bits {
			c.Bits[y] = m.Bytes[p.BitmapAddress(c.Row*8+y, c.Column)]
		}
		s.Cells = append(s.Cells, c)
	}
	return &evidence{s: s, p: p}
}

// Bits that change in whole rows of their chip and to one level decay; as many that lie anywhere, or that go to either level in those rows, do not.
func TestByRows(t *testing.T) {
	const lane = 3
	for _, c := range []struct {
		name  string
		now   func(row, value int, rng *rand.Rand) bool
		rows  bool
		count int // chip rows of which a quarter changes
	}{
		{"every third row to 0", func(row, value int, _ *rand.Rand) bool { return row%3 == 0 && value == 1 }, true, 43},
		{"all but a few of every third row to 1", func(row, value int, rng *rand.Rand) bool { return row%3 == 0 && value == 0 && rng.IntN(20) > 0 }, true, 43},
		{"every third row to either", func(row, _ int, _ *rand.Rand) bool { return row%3 == 0 }, false, 43},
		{"anywhere to 0", func(_, value int, rng *rand.Rand) bool { return value == 1 && rng.IntN(64) == 0 }, false, 0},
		{"half of eight rows", func(row, _ int, rng *rand.Rand) bool { return row < 8 && rng.IntN(2) == 0 }, false, 8},
		{"too few", func(row, value int, rng *rand.Rand) bool { return row == 5 && value == 1 && rng.IntN(5) == 0 }, false, 0},
	} {
		e, rng := drawnScreen(t, 1), rand.New(rand.NewPCG(9, 9))
		for a := range e.p.ColourBase {
			row, _ := e.p.ChipAddress(a)
			if c.now(row, int(e.s.Memory.Bytes[a]>>lane&1), rng) {
				e.s.Memory.Changed[a*8+lane] = 10
			}
		}
		if odds := e.byRows(lane); (odds > 20) != c.rows || !c.rows && odds > 0 {
			t.Errorf("%s: %.1f nats for rows of the chips", c.name, odds)
		}
		if odds := e.byRows(lane + 1); odds != 0 {
			t.Errorf("%s: %.1f nats in a lane that stands still", c.name, odds)
		}
		if n := e.rowsMoving(); c.name != "too few" && n != c.count {
			t.Errorf("%s: %d rows move, want %d", c.name, n, c.count)
		}
	}
}

// Bytes that change in columns of the raster alone are fetched wrongly; the columns are named. Cells of one colour say nothing, and where all
// others stand in the columns that change nothing is still that could say it.
func TestByColumns(t *testing.T) {
	for _, c := range []struct {
		name    string
		now     func(column int, rng *rand.Rand) bool
		drawn   func(c *analyse.Cell) bool
		columns string // "": none named
	}{
		{"odd", func(k int, rng *rand.Rand) bool { return k%2 == 1 && rng.IntN(3) == 0 }, nil, "odd"},
		{"even", func(k int, rng *rand.Rand) bool { return k%2 == 0 && rng.IntN(3) == 0 }, nil, "even"},
		{"right of one", func(k int, rng *rand.Rand) bool { return k > 20 && rng.IntN(3) == 0 }, nil, "after 20"},
		{"anywhere", func(_ int, rng *rand.Rand) bool { return rng.IntN(6) == 0 }, nil, ""},
		{"odd, and one other", func(k int, rng *rand.Rand) bool { return (k%2 == 1 || k == 10) && rng.IntN(3) == 0 }, nil, "odd"},
		{"odd ones more often", func(k int, rng *rand.Rand) bool { return rng.IntN(3) == 0 && (k%2 == 1 || rng.IntN(2) == 0) }, nil, ""},
		{"cells of one colour among them", func(k int, rng *rand.Rand) bool { return k%2 == 1 && rng.IntN(3) == 0 }, func(c *analyse.Cell) bool { return c.Row%2 == 0 }, "odd"},
		{"next to nothing drawn that is still", func(k int, rng *rand.Rand) bool { return k%2 == 1 && rng.IntN(3) == 0 },
			func(c *analyse.Cell) bool { return c.Column%2 == 1 || c.Row == 3 && c.Column < 8 }, ""},
		{"seldom", func(k int, rng *rand.Rand) bool { return k%2 == 1 && rng.IntN(100) == 0 }, nil, "odd"},
		{"too few", func(k int, rng *rand.Rand) bool { return k%2 == 1 && rng.IntN(500) == 0 }, nil, ""},
	} {
		e, rng := drawnScreen(t, 2), rand.New(rand.NewPCG(7, 9))
		for i := range e.s.Cells {
			cell := &e.s.Cells[i]
			cell.Single = c.drawn != nil && !c.drawn(cell)
			for y := range 8 {
				if c.now(cell.Column, rng) {
					e.s.Memory.Changed[e.p.BitmapAddress(cell.Row*8+y, cell.Column)*8+rng.IntN(8)] = 3
				}
			}
		}
		columns, odds := e.byColumns()
		if c.columns != "" && (columns != c.columns || odds < 10) || c.columns == "" && odds > 0 {
			t.Errorf("%s: %q by %.1f nats", c.name, columns, odds)
		}
	}
}

// Where what is fetched in the place of empty cells shows, these say as much as drawn ones: a screen with next to nothing drawn on it is enough.
func TestByColumnsOfEmptyScreen(t *testing.T) {
	for _, c := range []struct {
		name    string
		now     func(column int, rng *rand.Rand) bool
		columns string
	}{
		{"right of one", func(k int, rng *rand.Rand) bool { return k > 9 && rng.IntN(10) > 0 }, "after 9"},
		{"anywhere", func(_ int, rng *rand.Rand) bool { return rng.IntN(2) == 0 }, ""},
		{"seldom", func(k int, rng *rand.Rand) bool { return k > 9 && rng.IntN(50) == 0 }, ""},
	} {
		e, rng := drawnScreen(t, 2), rand.New(rand.NewPCG(7, 9))
		for i := range e.s.Cells {
			cell := &e.s.Cells[i]
			cell.Single = cell.Row != 3 || cell.Column > 6
			for y := range 8 {
				if c.now(cell.Column, rng) {
					e.s.Memory.Changed[e.p.BitmapAddress(cell.Row*8+y, cell.Column)*8+rng.IntN(8)] = 3
				}
			}
		}
		columns, odds := e.byColumns()
		if c.columns != "" && (columns != c.columns || odds < 10) || c.columns == "" && odds > 0 {
			t.Errorf("%s: %q by %.1f nats", c.name, columns, odds)
		}
		// The chips' rows that lie in these columns are no rows that decay.
		if rows := e.byRows(4); c.columns != "" && rows > 0 {
			t.Errorf("%s: %.1f nats for rows of the chips", c.name, rows)
		}
	}
}

// The same bytes, once in a field of fifty and once in a field of five: the first is snow, the second the supply's doing.
func TestSnowAgainstSupplyByHowOften(t *testing.T) {
	ahead := func(events int) float64 { // of snow
		rate := float64(events) / 6144 // no more move once than where all bytes are hit alike
		once := min(600, int(1200*rate*math.Exp(-rate)/-math.Expm1(-rate)))
		m := &analyse.Motion{Fields: 50, Bytes: 6144, Moving: 1200, Events: events, Once: once, Bursts: 300, Swings: 1200, Chance: 1000, Flips: 1000}
		for lane := range m.ByLane {
			m.ByLane[lane] = 4 * events / 8
		}
		e := &evidence{s: &analyse.Survey{Motion: m}, p: analysetest.Profile(t, "attr-256x192-50")}
		snow, _ := e.snowing()
		supply, _ := e.allMoving(false)
		return snow - supply
	}
	// 1200 bytes: one field of fifty or ten of them are 5.41 nats for one and against the other, less what half an event more is.
	if d := ahead(1200) - ahead(12000); d < 10 || d > 12 {
		t.Errorf("often rather than seldom counts %.2f nats against snow", d)
	}
}

// A lane that fails in whole fields makes two pictures, and so many events in all lanes; that is no failing supply.
func TestTwoPicturesAreNoSupply(t *testing.T) {
	e := drawnScreen(t, 4)
	e.s.Motion = &analyse.Motion{Fields: 80, Bytes: 5568, Moving: 5097, Events: 90000, Lanes: [9]int{0, 10000, 20000, 20000, 20000, 20000}, ByLane: [8]int{9000, 9000, 9000, 9000, 9000, 30000, 9000, 9000}, Swings: 60000, Flips: 100, Chance: 99}
	if odds, _ := e.allMoving(false); odds < 20 {
		t.Fatalf("%.1f nats for the supply where bytes change by themselves", odds)
	}
	e.s.Other = &analyse.State{Fields: 40}
	if odds, _ := e.allMoving(true); odds > 0 {
		t.Errorf("%.1f nats for the supply where the picture goes back and forth", odds)
	}
}

// What moves on the good machine's capture of the screen too, where the subcarrier and the codec find as much to move, speaks for no weak lane; three times as many fields of
// it have three times as many events.
func TestMovingBesideGood(t *testing.T) {
	e := drawnScreen(t, 4)
	e.s.Motion = &analyse.Motion{Fields: 48, Bytes: 4807, Moving: 185, Events: 528, Once: 20, Lanes: [9]int{0, 497, 31}, ByLane: [8]int{2, 8, 4, 490, 7, 4, 5, 8}, Swings: 258, Flips: 290, Chance: 300}
	if alone := e.laneMoving(3); alone < 100 {
		t.Fatalf("%.1f nats for the lane with nothing beside it", alone)
	}
	good := *e.s.Motion
	e.good = &good
	if beside := e.laneMoving(3); beside > 5 {
		t.Errorf("%.1f nats for the lane where the good machine's moves as well", beside)
	}
	good.Fields, good.ByLane = 16, [8]int{1, 3, 1, 163, 2, 1, 2, 3}
	if beside := e.laneMoving(3); beside > 5 {
		t.Errorf("%.1f nats beside a third of the fields with a third of the events", beside)
	}
	good.ByLane = [8]int{1, 3, 1, 2, 2, 1, 2, 3}
	if beside := e.laneMoving(3); beside < 100 {
		t.Errorf("%.1f nats for the lane where the good machine's stands still", beside)
	}
}

// A lane's changes that lie all over the screen are not bunched; those beside the border are, by more than a hundred nats.
func TestBunched(t *testing.T) {
	e := drawnScreen(t, 4)
	random := rand.New(rand.NewPCG(2, 3))
	for name, c := range map[string]struct {
		moves    func(column int) bool
		from, to float64
	}{
		"all over":          {func(int) bool { return random.IntN(30) == 0 }, 0, 8},
		"beside the border": {func(column int) bool { return column == e.p.Columns()-1 }, 100, 1e4},
	} {
		e.s.Memory.Changed = make([]uint16, len(e.s.Memory.Bytes)*8)
		for a := range e.p.ColourBase {
			if _, column := e.p.BitmapPlace(a); c.moves(column) {
				e.s.Memory.Changed[a*8+1] = 3
			}
		}
		if got := e.bunched(1); got < c.from || got > c.to {
			t.Errorf("%s: %.1f nats", name, got)
		}
		if got := e.bunched(2); got != 0 {
			t.Errorf("%s: %.1f nats for a lane that stands still", name, got)
		}
	}
}
