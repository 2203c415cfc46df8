package characters

import (
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// Fetches that fail by column: what comes a cell late from some column on, so that one column stands twice and the last one is lost, and
// columns that show what floats on the bus.

// lateFolds lists the fetches that come a cell late from a column on.
func lateFolds(p *display.Profile) []fold {
	columns := p.Columns()
	var out []fold
	for n := 1; n < columns-1; n++ {
		out = append(out, fold{
			fault: patterns.Fault{Kind: "cell-fetch", Columns: fmt.Sprintf("after %d", n)}, share: afterShare(columns), lanes: allLanes, screen: true, colour: true,
			from: func(i int) int {
				if i%columns > n {
					return i - 1
				}
				return i
			},
		})
	}
	return out
}

// afterShare is how many of the fetches that fail do so from one column on, by each of the two ways in which they may: the one byte
// shows from there on, or each byte a cell late. Common practice, no source.
func afterShare(columns int) float64 { return 0.125 / float64(columns-2) }

// again tells which written cells show what the next one in their row does, beside those that do not.
func (p *page) again(i int) (same, differs bool) {
	a, b := p.shape[i], p.shape[i+1]
	switch {
	case a < 0 || b < 0 || p.blank[i] && p.blank[i+1]:
		return false, false
	case a != b && bits.OnesCount64(p.rows[i]^p.rows[i+1]) > mistakenFor, p.ink[i] >= 0 && p.ink[i+1] >= 0 && p.ink[i] != p.ink[i+1]:
		return false, true
	}
	return true, false
}

// lateColumns adds fetches that come a cell late from a column on: it and the next show the same in all rows, which neighbours do by chance
// as often as they do elsewhere on the screen; clean is the log-likelihood of a good machine.
func (t *screenText) lateColumns(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	const leastTwice = 4
	p := t.page
	if p.different() < fewGlyphs {
		return
	}
	same, of := make([]int, p.columns-1), make([]int, p.columns-1) // by column: cells like the next, and those compared
	all, sum := 0, 0
	for i := range p.shape {
		column := i % p.columns
		if above := i - p.columns; column+1 == p.columns || above >= 0 && p.shape[i] == p.shape[above] && p.shape[i+1] == p.shape[above+1] {
			continue // what goes on from the row above was counted there
		}
		if like, differs := p.again(i); like {
			same[column]++
			of[column]++
		} else if differs {
			of[column]++
		}
	}
	for column := range same {
		all += same[column]
		sum += of[column]
	}
	odds := make([]float64, p.columns)
	for n := range same {
		usual := (float64(all-same[n]) + 0.5) / (float64(sum-of[n]) + 1)
		odds[n] = math.Max(0, -float64(same[n])*math.Log(usual)-float64(of[n]-same[n])*misread)
	}
	for n := 1; n < p.columns-1; n++ {
		// What other columns do as well is written so.
		if odds := odds[n] - math.Max(slices.Max(odds[:n]), slices.Max(odds[n+1:])); odds > 0 && same[n] >= leastTwice {
			add(patterns.Fault{Kind: "cell-fetch", Columns: fmt.Sprintf("after %d", n)}, afterShare(p.columns), clean+odds,
				fmt.Sprintf("columns %d and %d show the same in all rows, %d written cells, and hardly any others do: what follows comes a cell late", n, n+1, same[n]))
		}
	}
}

// Of so many cells in columns that float that many must show one thing, for blur has some of them wrong; and how seldom, nats, a writer fills every second column with one
// character and writes between. Common practice, no source.
const (
	floatCells   = 100
	floatAlike   = 0.85
	floatWritten = 9.0
)

// leastOfIt is how many columns a fetch that fails from one column on must leave of those that are right, and take. panelWritten is how seldom, nats, a writer fills just the
// columns from this one on, in all rows, with one character: one screen in a thousand, from any column. Common practice, no source.
const (
	leastOfIt    = 3
	panelWritten = 10.5
)

// floatingAfter adds fetches that fail from a column on and show what floats on the bus: one character, which stands nowhere before. Of a blank one nothing
// tells whether it was written.
func (t *screenText) floatingAfter(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	p := t.page
	rows := len(p.shape) / p.columns
	if rows == 0 {
		return
	}
	last := -1 // what stands in the last column
	for i := p.columns - 1; i < len(p.shape); i += p.columns {
		if last = p.shape[i]; last >= 0 {
			break
		}
	}
	if last < 0 || barred(p.rowsOf(last)) {
		return
	}
	bus := p.rowsOf(last)
	shows := func(i int) bool { return bits.OnesCount64(p.rows[i]^bus) <= mistakenFor }
	first := p.columns // of the columns that show it in all rows
	for ; first > 0; first-- {
		odd := 0
		for row := range rows {
			if i := row*p.columns + first - 1; p.shape[i] >= 0 && !shows(i) {
				odd++
			}
		}
		if odd*floatOdd > rows {
			break
		}
	}
	if first < leastOfIt || p.columns-first < leastOfIt {
		return
	}
	before, sorts := 0, map[int]bool{}
	for i, s := range p.shape {
		if i%p.columns >= first || s < 0 || p.blank[i] {
			continue
		}
		if sorts[s] = true; shows(i) {
			before++
		}
	}
	if len(sorts) < fewSorts || before > fewCells {
		return
	}
	add(patterns.Fault{Kind: "cell-fetch", Columns: fmt.Sprintf("after %d", first-1)}, afterShare(p.columns), clean+panelWritten,
		fmt.Sprintf("all cells from column %d on show one and the same character, and other things stand before", first))
}

// floatOdd: of so many rows one may have a column misread. Common practice, no source.
const floatOdd = 12

// floating adds fetches that fail in every second column and show what floats on the bus; clean is the log-likelihood of a good machine.
func (t *screenText) floating(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	p := t.page
	for _, columns := range []string{"odd", "even"} {
		in := nats.ColumnsNamed(columns)
		count, between := map[int]int{}, map[int]bool{}
		of := 0
		for i, s := range p.shape {
			switch {
			case s < 0:
			case in(i % p.columns):
				count[s]++
				of++
			case !p.blank[i]:
				between[s] = true
			}
		}
		if of < floatCells || len(between) < fewGlyphs {
			continue
		}
		shape, most := -1, 0
		for _, s := range slices.Sorted(maps.Keys(count)) {
			if count[s] > most {
				shape, most = s, count[s]
			}
		}
		bus, alike, others := p.rowsOf(shape), 0, 0
		shapes, inks := slices.Clone(p.shape), slices.Clone(p.ink) // without what the bus shows
		for i, s := range p.shape {                                // blur has some of it wrong
			if same := bits.OnesCount64(p.rows[i]^bus) <= mistakenFor; s >= 0 && same && in(i%p.columns) {
				alike++
				shapes[i], inks[i] = -1, -1
			} else if s >= 0 && same {
				others++
			}
		}
		stands := 10*others < of
		if bus == 0 { // a blank stands anywhere else as well, but not between each two letters
			stands = p.spaced(in)
		}
		if float64(alike) >= floatAlike*float64(of) && stands {
			saved := sumOf(written(shapes, p.columns, p.known(), nil), nil) + sumOf(writtenInks(inks, p.columns), nil) +
				nats.BetaSequence(of-alike, of, 0.5, 3) - math.Log(256) - t.codes - t.inks
			add(patterns.Fault{Kind: "cell-fetch", Columns: columns}, 0.125, clean+math.Max(floatWritten, saved),
				fmt.Sprintf("%d of the %d cells in the %s columns show one and the same, and other things stand between", alike, of, columns))
		}
	}
}

// spaced tells whether what is written leaves out the columns that are in, between one character and the next.
func (p *page) spaced(in func(column int) bool) bool {
	gaps, filled, rows := 0, 0, map[int]bool{}
	for i := range p.shape {
		c := i % p.columns
		if p.shape[i] < 0 || !in(c) || c == 0 || c == p.columns-1 {
			continue
		}
		switch left, right := p.shape[i-1] >= 0 && !p.blank[i-1], p.shape[i+1] >= 0 && !p.blank[i+1]; {
		case !p.blank[i]:
			filled++
		case left && right:
			gaps++
			rows[i/p.columns] = true
		}
	}
	return gaps >= spacedGaps && len(rows) >= spacedRows && filled*spacedFew <= gaps
}

// So many characters must stand with a blank column between, on so many rows, for one in so many of such columns that is written. Common practice, no source.
const (
	spacedGaps = 24
	spacedRows = 4
	spacedFew  = 12
)
