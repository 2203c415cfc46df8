package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// Faults of one place of a chip, or of one address line, that come and go: the cells that change are those, and hardly any others, that the fault would change.

// A told is how many cells change of those that a fault says change, and of the others that something is written in.
type told struct{ changed, of, others, rest int }

// places is ln of how much likelier these are the cells that change than any, whatever they change to.
func (t told) places() float64 {
	return nats.BetaSequence(t.changed, t.of, 3, 0.5) + nats.BetaSequence(t.others, t.rest, 0.5, 50) - nats.BetaSequence(t.changed+t.others, t.of+t.rest, 0.5, 3)
}

// at tells which cells change, by their place; nil where none do or they are too few.
func (r *restless) at() map[int]*changed {
	if len(r.changes) < leastSteadily {
		return nil
	}
	out := make(map[int]*changed, len(r.changes))
	for i := range r.changes {
		out[r.changes[i].At] = &r.changes[i]
	}
	return out
}

// inLine is ln of how much likelier what changes is where a lane is held, now and then, in one row or column of the chip; ok is false where it is not so.
func (t *screenText) inLine(h hold, moves map[int]*changed) (like float64, why string, ok bool) {
	bit, level, r, p := *h.fault.Bit, *h.fault.Level, t.time, t.page
	colour := h.fault.Memory == "colour"
	known := colour || p.fits
	shown := func(c *changed) bool { // it changes as the lane has it
		switch {
		case c.Pictures > twoStates:
			return false
		case colour:
			return c.colours == 1<<bit
		case known:
			return c.lane >= 0 && c.alone>>bit&1 == 1
		}
		return c.colours < 0 && bits.OnesCount64(c.then^p.rows[c.At]) < invertedPixels
	}
	became, from := map[int]int{}, map[int]int{} // of characters whose codes are not known
	alike := func(a, b int) bool {               // one character, read in two ways
		x, y := p.rowsOf(a), p.rowsOf(b)
		return a == b || x != 0 && y != 0 && bits.OnesCount64(x^y) <= mistakenFor
	}
	cost, in, out := 0.0, 0, 0
	up := 0 // of those that show as the lane has it, how many are mostly at the level
	for i := range r.changes {
		c := &r.changes[i]
		right := h.in(c.At) && shown(c)
		if right && !known {
			was := p.shape[c.At]
			to, seen := became[was]
			of, taken := from[c.shows]
			if right = (!seen || alike(to, c.shows)) && (!taken || alike(of, was)); right && !seen {
				became[was], from[c.shows] = c.shows, was
				cost += math.Log(256)
			}
		}
		if !right {
			out++
			cost += c.plainly() + 1
			continue
		}
		in++
		cost += laneAlone
		now := c.was
		if colour {
			now = p.ink[c.At]
		}
		if known && now>>bit&1 == level {
			up++
		}
	}
	if in < leastFlips || 2*in <= len(r.changes) || !known && (in < 2*len(became) || h.fault.Row == nil && len(became) < leastSteadily && !t.wholeBlock(h, in)) {
		return 0, "", false
	}
	mostly := 2*up > in // the fault is there in most of the fields
	if known {
		if mostly {
			up = in - up
		}
		cost += animated * float64(up) // against the level
	}
	n := told{changed: in, others: out}
	for i, s := range p.shape {
		if s < 0 {
			continue
		}
		would := false
		if h.in(i) {
			switch {
			case colour:
				would = p.ink[i] >= 0 && (p.ink[i]>>bit&1 == level) == mostly
			case known:
				if c := p.code[i]; c >= 0 && p.font.first[c^1<<bit] != c {
					if would = (c>>bit&1 == level) == mostly; mostly && !would {
						cost += stays
					}
				}
			default:
				_, would = became[s]
			}
		}
		if c := moves[i]; would || c != nil && h.in(i) && shown(c) {
			n.of++
		} else if !p.blank[i] || c != nil { // what is misread is what is written
			n.rest++
		}
	}
	n.of = max(n.of, n.changed)
	n.rest = max(n.rest, n.others)
	if 2*n.changed < n.of { // a line of text that flashes is no whole row or column
		return 0, "", false
	}
	like = r.bounded(n.places() - cost)
	if mostly { // the other picture must have been written, then
		like -= t.otherwise()
	}
	line := "row"
	if h.fault.Row == nil {
		line = "column"
	}
	return like, fmt.Sprintf("%d of the %d cells that change over time are of one %s of the chip, and change as one bit of it does", in, len(r.changes), line), true
}

// wholeBlock tells of the cells of one column of a chip, of which n change, that nearly all of them do, and that they begin or end amid a row: a program that writes
// them would end with the row.
func (t *screenText) wholeBlock(h hold, n int) bool {
	cells, first, last := 0, -1, -1
	for i := range t.page.shape {
		if h.in(i) {
			if cells++; first < 0 {
				first = i
			}
			last = i
		}
	}
	return n*10 >= cells*9 && (first%t.page.columns != 0 || (last+1)%t.page.columns != 0)
}

// otherwise is what it costs, in nats, that the screen is mostly another than what was written.
func (t *screenText) otherwise() float64 {
	if t.other == nil {
		return 0
	}
	return math.Max(0, t.codes+t.inks-t.other.drawn(nil)-t.other.drawnInks(nil))
}

// linesInTime weighs rows and columns of a chip that are dead now and then; base is the log-likelihood of the screen as it mostly is, with and without the fault.
func (t *screenText) linesInTime(base func(h hold) float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	moves := t.time.at()
	if moves == nil {
		return
	}
	near := func(memory string, bit, level int, in func(i int) bool) bool {
		n := 0
		for at, c := range moves {
			if in(at) && (c.colours >= 0) == (memory == "colour") {
				n++
			}
		}
		return 2*n > len(moves)
	}
	places := t.places()
	for k, place := range places {
		for _, h := range deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool {
			return near(memory, bit, level, func(i int) bool { return in(i + place.cells) })
		}) {
			if h.fault.Memory == "colour" && h.fault.Row == nil { // a line of text whose colour a program changes lies so, too
				continue
			}
			here := h
			here.in = func(i int) bool { return h.in(i + place.cells) }
			if like, why, ok := t.inLine(here, moves); ok {
				if k > 0 {
					why += ", if the picture is that much off its place"
				}
				add(h.fault, h.share, base(here)+like+place.odds, why)
			}
		}
	}
}

// A place is one that the picture may have by as many whole cells: ln of how much likelier it is than the one at which it was read.
type place struct {
	cells int
	odds  float64
}

// places lists them, that at which it was read first.
func (t *screenText) places() []place {
	out := []place{{}}
	shifts := t.e.Survey.Registration.Shifts
	if t.good != nil || t.page.fits || len(shifts) == 0 || shifts[0].Probability <= 0 { // beside a reference, and where the font says, it is known
		return out
	}
	for _, s := range shifts[1:] {
		if s.Pixels%8 == 0 && s.Lines%8 == 0 && s.Probability > 0 {
			out = append(out, place{-s.Lines/8*t.page.columns - s.Pixels/8, math.Log(s.Probability / shifts[0].Probability)})
		}
	}
	return out
}

// placesInTime weighs address lines that are held now and then, all lanes' or one's, and the raster's counters and fetches that have cells show what stands
// elsewhere in the same way; base is the log-likelihood of the screen as it mostly is.
func (t *screenText) placesInTime(base float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	moves := t.time.at()
	if moves == nil || t.other == nil {
		return
	}
	for _, f := range foldsOf(t.e.Profile) {
		if !f.screen {
			continue
		}
		if like, n, ok := t.foldedNowAndThen(f, moves); ok {
			where := "what another place on the raster has"
			if len(f.fault.Lines) > 0 {
				where = fmt.Sprintf("what stands in the cells whose addresses differ in line %s alone", patterns.List(f.fault.Lines))
			}
			add(f.fault, f.share, base+like, fmt.Sprintf("%d of the %d cells that change over time show, when they do, %s", n, len(moves), where))
		}
	}
}

// foldedNowAndThen is ln of how much likelier what changes is where the fold comes and goes; ok is false where it is not so.
func (t *screenText) foldedNowAndThen(f fold, moves map[int]*changed) (like float64, explained int, ok bool) {
	best := math.Inf(-1)
	for _, pair := range [2][2]*page{{t.page, t.other}, {t.other, t.page}} {
		want, seen := pair[0], pair[1]
		known := f.lanes == allLanes || want.fits
		b := textCells{e: t.e, want: want, seen: seen}
		shows := b.fold(f)
		var in told
		cost, sources := 0.0, map[int]bool{} // characters that show in another's place
		pairs := map[[2]int]told{}           // of characters whose codes are not known
		for i, s := range seen.shape {
			was, c := want.shape[i], moves[i]
			if s < 0 || was < 0 {
				if c != nil {
					cost += c.plainly()
				}
				continue
			}
			from := f.from(i)
			would, right := false, false
			switch {
			case from == i || from < 0 || want.shape[from] < 0:
			case known:
				shape, _ := shows(i)
				would, right = shape >= 0 && shape != was, shape == s
			case want.shape[from] != was:
				k := [2]int{min(was, want.shape[from]), max(was, want.shape[from])}
				n := pairs[k]
				if n.of++; !want.blank[i] || c != nil {
					n.rest++
				}
				if c != nil && s == want.shape[from] && c.Pictures <= twoStates {
					n.changed++
					sources[s] = true
				} else if c != nil {
					cost += c.plainly() + 1
				}
				pairs[k] = n
				continue
			}
			switch {
			case c != nil && would && right && c.Pictures <= twoStates:
				in.changed++
				in.of++
				cost += laneAlone
				sources[s] = true
			case c != nil:
				cost += c.plainly() + 1
				in.others++
				in.rest++
			case would:
				in.of++
			case !want.blank[i]:
				in.rest++
			}
		}
		for _, n := range pairs { // the lane has the characters of each pair alike, or not
			cost += math.Ln2
			if 2*n.changed > n.of {
				in.changed += n.changed
				in.of += n.of
				cost += laneAlone * float64(n.changed)
			} else {
				in.others += n.changed
				in.rest += n.rest
				cost += animated * float64(n.changed)
			}
		}
		if in.changed < leastMovingCells || 2*in.changed <= len(moves) || len(sources) < 2 || in.others*4 > in.changed || 2*in.changed < in.of {
			continue
		}
		like := t.time.bounded(in.places() - cost)
		if want == t.other { // which must have been written, then
			like -= t.otherwise()
		}
		if like > best {
			best, explained = like, in.changed
		}
	}
	return best, explained, explained > 0
}
