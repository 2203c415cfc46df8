package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// An expectation is what cells like it lead one to expect of a bit: those that agree in all other lanes.
type expectation struct {
	bits, known []uint8 // by address of the bitmap
}

func (x *expectation) note(address, lane, ones, of int) {
	if of < 3 || ones*3 > of && ones*3 < 2*of {
		return
	}
	x.known[address] |= 1 << lane
	if 2*ones > of {
		x.bits[address] |= 1 << lane
	}
}

// expectations are those by all cells that are alike, and by those of them that lie at another row, or another column, of the chip: what is wrong all along one is
// no witness of itself.
type expectations struct{ all, besideRow, besideColumn expectation }

// expect fills in the majority of each cluster of like cells, lane by lane, once.
func (e *evidence) expect() *expectations {
	if e.expected != nil {
		return e.expected
	}
	blank := func() expectation {
		return expectation{make([]uint8, e.p.ColourBase), make([]uint8, e.p.ColourBase)}
	}
	x := &expectations{blank(), blank(), blank()}
	type count struct{ ones, of int }
	for lane := range 8 {
		clusters := map[likeness][]int{}
		for i := range e.s.Cells {
			k, _ := likenessOf(&e.s.Cells[i], lane)
			clusters[k] = append(clusters[k], i)
		}
		for _, cells := range clusters {
			if len(cells) < 4 {
				continue
			}
			for y := range 8 {
				rows, columns, all := map[int]count{}, map[int]count{}, count{of: len(cells)}
				for _, i := range cells {
					bit := int(e.s.Cells[i].Bits[y] >> lane & 1)
					all.ones += bit
					row, column := e.p.ChipAddress(e.p.BitmapAddress(e.s.Cells[i].Row*8+y, e.s.Cells[i].Column))
					rows[row] = count{rows[row].ones + bit, rows[row].of + 1}
					columns[column] = count{columns[column].ones + bit, columns[column].of + 1}
				}
				for _, i := range cells {
					a := e.p.BitmapAddress(e.s.Cells[i].Row*8+y, e.s.Cells[i].Column)
					row, column := e.p.ChipAddress(a)
					x.all.note(a, lane, all.ones, all.of)
					x.besideRow.note(a, lane, all.ones-rows[row].ones, all.of-rows[row].of)
					x.besideColumn.note(a, lane, all.ones-columns[column].ones, all.of-columns[column].of)
				}
			}
		}
	}
	e.expected = x
	return x
}

// breaks are the bits of a cell that break with cells like it, of those compared.
type breaks struct{ wrong, of int }

// deadLines weighs a lane that reads one level at all the addresses of one row, or one column, of its chip.
func (e *evidence) deadLines(good float64, base func(lane int) float64) []patterns.Hypothesis {
	if e.p.Kind != display.Attr || e.s.Memory == nil {
		return nil
	}
	if _, blank := e.blank(); blank {
		return nil
	}
	x := e.expect()

	all := breaks{}
	var rows, columns [8][2]map[int]map[int]breaks // by lane, level: chip row or column: cell
	for lane := range 8 {
		for level := range 2 {
			rows[lane][level], columns[lane][level] = map[int]map[int]breaks{}, map[int]map[int]breaks{}
		}
	}
	shown := map[[8]uint8]int{}
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		shown[c.Bits]++
		if c.Single && e.main != nil && !e.p.Alike(c.Paper, e.main.paper) {
			continue // it may be all ink
		}
		for y := range 8 {
			a := e.p.BitmapAddress(c.Row*8+y, c.Column)
			r, col := e.p.ChipAddress(a)
			for _, m := range [2]struct {
				x  *expectation
				by *[8][2]map[int]map[int]breaks
				k  int
			}{{&x.besideRow, &rows, r}, {&x.besideColumn, &columns, col}} {
				for lane := range 8 {
					if m.x.known[a]>>lane&1 == 0 || !c.Single && e.s.Memory.Odds[a*8+lane] < sureBit {
						continue
					}
					want, seen := int(m.x.bits[a]>>lane&1), int(c.Bits[y]>>lane&1)
					wrong := want ^ seen
					all.wrong += wrong
					all.of++
					lines := m.by[lane][1-want] // the level that would show here
					if lines[m.k] == nil {
						lines[m.k] = map[int]breaks{}
					}
					n := lines[m.k][i]
					lines[m.k][i] = breaks{n.wrong + wrong, n.of + 1}
				}
			}
		}
	}
	// What breaks with its like by itself, of bits; cells count once, for their lines break together.
	usual := math.Max(0.004, float64(all.wrong)/float64(max(1, all.of)))
	// Cells that show the same err alike, a letter that a screen repeats: the second says half of what the first does, the third a third. But what is shown nowhere
	// else is no letter.
	// And a cell beside one that errs says half of what it would by itself: a drawn line's step breaks with its like in both.
	weigh := func(cells map[int]breaks) (odds float64, wrong, of int) {
		alike, here := map[[8]uint8]float64{}, map[[8]uint8]int{}
		for i := range cells {
			here[e.s.Cells[i].Bits]++
		}
		for _, i := range slices.Sorted(maps.Keys(cells)) {
			n := cells[i]
			of++
			switch {
			case n.wrong == n.of:
				wrong++
				alike[e.s.Cells[i].Bits]++
				says := 1.0
				if bits := e.s.Cells[i].Bits; shown[bits] > here[bits] {
					says = 1 / alike[bits]
				}
				if before, ok := cells[i-1]; ok && before.wrong == before.of && i%e.p.Columns() > 0 {
					says = math.Min(says, 0.5)
				}
				odds += math.Log(0.97/usual) * says
			case n.wrong*2 > n.of:
				odds += math.Log(0.02 / usual)
			default:
				odds += math.Log(0.01 / (1 - usual))
			}
		}
		return math.Min(foldLimit, odds) - nats.Scant(wrong), wrong, of
	}
	var out []patterns.Hypothesis
	var odd [2][]oddLine // of rows and of columns, as their hypotheses come
	row, column := patterns.KindOf("row-dead"), patterns.KindOf("column-dead")
	for lane := range 8 {
		gain := base(lane) - good
		// What speaks for the lane speaks for this as far as it is the same bits.
		part := func(wrong int) float64 {
			return good + gain*math.Min(1, float64(wrong)/float64(max(1, e.flips[lane])))
		}
		for level := range 2 {
			colours := e.colourScatter(lane, level)
			atRow := func(r int) func(i int) bool {
				return func(i int) bool { at, _ := e.p.ChipAddress(e.p.ColourBase + i); return at == r }
			}
			for _, r := range colours.among(rows[lane][level], func(i int) int { at, _ := e.p.ChipAddress(e.p.ColourBase + i); return at }) {
				odds, wrong, of := weigh(rows[lane][level][r])
				more, cells := colours.at(atRow(r))
				if odds+more > 0 && wrong+cells > 1 {
					odd[0] = append(odd[0], oddLine{r, len(out), odds + more})
					out = append(out, patterns.Hypothesis{
						Fault: &patterns.Fault{Class: row.Class, Kind: row.Name, Bit: ptr(lane), Level: ptr(level), Row: ptr(r)},
						Prior: math.Log(row.Prior / float64(int(16)<<e.p.RowBits)), Like: part(wrong) + odds + more,
						Why: deadWhy(lane, level, wrong, of, cells, fmt.Sprintf("row %d", r)),
					})
				}
			}
			for r, cells := range columns[lane][level] {
				if odds, wrong, of := weigh(cells); odds > 0 && wrong > 1 {
					odd[1] = append(odd[1], oddLine{r, len(out), odds})
					out = append(out, patterns.Hypothesis{
						Fault: &patterns.Fault{Class: column.Class, Kind: column.Name, Bit: ptr(lane), Level: ptr(level), Column: ptr(r)},
						Prior: math.Log(column.Prior / float64(int(16)<<e.p.ColumnBits)), Like: part(wrong) + odds,
						Why: deadWhy(lane, level, wrong, of, 0, fmt.Sprintf("column %d", r)),
					})
				}
			}
		}
	}
	alone(out, odd[0])
	alone(out, odd[1])
	return out
}

// An oddLine is a row or column of a chip by its number, the hypothesis of it, and the odds of that over the lane's.
type oddLine struct {
	number, at int
	odds       float64
}

// alone takes off each what the oddest of the others has: a drawn grid is as odd in all of its lines, and one that is dead explains no other.
func alone(list []patterns.Hypothesis, odd []oddLine) {
	for _, l := range odd {
		others := 0.0
		for _, k := range odd {
			if k.number != l.number {
				others = math.Max(others, k.odds)
			}
		}
		list[l.at].Like -= math.Min(others, l.odds)
	}
}

func deadWhy(lane, level, wrong, of, colours int, where string) (why []string) {
	if of > 0 {
		why = append(why, fmt.Sprintf("bit %d reads %d in %d of %d cells at %s of its chip, where cells like them have it otherwise", lane, level, wrong, of, where))
	}
	if colours > 0 {
		why = append(why, fmt.Sprintf("bit %d of the colours reads %d in %d cells at %s, among cells like them that have it otherwise", lane, level, colours, where))
	}
	return why
}
