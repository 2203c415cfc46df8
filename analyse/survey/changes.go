package survey

import (
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// followed is how many fields changes are looked for in: those of two and a half seconds.
const followed = 128

// A moment is a set of fields, by their index.
type moment [followed / 64]uint64

func (m *moment) add(k int)      { m[k/64] |= 1 << (k % 64) }
func (m *moment) has(k int) bool { return m[k/64]>>(k%64)&1 == 1 }
func (m *moment) count() (n int) {
	for _, w := range m {
		n += bits.OnesCount64(w)
	}
	return n
}

// turns counts how often it goes from one field to the next to the other state.
func (m *moment) turns(fields int) (n int) {
	for k := 1; k < fields; k++ {
		if m.has(k) != m.has(k-1) {
			n++
		}
	}
	return n
}

// changes counts, for every bit of the memory, the fields that show another value
// than the stack, and gives the index in all of the field that differs most. fewer are those of phase in which the
// picture is another as a whole.
//
// A changed bit shows the cell's other colour: its pixel moves by the step between them, and in most fields it
// stands still. Dot crawl moves too, beside every change of hue, but alike at all places of its sort: pixels are
// held against the upper quartile of the variances of those like them, as far as the subcarrier can be the cause.
func changes(s *analyse.Survey, p *display.Profile, phase, fewer, all []*video.Field) int {
	m, stack := s.Memory, s.Stack
	if stack.VarY == nil {
		return 0
	}
	m.Moves = moves(s.Registration, p, stack, phase)
	m.Changed = make([]uint16, len(m.Bytes)*8)
	fields := phase[:min(len(phase), followed)]
	t := newTrack(s, p, fields, fewer)
	s.Motion = &analyse.Motion{Fields: len(fields), ByField: make([]int, len(fields))}
	beat := newRhythm(len(fields))
	odd := make([]int, len(fields))
	sorted := make([]float64, len(fields))
	var away, shift [8][]float64 // from what most fields show, by pixel of a line and field; shift with its sign
	var off [8][]bool            // and whether it is away from the cell's other colour
	for x := range away {
		away[x], shift[x], off[x] = make([]float64, len(fields)), make([]float64, len(fields)), make([]bool, len(fields))
	}
	var flash []bool
	if p.Kind == display.Attr {
		flash = t.flashing(s.Cells)
	}
	for i := range s.Cells {
		c := &s.Cells[i]
		if c.Flash = c.Flash || flash != nil && flash[i]; c.Flash {
			continue // it changes by itself
		}
		step := 48.0
		if !c.Single && p.Kind == display.Attr {
			step = math.Abs(p.Colours[c.Ink].Y-p.Colours[c.Paper].Y) * (s.Levels.White - s.Levels.Black)
		}
		outer := [8]bool{0: t.outermost(c, 0), 7: t.outermost(c, 7)}
		even := p.Kind == display.Attr && amid(s.Cells, i, p)
		var whole moment // Text: fields in which the cell shows something else
		var rows [8]line
		for y := range 8 {
			by := &rows[y].by
			moved, seen, stirs := false, true, false
			var look [8]pending
			for x := range 8 {
				at, ok := t.at(c, x, y)
				if !ok || outer[x] {
					seen = seen && ok
					continue
				}
				sort := t.sorts[t.pixel(c, x, y)]
				threshold := max(t.least, usuals*t.usual[sort], 0.35*step)
				if threshold > hidden*max(step, usualStep) { // the step would not be told from what moves there anyway
					seen = false
					continue
				}
				// A bit that changes in one field of n adds step^2 (n-1)/n^2 to the variance.
				if v := float64(stack.VarY[at]); v < 0.7*threshold*threshold/float64(stack.N) {
					continue
				}
				look[x] = pending{at: at, sort: int(sort), limit: threshold, part: 0.25 * max(step, usualStep), spell: t.spell(at)}
				// Most never leave the usual, which lies among the values, by more than these lie apart.
				stirs = stirs || t.crawl != 0 && t.leaks[sort] != 0 || look[x].spell.span(look[x].part) > threshold
			}
			if rows[y].seen = seen; p.Kind == display.Attr && seen {
				s.Motion.Bytes++
				if even {
					s.Motion.Evens++
				}
			}
			if !stirs {
				continue
			}
			for x := range look {
				if look[x].limit == 0 {
					clear(away[x])
					continue
				}
				t.series(&look[x])
				usual := median(t.luma, sorted)
				other := 0.0
				if !c.Single && p.Kind == display.Attr {
					if other = p.Colours[c.Ink].Y - p.Colours[c.Paper].Y; c.Bits[y]>>(7-x)&1 == 1 {
						other = -other
					}
				}
				for k, v := range t.luma {
					shift[x][k], away[x][k], off[x][k] = v-usual, math.Abs(v-usual), (v-usual)*other < 0
				}
				if slices.ContainsFunc(away[x], func(d float64) bool { return d > look[x].limit }) {
					rows[y].steps[x] = stepped(t.luma, 0.6*max(step, usualStep))
				}
			}
			for k := range fields {
				for x := range 8 {
					// Blur moves the pixels beside one that changes, by less.
					beside := max(away[max(x-1, 0)][k], away[min(x+1, 7)][k])
					// A trap for the subcarrier rings for some pixels about it, by somewhat less.
					rings := 0.0
					for n := 2; n <= 4; n++ {
						rings = max(rings, away[max(x-n, 0)][k], away[min(x+n, 7)][k])
					}
					if d := away[x][k]; d > look[x].limit && !off[x][k] && d > 0.7*max(beside, rings) {
						by[x].add(k)
						odd[k]++
						moved = true
					}
				}
			}
			if !moved {
				continue
			}
			for x := range shift {
				rows[y].shift[x] = slices.Clone(shift[x])
			}
			for x := range by {
				if by[x] != (moment{}) {
					beat.add(t.planes, look[x].at)
				}
				if alternates(&by[x], len(fields)) {
					by[x] = moment{}
				}
				for w := range whole {
					whole[w] |= by[x][w]
				}
			}
		}
		if p.Kind == display.Attr && whole != (moment{}) {
			before := s.Motion.Events
			t.dashes(m, s.Motion, c, &rows)
			recoloured(&rows, s.Motion)
			for y := range rows {
				t.byte(m, s.Motion, p.BitmapAddress(c.Row*8+y, c.Column), &rows[y])
			}
			if even {
				s.Motion.Even += s.Motion.Events - before
			}
		}
		if p.Kind == display.Text {
			s.Motion.Bytes++
			t.cell(m, s.Motion, p.CellAddress(c.Row, c.Column), whole)
		}
	}
	s.Motion.Rhythm, s.Motion.Turns = beat.share()
	worst := 0
	for k := range odd {
		if odd[k] > odd[worst] {
			worst = k
		}
	}
	return max(0, slices.Index(all, fields[worst]))
}

// A pending pixel is one that moves enough to be followed.
type pending struct {
	at, sort    int
	limit, part float64 // how far it must move to have changed, 0 for one that is not followed; see spell.apart
	spell       spell
}

// A line of a cell: for each pixel the fields in which it is another, and whether it changes once by the whole step.
type line struct {
	by    [8]moment
	steps [8]bool
	seen  bool         // all of it can be followed
	shift [8][]float64 // by pixel and field: how much brighter than in most, codes; nil where nothing moves
}

// amid tells whether a cell is of one colour amid eight of the same.
func amid(list []analyse.Cell, i int, p *display.Profile) bool {
	row, column := i/p.Columns(), i%p.Columns()
	if row == 0 || row == p.Rows()-1 || column == 0 || column == p.Columns()-1 {
		return false
	}
	for y := row - 1; y <= row+1; y++ {
		for x := column - 1; x <= column+1; x++ {
			if c := &list[y*p.Columns()+x]; !c.Single || c.Paper != list[i].Paper {
				return false
			}
		}
	}
	return true
}

// stepped tells whether a pixel stands at one level before some field and at another, so far away, from it on.
func stepped(luma []float64, least float64) bool {
	// The place of the greatest difference of means, by running sums.
	total := 0.0
	for _, v := range luma {
		total += v
	}
	n, sum := float64(len(luma)), 0.0
	best, at := 0.0, 0
	for k := 1; k < len(luma); k++ {
		sum += luma[k-1]
		a := float64(k)
		if d := math.Abs(sum/a-(total-sum)/(n-a)) * math.Sqrt(a*(n-a)/n); d > best {
			best, at = d, k
		}
	}
	if at == 0 {
		return false
	}
	a := mean(luma[:at])
	b := mean(luma[at:])
	if math.Abs(a-b) < least {
		return false
	}
	for k, v := range luma {
		if k < at && math.Abs(v-a) > 0.4*math.Abs(a-b) || k >= at && math.Abs(v-b) > 0.4*math.Abs(a-b) {
			return false
		}
	}
	return true
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// recoloured takes out of a cell's lines the fields in which all of it changes as a changed colour byte makes it:
// seven lines or more, in three pixels each or more.
func recoloured(rows *[8]line, motion *analyse.Motion) {
	for k := range motion.Fields {
		lines, pixels := 0, 0
		for y := range rows {
			n := 0
			for x := range 8 {
				if rows[y].by[x].has(k) {
					n++
				}
			}
			if pixels += n; n > 0 {
				lines++
			}
		}
		if lines < 7 || pixels < 24 {
			continue
		}
		motion.Colours++
		for y := range rows {
			for x := range 8 {
				rows[y].by[x][k/64] &^= 1 << (k % 64)
			}
		}
	}
}
