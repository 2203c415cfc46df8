package characters

import (
	"math"
	"math/bits"
)

// Software blinks its cursor: it turns the cell round that the next character will go to, or draws a bar in it, and a capture of a few fields
// shows one phase of it.

// How often a single block where a cursor may be is one that blinks, and is caught in its other phase; and how often a screen that shows none has one in the
// other capture. Common practice, no source.
const (
	blockBlinks  = 0.3
	cursorUnseen = 0.1
)

// cursor is the log-likelihood of the screen where its cursor is in another phase than the reference's; false where no single cell that may be
// a cursor's is the reference's turned round, or has a bar where the other has nothing.
func (t textCells) cursor() (like float64, ok bool) {
	at := -1
	for i, rows := range t.seen.rows {
		if t.seen.shape[i] < 0 || t.want.shape[i] < 0 || t.seen.shape[i] == t.want.shape[i] || !cursorTurns(rows, t.want.rows[i]) {
			continue
		}
		if at >= 0 {
			return 0, false
		}
		at = i
	}
	if at < 0 || t.want.rows[at] != 0 && t.seen.rows[at] != 0 { // it stands where nothing is written yet
		return 0, false
	}
	places := t.want.cursorPlaces(at)
	if places == 0 {
		return 0, false
	}
	phase := cursorUnseen / float64(places)
	if t.want.rows[at] != 0 {
		if t.want.same(at) > 1 {
			return 0, false
		}
		phase = blockBlinks
	}
	seen, ink := t.seen.shape[at], t.seen.ink[at]
	return t.weigh(func(i int) (int, int) {
		if i == at {
			return seen, ink
		}
		return t.plain(i)
	}, true) + math.Log(phase), true
}

// cursorTurns tells of two pictures of a cell whether a cursor makes the one of the other: it turns the whole cell round, or draws whole lines
// or columns in one that is blank.
func cursorTurns(a, b uint64) bool {
	return bits.OnesCount64(a^b) >= invertedPixels || (a == 0) != (b == 0) && barred(a^b) && bits.OnesCount64(a^b) >= leastBar
}

// leastBar is how many pixels a bar has, of the eight of a line or a column. Common practice, no source.
const leastBar = 7

// cursorPlaces is how many places of a screen a cursor may as well have as this one; none where this is none: right behind what stands on a line, or at the
// beginning of a line, where other lines begin, with nothing to the right of it.
func (p *page) cursorPlaces(at int) (n int) {
	begins := map[int]bool{0: true}
	for row := 0; row < len(p.shape)/p.columns; row++ {
		if first, _ := p.ends(row, at); first >= 0 {
			begins[first] = true
		}
	}
	here := false
	for row := 0; row < len(p.shape)/p.columns; row++ {
		first, last := p.ends(row, at)
		column := at % p.columns
		if first < 0 { // an empty line
			if row == at/p.columns {
				here = begins[column]
			}
			n++
			continue
		}
		if last+1 < p.columns {
			if row == at/p.columns {
				here = column == last+1 || column == last+2
			}
			n++
		}
	}
	if !here {
		return 0
	}
	return n
}

// same counts the cells that show what one shows.
func (p *page) same(at int) (n int) {
	for i, shape := range p.shape {
		if shape == p.shape[at] && p.rows[i] != 0 {
			n++
		}
	}
	return n
}

// ends are the first and last column of a row in which something stands, one cell left out; -1 where nothing does.
func (p *page) ends(row, but int) (first, last int) {
	first, last = -1, -1
	for column := range p.columns {
		i := row*p.columns + column
		if i == but || p.shape[i] < 0 || p.rows[i] == 0 {
			continue
		}
		if first < 0 {
			first = column
		}
		last = column
	}
	return first, last
}
