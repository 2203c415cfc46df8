package judge

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
	"backporch/video/display"
)

// A screen that nothing is known of can still say that it is not as it was written: where memory is read at fewer addresses
// than it has, or the raster fetched at fewer places, two parts of the picture are the same wherever one looks. The
// second part then needs no writing down. What it would have taken to write it (as in wake.go) speaks for the twin, every
// place where the parts differ against it.

// A twin says for a line of a cell, or for its colours (line 8), which other place shows the same; ok is false where
// there is none on the screen.
type twin func(cell, line int) (otherCell, otherLine int, ok bool)

const (
	foldBreaks = 4.6 // nats for a line that differs: one in a hundred is misread
	foldCell   = 12  // and at the most for a cell
	foldLimit  = 30.0
)

// folded weighs a twin of some lanes: ln of its likelihood over that of a screen without.
func (e *evidence) folded(f twin, lanes uint8) (odds float64, same int) {
	e.drawn()
	breaks := 0
	saved, broken := 0.0, 0.0
	single := bits.OnesCount8(lanes) == 1
	different, pairs := map[uint8]bool{}, map[[2]uint8]bool{}
	spoilt := e.spoiltCells()
	for i := range e.s.Cells {
		c := &e.s.Cells[i]
		cell := 0.0
		for y := range 9 {
			k, z, ok := f(i, y)
			if !ok || k > i || k == i && z >= y {
				continue // each pair once
			}
			d := &e.s.Cells[k]
			if spoilt[i] || spoilt[k] {
				continue
			}
			if y == 8 {
				if lanes == 0xff {
					if !e.sameColours(c, d) {
						breaks++
						cell += math.Min(colourViolation, float64(min(c.Sure, d.Sure)))
					} else if e.lines[i][8] > 0.5 {
						saved += e.lines[i][8]
					}
				}
				continue
			}
			a, b := c.Bits[y]&lanes, d.Bits[z]&lanes
			turned := !c.Single && !d.Single && (c.Paper != d.Paper || c.Ink != d.Ink)
			switch {
			case a == b, turned && a == ^b&lanes:
				if !c.Single && a != 0 {
					pairs[[2]uint8{a, uint8(y)}] = true
				}
				part := e.lines[i][y]
				if single {
					if part = math.Min(part, e.information(bits.TrailingZeros8(lanes), a != 0, c.Single)); different[c.Bits[y]] {
						part = 0 // the same letter again
					}
				}
				if part > 0.5 { // what an empty part of the screen costs says nothing
					different[c.Bits[y]] = true
					saved += part
					same++
				}
			default:
				cell += foldBreaks
				breaks++
			}
		}
		broken += math.Min(cell, foldCell)
	}
	if same < fewPlaces || !single && len(pairs) < fewDifferent || single && same < 4*fewPlaces { // one lane is alike by chance sooner than eight
		return -foldLimit, same
	}
	// Or by how often as different lines as these are the same by chance, which strokes that stand upright make them beside each other.
	odds = saved/4 - broken
	if !single {
		odds = math.Max(odds, chance*float64(len(pairs)-2)-broken)
		odds = math.Max(odds, misreadFold(same, breaks)*float64(len(pairs)-2)/float64(same))
	}
	return math.Max(-foldLimit, math.Min(foldLimit, odds)), same
}

// chance is what each different line says that is the same at both places, nats: beside each other every second is.
const chance = math.Ln2

// misreadFold weighs a twin where much is misread: lines that say something are the same as often as misreading leaves them, or every second one, as chance has
// them beside each other. It is the likelihood ratio of two binomials, the first at its own best rate.
func misreadFold(same, breaks int) float64 {
	s, b := float64(same), float64(breaks)+0.5
	if b > s {
		return math.Inf(-1)
	}
	n := s + b
	return s*math.Log(s/n) + b*math.Log(b/n) + n*chance
}

// fewPlaces is how many lines of cells must say something before a twin is believed at all.
const fewPlaces = 8

// fewDifferent is how many different lines those must be: one byte all over the screen is the same wherever one looks.
const fewDifferent = 6

// information is what a bit of a lane says by itself, nats: nothing where the lane is the same all over the screen.
func (e *evidence) information(lane int, set, single bool) float64 {
	if single {
		return 0
	}
	if e.ones == nil {
		e.ones = new([8]float64)
		n := 0.0
		for i := range e.s.Cells {
			if c := &e.s.Cells[i]; !c.Single {
				n += 8
				for _, b := range c.Bits {
					for l := range e.ones {
						e.ones[l] += float64(b >> l & 1)
					}
				}
			}
		}
		for l := range e.ones {
			e.ones[l] = (e.ones[l] + 0.1) / (n + 0.2)
		}
	}
	if p := e.ones[lane]; set {
		return -math.Log(p)
	} else {
		return -math.Log(1 - p)
	}
}

// addressFold pairs each address with the one that differs in a line.
func (e *evidence) addressFold(line int) twin {
	p := e.p
	columns := p.Columns()
	return func(cell, y int) (int, int, bool) {
		row, column := cell/columns, cell%columns
		if y == 8 {
			a := p.CellAddress(row, column) ^ 1<<line
			if a < p.ColourBase || a >= p.Size() {
				return 0, 0, false
			}
			return a - p.ColourBase, 8, true
		}
		a := p.BitmapAddress(row*8+y, column) ^ 1<<line
		if a >= p.ColourBase {
			return 0, 0, false
		}
		line, c := p.BitmapPlace(a)
		return line/8*columns + c, line % 8, true
	}
}

// counterFold pairs each picture line with the one that differs in a bit of its number.
func (e *evidence) counterFold(bit int) twin {
	columns := e.p.Columns()
	return func(cell, y int) (int, int, bool) {
		if y == 8 {
			if bit < 3 {
				return 0, 0, false
			}
			row := cell/columns ^ 1<<(bit-3)
			return row*columns + cell%columns, 8, row < e.p.Rows()
		}
		line := (cell/columns*8 + y) ^ 1<<bit
		return line/8*columns + cell%columns, line % 8, line < e.p.Height
	}
}

// columnFold pairs cells with those of another column.
func (e *evidence) columnFold(other func(column int) (int, bool)) twin {
	columns := e.p.Columns()
	return func(cell, y int) (int, int, bool) {
		c, ok := other(cell % columns)
		return cell/columns*columns + c, y, ok
	}
}

// evenShare is the part of a screen's cells that one pattern has where a test has filled the memory: it is then the same wherever one
// looks, and what differs is misread or wrong by itself.
const evenShare = 0.85

func (e *evidence) even() bool {
	if e.main == nil {
		return false
	}
	var usual [8]uint8
	for rows, n := range e.main.patterns {
		if n > e.main.patterns[usual] || n == e.main.patterns[usual] && slices.Compare(rows[:], usual[:]) < 0 {
			usual = rows
		}
	}
	near := 0
	for rows, n := range e.main.patterns {
		if nearly(rows, usual) {
			near += n
		}
	}
	return usual != [8]uint8{} && float64(near) >= evenShare*float64(len(e.s.Cells))
}

// nearly tells whether two patterns are one but for a line or two that were misread.
func nearly(a, b [8]uint8) bool {
	lines := 0
	for y := range a {
		if a[y] != b[y] {
			lines++
		}
	}
	return lines <= 2
}

// surelyBreaks is by how much a lane must be likelier weak than good, nats, before a side of an address line is told. Common practice, no source.
const surelyBreaks = 3.0

// folds lists what makes two parts of a screen the same.
func (e *evidence) folds(nothing float64, lane func(int) float64) []patterns.Hypothesis {
	if e.p.Kind != display.Attr || e.s.Memory == nil {
		return nil
	}
	if _, blank := e.blank(); blank {
		return nil
	}
	if e.even() {
		return e.stages(nothing)
	}
	var out []patterns.Hypothesis
	add := func(f patterns.Fault, k *patterns.Kind, share, odds float64, why string) {
		f.Class, f.Kind = k.Class, k.Name
		base := nothing
		if len(f.Lanes) == 1 {
			base = lane(f.Lanes[0])
		}
		out = append(out, patterns.Hypothesis{Fault: &f, Prior: math.Log(k.Prior * share), Like: base + odds, Why: []string{why}})
	}
	address := patterns.KindOf("address-line-stuck")
	all := []int{0, 1, 2, 3, 4, 5, 6, 7}
	var whole [24]float64
	lines := e.p.RowBits + e.p.ColumnBits
	sets := float64(lines + min(e.p.RowBits, e.p.ColumnBits))
	var places [24]int
	for line := range lines {
		if 1<<line < e.p.Size() {
			whole[line], places[line] = e.folded(e.addressFold(line), 0xff)
		}
	}
	// A pin folds two lines. What holds for three says nothing for one: the screen repeats itself.
	sorted := slices.Clone(whole[:])
	slices.Sort(sorted)
	usual := math.Max(0, sorted[len(sorted)-3])
	for line := range whole {
		if whole[line] > 0 {
			whole[line] -= usual
		}
	}
	unlike, x := e.unlikeFolds(lines), e.broken()
	oneChip := func(pin []int, folds []chipFold) {
		for _, f := range folds {
			if f.level != nil && lane(f.bit)-nothing < surelyBreaks { // the lane must break more than others do before it is asked where
				continue
			}
			add(patterns.Fault{Lines: pin, Lanes: []int{f.bit}, Level: f.level}, address, 1/(16*sets), f.odds, f.why)
		}
	}
	for line := range lines {
		if 1<<line >= e.p.Size() {
			continue
		}
		if odds, same := whole[line], places[line]; odds > 0 {
			add(patterns.Fault{Lines: []int{line}, Lanes: all}, address, 1/(2*sets), odds,
				fmt.Sprintf("addresses that differ in line %d alone show the same in all %d places where that says something", line, same))
		} else {
			oneChip([]int{line}, e.lineOfOneChip(line, x, unlike))
		}
	}
	for line := range min(e.p.RowBits, e.p.ColumnBits) {
		other := line + e.p.RowBits
		if 1<<other < e.p.Size() {
			oneChip([]int{line, other}, e.pinOfOneChip(line, other, x, unlike))
		}
		if a, b := whole[line], whole[other]; a > 0 && b > 0 {
			add(patterns.Fault{Lines: []int{line, other}, Lanes: all}, address, 1/(2*sets), a+b,
				fmt.Sprintf("addresses that differ in lines %d and %d, which share a pin of the chips, show the same", line, other))
		}
	}
	counter := patterns.KindOf("line-counter")
	var rows [8]float64
	var alike [8]int
	for bit := range rows {
		rows[bit], alike[bit] = e.folded(e.counterFold(bit), 0xff)
	}
	for bit, odds := range rows {
		// A picture of upright bars is the same at any height: what holds for three bits says nothing for one.
		sorted := rows
		slices.Sort(sorted[3:])
		if bit >= 3 {
			odds -= math.Max(0, sorted[5])
		}
		if same := alike[bit]; odds > 0 {
			add(patterns.Fault{CounterBit: &bit}, counter, 1.0/8, odds,
				fmt.Sprintf("picture lines whose numbers differ in bit %d alone show the same in all %d places where that says something", bit, same))
		}
	}
	fetch := patterns.KindOf("cell-fetch")
	last := e.p.Columns() - 1
	if odds, same := e.folded(e.columnFold(func(c int) (int, bool) { return c ^ 1, c^1 <= last }), 0xff); odds > 0 {
		for _, which := range []string{"odd", "even"} {
			add(patterns.Fault{Columns: which}, fetch, 0.25, odds-math.Ln2, fmt.Sprintf("cells stand in pairs: columns next to each other show the same in %d places", same))
		}
	}
	e.idleColumns(add)
	best, at := 0.0, 0
	for n := 1; n < last-1; n++ {
		odds, _ := e.folded(e.columnFold(func(c int) (int, bool) { return c - 1, c > n }), 0xff)
		if odds > best+1 {
			best, at = odds, n
		}
	}
	if best > 0 {
		add(patterns.Fault{Columns: fmt.Sprintf("after %d", at)}, fetch, 0.25/float64(last), best, fmt.Sprintf("all columns after %d show what column %d does", at, at))
	}
	return append(out, e.stages(nothing)...)
}
