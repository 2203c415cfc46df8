package judge

import (
	"math"

	"backporch/analyse"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// Where on the screen bits change over time: by rows of the chips, as decay goes, or by columns of the raster, as fetches fail.

// changes tells whether a bit shows another value in some field, and the value that it shows mostly.
func (e *evidence) changes(address, lane int) (changed bool, value int) {
	m := e.s.Memory
	return len(m.Changed) > 0 && m.Changed[address*8+lane] > 0, int(m.Bytes[address] >> lane & 1)
}

// byRows weighs, in nats, that a lane's changing bits go by the rows of its chip, all of one row's or none, and to one level, over their lying in
// the bitmap anyhow: what is drawn, and what is well seen, differs from row to row as well.
func (e *evidence) byRows(lane int) float64 {
	m := e.s.Memory
	if m == nil || len(m.Changed) < e.p.ColourBase*8 || e.p.RowBits == 0 {
		return 0
	}
	rows := make([][2]nats.Tally, 1<<e.p.RowBits)
	var all [2]nats.Tally
	for a := range e.p.ColourBase {
		r, _ := e.p.ChipAddress(a)
		changed, value := e.changes(a, lane)
		rows[r][value].Add(changed)
		all[value].Add(changed)
	}
	if all[0].Changed+all[1].Changed < nats.LeastByPlace {
		return 0
	}
	var whole, other [2]float64 // by the level that bits go to
	for level := range 2 {
		from := make([]nats.Tally, len(rows))
		for r := range rows {
			from[r] = rows[r][1-level]
			whole[level] += nats.BetaSequence(from[r].Changed, from[r].Of, wholeRow, wholeRow)
		}
		whole[level] += nats.LogSum(all[level].Rare(), all[level].Any()) - math.Ln2
		other[level] = nats.Anyhow(from, all[1-level])
	}
	there := nats.LogSum(other[0]+other[1], other[0]+all[0].Rare(), other[1]+all[1].Rare()) - math.Log(3)
	if columns, odds := e.byColumns(); odds > nats.SurelyPlaced { // rows of the chips are columns of the raster too
		there = nats.LogSum(there, e.inColumns(lane, columns)) - math.Ln2
	}
	return nats.LogSum(whole[0], whole[1]) - math.Ln2 - there
}

// inColumns is the log-likelihood of a lane's changes where fetches fail in some columns of the raster alone, some row of the chips more often than another.
func (e *evidence) inColumns(lane int, columns string) float64 {
	in := nats.ColumnsNamed(columns)
	var here, there [2]nats.Tally
	rows := make([][2]nats.Tally, 1<<e.p.RowBits)
	for a := range e.p.ColourBase {
		changed, value := e.changes(a, lane)
		if _, c := e.p.BitmapPlace(a); !in(c) {
			there[value].Add(changed)
			continue
		}
		r, _ := e.p.ChipAddress(a)
		rows[r][value].Add(changed)
		here[value].Add(changed)
	}
	like := 0.0
	for value := range 2 {
		from := make([]nats.Tally, 0, len(rows))
		for r := range rows {
			if rows[r][value].Of > 0 {
				from = append(from, rows[r][value])
			}
		}
		like += there[value].Rare() + nats.Anyhow(from, here[value])
	}
	return like
}

// Rows' shares of bits that change have a beta density: of decay nearly all or none, else about their mean as if so many bits of each were
// known. Common practice, no source.
const wholeRow = 0.15

// rowsMoving counts the chip rows in which a quarter or more of the bytes of the bitmap change.
func (e *evidence) rowsMoving() (n int) {
	rows := make([]nats.Tally, 1<<e.p.RowBits)
	for a := range e.p.ColourBase {
		moved := false
		for lane := range 8 {
			changed, _ := e.changes(a, lane)
			moved = moved || changed
		}
		r, _ := e.p.ChipAddress(a)
		rows[r].Add(moved)
	}
	for _, s := range rows {
		if 4*s.Changed >= s.Of {
			n++
		}
	}
	return n
}

// bunched weighs, in nats, that a lane's changing bits are bunched in some columns of cells over their lying in all alike, as a chip's that fails here and there
// do: beside the border a decoder leaves most of the subcarrier, and there it is always the same pixels of a cell.
func (e *evidence) bunched(lane int) (odds float64) {
	m := e.s.Memory
	if m == nil || len(m.Changed) < e.p.ColourBase*8 {
		return 0
	}
	var all [2]nats.Tally // by the bit's value
	columns := [2][]nats.Tally{make([]nats.Tally, e.p.Columns()), make([]nats.Tally, e.p.Columns())}
	for a := range e.p.ColourBase {
		_, c := e.p.BitmapPlace(a)
		changed, value := e.changes(a, lane)
		all[value].Add(changed)
		columns[value][c].Add(changed)
	}
	for v := range all {
		if all[v].Changed > 0 {
			odds += nats.Anyhow(columns[v], all[v]) - nats.BetaSequence(all[v].Changed, all[v].Of, 1, 1)
		}
	}
	return math.Max(0, odds)
}

// A placing is the columns of cells in which bytes change, with what speaks for it.
type placing struct {
	columns string
	odds    float64
}

// byColumns gives the columns of cells in which bytes change, and no others do, where there are such, with what speaks for it in nats
// over their lying anywhere: odd, even, or after some column.
func (e *evidence) byColumns() (columns string, odds float64) {
	if e.placed == nil { // each lane's rows are held against it
		columns, odds = e.findColumns()
		e.placed = &placing{columns, odds}
	}
	return e.placed.columns, e.placed.odds
}

func (e *evidence) findColumns() (columns string, odds float64) {
	m := e.s.Memory
	if m == nil || e.p.Kind != display.Attr || len(m.Changed) < e.p.ColourBase*8 {
		return "", 0
	}
	drawn, all := make([]nats.Tally, e.p.Columns()), make([]nats.Tally, e.p.Columns())
	var empty nats.Tally // bytes of cells of one colour
	for y := range e.p.Height {
		for c := range drawn {
			a := e.p.BitmapAddress(y, c)
			moved := false
			for lane := range 8 {
				changed, _ := e.changes(a, lane)
				moved = moved || changed
			}
			all[c].Add(moved)
			if !e.s.Cells[y/8*len(drawn)+c].Single {
				drawn[c].Add(moved)
			} else {
				empty.Add(moved)
			}
		}
	}
	if float64(empty.Changed) < mostFetches*float64(empty.Of) { // what is read in the place of an empty cell may look the same
		return nats.ColumnsOf(drawn)
	}
	return nats.ColumnsOf(all)
}

// mostFetches is the part of the bytes of empty cells that change where what is fetched in their place shows. Common practice, no source.
const mostFetches = 0.1

// besides is how many events are those of another lane that moves as well, at least a quarter as often: into the lanes next to bit, at a cell's end the next cell's, blur takes
// some of its events, but not half.
func besides(m *analyse.Motion, bit int) int {
	most := 0
	for lane, n := range m.ByLane {
		if beside := (lane-bit+8)%8 == 1 || (bit-lane+8)%8 == 1; lane != bit && (!beside || 2*n >= m.ByLane[bit]) {
			most = max(most, n)
		}
	}
	if 4*most < m.ByLane[bit] {
		return 0
	}
	return most
}

// busiest is the lane that takes most events.
func busiest(m *analyse.Motion) int {
	top := 0
	for lane, n := range m.ByLane {
		if n > m.ByLane[top] {
			top = lane
		}
	}
	return top
}
