package characters

import (
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns/nats"
)

// A character generator is read anew for each line of a character, and on most displays the code too. So what fails for single fetches changes single
// lines: a lane mixes the lines of two characters, and snow puts anything into one line.

// Pixels by which a line must differ to be another, and by which two readings of one line may differ; and how many lines of a cell snow changes at the most.
// Common practice, no source.
const (
	lineApart = 2
	lineAlike = 1
	snowLines = 3
)

// linesApart are the lines in which two pictures of a cell differ, a bit each; the top line is the highest.
func linesApart(a, b uint64) (lines uint8) {
	for y := range 8 {
		if bits.OnesCount8(line(a, y)^line(b, y)) >= lineApart {
			lines |= 1 << y
		}
	}
	return lines
}

// line is a line of a picture; 7 is the top one.
func line(rows uint64, y int) uint8 { return uint8(rows >> (8 * y)) }

// lanesByLine are the bits of a code any one of which makes a mixture of the lines of two characters of what is read as the code's.
func (g *glyphs) lanesByLine(code int, now uint64) (alone int) {
	if code < 0 {
		return 0
	}
	apart := linesApart(g.rows[code], now)
	if apart == 0 {
		return 0
	}
	for bit := range 8 {
		other, fits := g.rows[code^1<<bit], true
		for y := range 8 {
			fits = fits && (apart>>y&1 == 0 || bits.OnesCount8(line(other, y)^line(now, y)) <= lineAlike)
		}
		if fits {
			alone |= 1 << bit
		}
	}
	return alone
}

// hitLines tells of a cell that shows something else in a line or a few, though it is even there and above and below, and the same in the others: no path
// and no decoder makes that.
func hitLines(usual, now uint64) bool {
	apart := linesApart(usual, now)
	if apart == 0 || bits.OnesCount8(apart) > snowLines {
		return false
	}
	for y := range 8 {
		if a, b := line(usual, y), line(now, y); apart>>y&1 == 0 && a != b {
			return false
		} else if apart>>y&1 == 1 && y > 0 && y < 7 && (a == 0 || a == 0xff) && line(usual, y-1) == a && line(usual, y+1) == a {
			return true
		}
	}
	return false
}

// mixing tells which changes mix the lines of two characters, where the codes are not known: each line of a character shows one definite other content,
// wherever it stands, and most cells not in all of those lines at once. Nil where it is not most of them.
func (r *restless) mixing() []bool {
	if r.words.fits || len(r.changes) < leastMovingCells {
		return nil
	}
	type place struct{ shape, line int }
	shown := map[place]map[uint8]int{}
	each := func(c *changed, f func(p place, to uint8)) {
		rows := r.words.rows[c.At]
		for y := range 8 {
			if linesApart(rows, c.then)>>y&1 == 1 {
				f(place{r.words.shape[c.At], y}, line(c.then, y))
			}
		}
	}
	var list []*changed
	for i := range r.changes {
		list = append(list, &r.changes[i])
		each(&r.changes[i], func(p place, to uint8) {
			if shown[p] == nil {
				shown[p] = map[uint8]int{}
			}
			shown[p][to]++
		})
	}
	if inStep(list) > crawling {
		return nil
	}
	top, lines := map[place]uint8{}, map[int]int{} // what a line shows in place of its own; how many lines of a shape do
	for p, contents := range shown {
		most := 1 // what was seen once says nothing
		for to := range 256 {
			if n := contents[uint8(to)]; n > most {
				most = n
				top[p] = uint8(to)
			}
		}
		if most > 1 {
			lines[p.shape]++
		}
	}
	out, n, part := make([]bool, len(r.changes)), 0, 0
	for i, c := range list {
		right, of := true, 0
		each(c, func(p place, to uint8) {
			want, known := top[p]
			right = right && known && bits.OnesCount8(want^to) <= lineAlike
			of++
		})
		if out[i] = right && of > 0 && c.colours < 0; out[i] {
			if n++; of < lines[r.words.shape[c.At]] || c.Pictures > twoStates {
				part++
			}
		}
	}
	if n < leastMovingCells || float64(n) < mostlyPaired*float64(len(r.changes)) || 2*part < n {
		return nil
	}
	return slices.Clip(out)
}

// allSorts is what it costs, in nats (0 or less), that the cells that change in a bit are not of all sorts of characters alike: a lane knows no characters, but a
// decoder has more of its way with some than with others.
func (r *restless) allSorts(bit int) float64 {
	p := r.words
	if !p.fits {
		return 0
	}
	in := map[int]bool{}
	for i := range r.changes {
		if c := &r.changes[i]; c.alone>>bit&1 == 1 {
			in[c.At] = true
		}
	}
	type count struct{ changed, of int }
	sorts, levels := map[int]count{}, [2]count{}
	var changes [256]bool // whether another picture shows then, of any of the codes that look like this one
	for code, k := range p.font.first {
		changes[k] = changes[k] || bits.OnesCount64(p.font.rows[code]^p.font.rows[code^1<<bit]) > mistakenFor
	}
	for i, code := range p.code {
		if code < 0 || !changes[code] {
			continue
		}
		n, all := sorts[code], &levels[code>>bit&1]
		n.of++
		all.of++
		if in[i] {
			n.changed++
			all.changed++
		}
		sorts[code] = n
	}
	alike, each := 0.0, 0.0
	for _, n := range levels {
		alike += nats.BetaSequence(n.changed, n.of, 0.5, 0.5)
	}
	for _, code := range slices.Sorted(maps.Keys(sorts)) {
		n := sorts[code]
		each += nats.BetaSequence(n.changed, n.of, 0.5, 0.5)
	}
	return math.Min(0, alike-each)
}
