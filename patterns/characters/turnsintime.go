package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
)

// Faults that change the pixels of all characters alike, and come and go: of the two pictures of each cell that changes the one is the other, changed so.

// A turning is a turn that makes the one of two pictures of the other, in most cells that change.
type turning struct {
	turn
	mostly bool         // it is there in most of the fields
	cells  map[int]bool // that it explains
	sorts  int          // of them, by what they are without it
	stays  int          // cells that it should change, and that do not change
}

// turnedOnly tells whether one picture is another with all pixels changed as a turn does, but for few of those that change.
func turnedOnly(was, now uint64, rows func(uint64) uint64) bool {
	change := bits.OnesCount64(was ^ now)
	return change >= leastTurned && bits.OnesCount64(rows(was)^now)*turnedStray <= change
}

// A turn changes so many pixels of a cell at the least, and of so many one may be misread. Common practice, no source.
const (
	leastTurned = 3
	turnedStray = 4
)

// turnings lists the turns that explain most of the cells that change.
func (r *restless) turnings() (out []turning) {
	list := map[int]uint64{} // pictures that cells also show
	for i := range r.cellsAll {
		c := changed{Change: r.cellsAll[i]}
		if rows, ok := r.then[c.At]; ok && r.words.shape[c.At] >= 0 && !c.alternates() && bits.OnesCount64(r.words.rows[c.At]^rows) >= leastTurned {
			list[c.At] = rows
		}
	}
	if len(list) < leastMovingCells {
		return nil
	}
	for _, u := range turns() {
		for _, mostly := range []bool{false, true} {
			k := turning{turn: u, mostly: mostly, cells: map[int]bool{}}
			sorts, shows := map[uint64]bool{}, map[uint64]bool{}
			for i, rows := range r.words.rows {
				if r.words.shape[i] < 0 {
					continue
				}
				was, now := rows, rows
				if then, ok := list[i]; ok && mostly {
					was = then
				} else if ok {
					now = then
				}
				switch {
				case was != now && turnedOnly(was, now, u.rows):
					k.cells[i] = true
					sorts[was], shows[now] = true, true
				case was == now && !mostly && bits.OnesCount64(u.rows(was)^was) > mistakenFor:
					k.stays++
				case was == now && mostly && u.rows(was) != was && bits.OnesCount64(u.rows(was)^was) > mistakenFor: // it would not show so
					k.stays++
				}
			}
			// What leaves hardly anything of a character makes one thing of all, whatever they are.
			if k.sorts = len(sorts); k.sorts >= fewGlyphs && 2*len(shows) >= len(sorts) && float64(len(k.cells)) >= mostlyPaired*float64(len(list)) && k.stays <= len(k.cells) {
				out = append(out, k)
			}
		}
	}
	return out
}

// turnsInTime weighs them; base is the log-likelihood of the screen as it mostly is.
func (t *screenText) turnsInTime(base float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	for _, k := range t.time.turns {
		cost := stays * float64(k.stays)
		for i := range t.time.changes {
			if c := &t.time.changes[i]; k.cells[c.At] {
				cost += laneAlone
			} else {
				cost += c.plainly() + 1
			}
		}
		like := t.time.bounded(-cost)
		if k.mostly && t.page.fits { // the other picture must have been written, then
			like -= t.otherwise()
		}
		why := fmt.Sprintf("in %d of the %d cells that change over time the two pictures are one character: at times %s", len(k.cells), len(t.time.cellsAll), k.why)
		add(k.fault, k.share, base+like, why)
		if f, share, ok := k.lineOfGlyphs(); ok {
			add(f, share, base+like, why)
		}
	}
}

// turnedPairs is what it costs, in nats, that all of the characters that a lane takes for each other are by chance as a turn makes them.
func (r *restless) turnedPairs() float64 {
	sorts := 0
	for _, k := range r.turns {
		sorts = max(sorts, k.sorts)
	}
	return math.Log(256) * float64(sorts)
}
