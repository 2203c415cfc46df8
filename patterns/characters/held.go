package characters

// Lanes of a Text display's memories beside a reference: held in all cells, in a row or a column of the chip, here and there, decayed, or
// most of them at once.

import (
	"fmt"
	"math"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// hold has a bit of code or colour at a level in some cells.
func (t textCells) hold(h hold) shows {
	bit, level := *h.fault.Bit, *h.fault.Level
	var forced map[int][]int
	if h.fault.Memory != "colour" && t.want.font != nil {
		forced = t.forced(h)
	}
	return func(i int) (int, int) {
		shape, ink := t.plain(i)
		switch {
		case h.in != nil && !h.in(i):
		case h.fault.Memory == "colour":
			if ink >= 0 {
				if ink = force(ink, bit, level); ink == t.want.paper {
					return t.want.space, -1
				}
			}
		case t.want.code[i] >= 0:
			shows := forced[t.want.code[i]]
			if shape = shows[0]; slices.Contains(shows, t.seen.shape[i]) && !h.weak {
				shape = t.seen.shape[i]
			}
		}
		return shape, ink
	}
}

// forced is what each code of the reference shows with a bit held. Where several codes have one picture it may stand for any that
// is not far rarer than the others; first comes what shows most often, of a weak lane what is another shape.
func (t textCells) forced(h hold) map[int][]int {
	bit, level := *h.fault.Bit, *h.fault.Level
	font := t.want.font
	out := map[int][]int{}
	cells := map[[2]int]int{} // of a code that show a shape
	for i, c := range t.want.code {
		if c >= 0 && (h.in == nil || h.in(i)) {
			out[c] = nil
			cells[[2]int{c, t.seen.shape[i]}]++
		}
	}
	for c := range out {
		for twin, k := range font.first {
			if s := font.first[force(twin, bit, level)]; k == c && (twin == c || font.part[twin] > rareTwin) && !slices.Contains(out[c], s) {
				out[c] = append(out[c], s)
			}
		}
		slices.SortFunc(out[c], func(a, b int) int {
			if h.weak && (a == c) != (b == c) {
				if a == c {
					return 1
				}
				return -1
			}
			if d := cells[[2]int{c, b}] - cells[[2]int{c, a}]; d != 0 {
				return d
			}
			return a - b
		})
	}
	return out
}

// rareTwin is how often a code stands, of those with one picture, that is thought of.
const rareTwin = 0.1

// lanesAgainst weighs the lanes: stuck, dead in a row or a column of the chip, and weak.
func (t *screenText) lanesAgainst(b textCells, fonts bool, plain, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	holds := stuckLanes()
	odd := b.oddInks()
	type lane struct {
		memory string
		bit    int
	}
	weak, why := map[lane][]float64{}, map[lane]string{}
	most := map[lane]int{}
	var order []lane
	for _, h := range holds {
		if h.fault.Memory == "screen" && !fonts {
			continue
		}
		weakly := h
		weakly.weak = true
		like, flipped, of := b.weak(b.hold(weakly), nil)
		stuck := b.weigh(b.hold(h), true)
		if of >= leastSteady { // the cells that the lane changes, in which it does so but for those misread
			always := nats.BetaSequence(of-flipped, of, 0.5, 50) - float64(of-flipped)*math.Log(glyphsMistaken)
			stuck = math.Max(stuck, like-nats.BetaSequence(flipped, of, 0.5, 3)-halfExpected(flipped, of)+always)
		}
		rest := ""
		if hidden, ok := b.heldUnseen(b.hold(weakly), flipped, of); ok && h.fault.Memory == "screen" {
			stuck = math.Max(stuck, like-nats.BetaSequence(flipped, of, 0.5, 3)-halfExpected(flipped, of)+hidden)
			like = math.Min(like, stuck-surelyHeld) // a lane that fails here and there fails in what is written as often as in what is not
			rest = "; the others are blank, and may have their background's colour as ink"
		}
		if h.fault.Memory == "colour" && b.fewInks(flipped, odd) { // what fits better only by what else was misread is misread
			stuck = math.Min(stuck, plain)
		}
		add(h.fault, h.share, stuck+still,
			fmt.Sprintf("%d of the %d cells that bit %d of the %s held at %d would change show just that%s", flipped, of, *h.fault.Bit, h.fault.Memory, *h.fault.Level, rest))
		if g, share, ok := lineOfGenerator(h); ok {
			add(g, share, stuck+still, fmt.Sprintf("bit %d of the code may as well be held at the generator's address line %d", *h.fault.Bit, g.Lines[0]))
		}
		if flipped < leastFlips || h.fault.Memory == "colour" && b.fewInks(flipped, odd) {
			like = math.Min(like, plain) // colours are misread more often than a lane fails
		}
		k := lane{h.fault.Memory, *h.fault.Bit}
		if weak[k] == nil {
			order = append(order, k)
		}
		weak[k] = append(weak[k], like)
		if flipped > most[k] {
			most[k] = flipped
			why[k] = fmt.Sprintf("bit %d of the %s differs from the reference in %d of %d cells, and no other bit does there", k.bit, k.memory, flipped, of)
		}
	}
	for _, k := range order {
		moving, said := t.time.weak(k.memory, k.bit)
		if k.memory == "colour" && odd >= leastFlips && b.fewInks(most[k], odd) { // what changes over time is misread as well, then
			moving = math.Min(moving, still)
		}
		share, lanes := shareOf(k.memory)
		add(patterns.Fault{Kind: "data-bit-weak", Bit: new(k.bit), Memory: k.memory}, share/float64(lanes),
			nats.LogSum(weak[k]...)-math.Ln2+moving, why[k], said)
	}
	wrong := func(memory string, bit, level int, in func(i int) bool) bool {
		if memory == "screen" && !fonts {
			return false
		}
		n, least := 0, 2
		for i := range b.seen.shape {
			if !in(i) {
				continue
			}
			if memory == "colour" {
				least = leastFlips // colours are misread more often
				w, s := b.want.ink[i], b.seen.ink[i]
				if w >= 0 && s == force(w, bit, level) && s != w {
					n++
				}
			} else if w, s := b.want.code[i], b.seen.code[i]; w >= 0 && s == b.want.font.first[force(w, bit, level)] && s != w {
				n++
			}
		}
		return n >= least
	}
	for _, h := range deadRows(t.e.Profile, wrong) {
		f := b.hold(h)
		_, flipped, of := b.weak(f, nil)
		if h.fault.Memory == "colour" && (flipped < leastFlips || 3*flipped <= 2*odd) {
			continue
		}
		add(h.fault, h.share, b.weigh(f, true)+still,
			fmt.Sprintf("%d of the %d cells there that bit %d of the %s held at %d would change show just that, and no others do", flipped, of, *h.fault.Bit, h.fault.Memory, *h.fault.Level))
	}
}

// heldUnseen is the log-likelihood of a lane that has changed all that is written where it could, and of the blanks only some: the others have their
// background's colour as ink, as where only what was written over has another. ok is false where it is not so.
func (t textCells) heldUnseen(f shows, flipped, of int) (like float64, ok bool) {
	var blank, changed int // cells of the reference without anything in them that the lane would change, and that show it
	for i, seen := range t.seen.shape {
		shape, _ := f(i)
		if was, _ := t.plain(i); seen < 0 || shape < 0 || was < 0 || shape == was || !t.want.blank[i] {
			continue
		}
		switch {
		case seen == shape:
			blank++
			changed++
		case t.seen.blank[i]:
			blank++
		}
	}
	written, all := of-blank, flipped-changed
	if written < leastSteady || blank == 0 {
		return 0, false
	}
	apart := nats.BetaSequence(written-all, written, 0.5, 50) - float64(written-all)*math.Log(glyphsMistaken) + nats.BetaSequence(changed, blank, 0.5, 0.5)
	if apart < nats.BetaSequence(flipped, of, 0.5, 3)+surelyHeld {
		return 0, false
	}
	return math.Min(0, apart+halfExpected(flipped, of)) + math.Log(clearedInk), true
}

// clearedInk is how many screens have their background's colour as ink where nothing is written, and surelyHeld by how many nats that must explain better what
// a lane changes. Common practice, no source.
const (
	clearedInk = 0.1
	surelyHeld = 10.0
)

// scattered weighs what spoils bits here and there in the picture as it mostly is: chip rows that have decayed, and
// most lanes failing.
func (t *screenText) scattered(b textCells, fonts bool, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	if !fonts {
		return
	}
	row := func(i int) int { r, _ := t.e.Profile.ChipAddress(i); return r }
	for bit := range 8 {
		moving, said := t.time.refresh(bit)
		for level := range 2 {
			f := b.hold(hold{fault: patterns.Fault{Bit: new(bit), Level: new(level), Memory: "screen"}, weak: true})
			like, flipped, of := b.weak(f, row)
			if flipped < leastFlips {
				continue
			}
			add(patterns.Fault{Kind: "refresh-loss", Lanes: []int{bit}}, 0.5/16, like+math.Max(moving, still), said,
				fmt.Sprintf("bit %d has fallen to %d in %d of %d cells, row by row of the chip", bit, level, flipped, of))
		}
	}
	// Most lanes: each bit by itself.
	var wrong [8]int
	of, cells := 0, 0
	for i := range b.seen.code {
		if w, s := b.want.code[i], b.seen.code[i]; w >= 0 && s >= 0 {
			of++
			if w != s {
				cells++
			}
			for k := range 8 {
				wrong[k] += (w ^ s) >> k & 1
			}
		}
	}
	lanes, like := 0, 0.0
	for _, k := range wrong {
		like += nats.BetaSequence(k, of, 0.5, 3)
		if k*20 > of {
			lanes++
		}
	}
	if lanes < 2 {
		return
	}
	inks := tally{}
	for i := range b.seen.ink {
		if w, s := b.want.ink[i], b.seen.ink[i]; w >= 0 && s >= 0 {
			inks.add(w, s)
		}
	}
	like += inks.weigh(inksMistaken, b.anotherInk, b.inksApart)
	why := fmt.Sprintf("%d of %d cells differ from the reference, in %d of the 8 lanes", cells, of, lanes)
	moving, said := t.time.supply()
	if lanes >= strongLanes {
		add(patterns.Fault{Kind: "supply-or-all-lanes"}, 1, like+math.Max(moving, still-10), why, said)
	}
	moving, said = t.time.refresh(-1)
	if lanes < strongLanes && math.IsInf(moving, -1) { // two lanes are as well misread; decay shows itself
		return
	}
	add(patterns.Fault{Kind: "refresh-loss"}, 0.5, like+math.Max(moving, still-5), why, said)
}
