package survey

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// What changes, entered as events: of which byte, in which lanes, how often, and in what order.

// byte enters the changes of a byte's eight pixels.
func (t *track) byte(m *analyse.Memory, motion *analyse.Motion, address int, l *line) {
	by := &l.by
	if flashing(by, motion.Fields) {
		return
	}
	events, most := 0, 0
	for x := range by {
		n := by[x].count()
		if n == 0 {
			continue
		}
		m.Changed[address*8+7-x] = uint16(n)
		t.order(motion, &by[x], n)
		if l.steps[x] && n > 1 && n < motion.Fields-1 {
			motion.Steps++
		} else {
			motion.Swings++
		}
	}
	for k := range motion.Fields {
		lanes := 0
		for x := range by {
			if by[x].has(k) {
				lanes++
				motion.ByLane[7-x]++
			}
		}
		if lanes > 0 {
			motion.Lanes[lanes]++
			motion.ByField[k]++
			events++
			most = max(most, lanes)
		}
	}
	if events == 0 {
		return
	}
	motion.Events += events
	motion.Moving++
	if !l.seen {
		motion.Bytes++
	}
	if events == 1 {
		motion.Once++
		if most >= 3 {
			motion.Bursts++
		}
	}
}

// alternates tells of a pixel that goes back and forth between fields more often than chance lets anything, by three standard deviations: so
// does the subcarrier that a decoder leaves, and no memory. The turns of n fields among others are about normal, with a standard deviation of
// half the root of their number at the most.
func alternates(by *moment, fields int) bool {
	return float64(by.turns(fields)) > byChance(by.count(), fields)+3*math.Sqrt(float64(fields))/2
}

// byChance is how often what shows in n of some fields would turn on the mean if these came in any order (Wald and Wolfowitz, Annals of Mathematical
// Statistics 11, 1940, from memory: one less than there are runs).
func byChance(n, fields int) float64 { return 2 * float64(n) * float64(fields-n) / float64(fields) }

// order counts the turns of what changes in n fields, and those that chance would make of as many.
func (t *track) order(motion *analyse.Motion, by *moment, n int) {
	if n < 2 || n > motion.Fields-2 {
		return
	}
	motion.Flips += by.turns(motion.Fields)
	motion.Chance += byChance(n, motion.Fields)
}

// flashing tells whether a byte changes as one of a flashing cell: all of it at once, for as long as flash lasts.
func flashing(by *[8]moment, fields int) bool {
	for x := range by {
		if by[x] != by[0] {
			return false
		}
	}
	return lasting(fields, func(k int) bool { return by[0].has(k) })
}

// lasting tells whether what changes back and forth does so as flash, which keeps each phase for its time. One field by itself
// is passed over: a frame's two may come in either order, which puts two in wrong places at each turn.
func lasting(fields int, now func(k int) bool) bool {
	in := func(k int) bool {
		i, j := k-1, k+1
		switch k {
		case 0:
			i, j = 1, 2
		case fields - 1:
			i, j = k-1, k-2
		}
		if fields > 2 && now(i) == now(j) {
			return now(i)
		}
		return now(k)
	}
	passed := 0
	for k := range fields {
		if in(k) != now(k) {
			passed++
		}
	}
	turns, since := 0, -1
	for k := 1; k < fields; k++ {
		if in(k) == in(k-1) {
			continue
		}
		if turns++; since >= 0 && !phase(k-since) {
			return false
		}
		since = k
		if turns == 1 && k > 2*display.FlashFields+1 {
			return false
		}
	}
	return turns > 0 && passed <= 2*turns+2 && fields-since <= 2*display.FlashFields+1
}

// phase tells whether flash may keep a phase for so many fields as captured: devices drop up to every second picture, or
// give each twice.
func phase(fields int) bool {
	return fields >= display.FlashFields/2-1 && fields <= 2*display.FlashFields+1
}

// cell enters the changes of a character cell; which bits of the code changed is not known.
func (t *track) cell(m *analyse.Memory, motion *analyse.Motion, address int, whole moment) {
	n := whole.count()
	if n == 0 {
		return
	}
	for b := range 8 {
		m.Changed[address*8+b] = uint16(n)
	}
	t.order(motion, &whole, n)
	if whole.turns(motion.Fields) == 1 && n > 1 && n < motion.Fields-1 {
		motion.Steps++
	} else {
		motion.Swings++
	}
	for k := range motion.Fields {
		if whole.has(k) {
			motion.ByField[k]++
		}
	}
	motion.Moving++
	motion.Events += n
	if n == 1 {
		motion.Once++
	}
}
