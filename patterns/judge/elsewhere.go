package judge

import (
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// Where border and paper are alike a picture may lie whole cells from where it was taken to lie, most often by a row of them. Cells read the same there, but stand at other
// addresses, so that what goes by the address is asked of each place.

// unlikelyPlace is the probability below which no other place is asked. Common practice, no source.
const unlikelyPlace = 0.01

// byAddress lists the faults that show by where bytes lie, over all places that the picture may have.
func (e *evidence) byAddress(good float64, lane func(int) float64) []patterns.Hypothesis {
	var places []analyse.Shift
	total := 0.0
	if e.p.Kind == display.Attr && e.s.Memory != nil {
		for _, s := range e.s.Registration.Shifts {
			if s.Pixels%8 == 0 && s.Lines%8 == 0 && s.Probability >= unlikelyPlace {
				places = append(places, s)
				total += s.Probability
			}
		}
	}
	if len(places) < 2 {
		return append(e.folds(good, lane), e.deadLines(good, lane)...)
	}
	var out []patterns.Hypothesis
	index := map[string]int{}
	for _, s := range places {
		x := e
		if s.Pixels != 0 || s.Lines != 0 {
			x = e.moved(s)
		}
		for _, h := range append(x.folds(good, lane), x.deadLines(good, lane)...) {
			h.Like += math.Log(s.Probability / total)
			k := identity(h.Fault)
			i, ok := index[k]
			if !ok {
				index[k] = len(out)
				out = append(out, h)
				continue
			}
			if h.Like > out[i].Like {
				out[i].Why = h.Why
			}
			out[i].Like = nats.LogSum(out[i].Like, h.Like)
		}
	}
	return out
}

// moved is the evidence with each cell where it is if the picture lies s aside. Where nothing was read the border's colour stands.
func (e *evidence) moved(s analyse.Shift) *evidence {
	columns, rows := e.p.Columns(), e.p.Rows()
	from := func(row, column int) (int, bool) {
		row, column = row+s.Lines/8, column+s.Pixels/8
		return row*columns + column, row >= 0 && row < rows && column >= 0 && column < columns
	}
	survey, memory := *e.s, *e.s.Memory
	survey.Cells = make([]analyse.Cell, len(e.s.Cells))
	memory.Bytes, memory.Seen = make([]uint8, len(memory.Bytes)), make([]uint8, len(memory.Seen))
	memory.Odds = make([]float32, len(memory.Odds))
	if memory.Changed != nil { // of a still it is not known
		memory.Changed = make([]uint16, len(memory.Changed))
	}
	survey.Memory = &memory
	take := func(to, from int) {
		memory.Bytes[to], memory.Seen[to] = e.s.Memory.Bytes[from], e.s.Memory.Seen[from]
		copy(memory.Odds[to*8:to*8+8], e.s.Memory.Odds[from*8:])
		if memory.Changed != nil {
			copy(memory.Changed[to*8:to*8+8], e.s.Memory.Changed[from*8:])
		}
	}
	for i := range survey.Cells {
		row, column := i/columns, i%columns
		survey.Cells[i] = analyse.Cell{Row: row, Column: column, Paper: max(0, e.s.Border.Colour), Ink: -1, Single: true}
		j, ok := from(row, column)
		if !ok {
			continue
		}
		survey.Cells[i] = e.s.Cells[j]
		survey.Cells[i].Row, survey.Cells[i].Column = row, column
		for y := range 8 {
			take(e.p.BitmapAddress(row*8+y, column), e.p.BitmapAddress(j/columns*8+y, j%columns))
		}
		take(e.p.CellAddress(row, column), e.p.CellAddress(j/columns, j%columns))
	}
	out := gather(&survey, e.p)
	out.leave(e.left)
	return out
}
