package patterns

import (
	"math"

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
	rows := make([][2]tallied, 1<<e.p.RowBits)
	var all [2]tallied
	for a := range e.p.ColourBase {
		r, _ := e.p.ChipAddress(a)
		changed, value := e.changes(a, lane)
		rows[r][value].add(changed)
		all[value].add(changed)
	}
	if all[0].changed+all[1].changed < leastByPlace {
		return 0
	}
	var whole, other [2]float64 // by the level that bits go to
	for level := range 2 {
		from := make([]tallied, len(rows))
		for r := range rows {
			from[r] = rows[r][1-level]
			whole[level] += betaSequence(from[r].changed, from[r].of, wholeRow, wholeRow)
		}
		whole[level] += logSum(all[level].rare(), all[level].any()) - math.Ln2
		other[level] = anyhow(from, all[1-level])
	}
	there := logSum(other[0]+other[1], other[0]+all[0].rare(), other[1]+all[1].rare()) - math.Log(3)
	if columns, odds := e.byColumns(); odds > surelyPlaced { // rows of the chips are columns of the raster too
		there = logSum(there, e.inColumns(lane, columns)) - math.Ln2
	}
	return logSum(whole[0], whole[1]) - math.Ln2 - there
}

// inColumns is the log-likelihood of a lane's changes where fetches fail in some columns of the raster alone, some row of the chips more often than another.
func (e *evidence) inColumns(lane int, columns string) float64 {
	in := columnsNamed(columns)
	var here, there [2]tallied
	rows := make([][2]tallied, 1<<e.p.RowBits)
	for a := range e.p.ColourBase {
		changed, value := e.changes(a, lane)
		if _, c := e.p.BitmapPlace(a); !in(c) {
			there[value].add(changed)
			continue
		}
		r, _ := e.p.ChipAddress(a)
		rows[r][value].add(changed)
		here[value].add(changed)
	}
	like := 0.0
	for value := range 2 {
		from := make([]tallied, 0, len(rows))
		for r := range rows {
			if rows[r][value].of > 0 {
				from = append(from, rows[r][value])
			}
		}
		like += there[value].rare() + anyhow(from, here[value])
	}
	return like
}

// Rows' shares of bits that change have a beta density: of decay nearly all or none, else about their mean as if so many bits of each were
// known. Common practice, no source.
const wholeRow = 0.15

// rowsMoving counts the chip rows in which a quarter or more of the bytes of the bitmap change.
func (e *evidence) rowsMoving() (n int) {
	rows := make([]tallied, 1<<e.p.RowBits)
	for a := range e.p.ColourBase {
		moved := false
		for lane := range 8 {
			changed, _ := e.changes(a, lane)
			moved = moved || changed
		}
		r, _ := e.p.ChipAddress(a)
		rows[r].add(moved)
	}
	for _, s := range rows {
		if 4*s.changed >= s.of {
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
	var all [2]tallied // by the bit's value
	columns := [2][]tallied{make([]tallied, e.p.Columns()), make([]tallied, e.p.Columns())}
	for a := range e.p.ColourBase {
		_, c := e.p.BitmapPlace(a)
		changed, value := e.changes(a, lane)
		all[value].add(changed)
		columns[value][c].add(changed)
	}
	for v := range all {
		if all[v].changed > 0 {
			odds += anyhow(columns[v], all[v]) - betaSequence(all[v].changed, all[v].of, 1, 1)
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
	drawn, all := make([]tallied, e.p.Columns()), make([]tallied, e.p.Columns())
	var empty tallied // bytes of cells of one colour
	for y := range e.p.Height {
		for c := range drawn {
			a := e.p.BitmapAddress(y, c)
			moved := false
			for lane := range 8 {
				changed, _ := e.changes(a, lane)
				moved = moved || changed
			}
			all[c].add(moved)
			if !e.s.Cells[y/8*len(drawn)+c].Single {
				drawn[c].add(moved)
			} else {
				empty.add(moved)
			}
		}
	}
	if float64(empty.changed) < mostFetches*float64(empty.of) { // what is read in the place of an empty cell may look the same
		return columnsOf(drawn)
	}
	return columnsOf(all)
}

// mostFetches is the part of the bytes of empty cells that change where what is fetched in their place shows. Common practice, no source.
const mostFetches = 0.1
