package characters

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// What a character that changes costs, in nats, by what makes it change: a program writes any of some
// hundred characters in its place; it seldom changes one for a single field, and hardly ever many times in a second.
// Common practice, no source.
const (
	animated    = 6.0
	oneField    = 2.3
	manyTurns   = 4.0
	turnsOften  = 3
	enoughTime  = 6   // fields from which on turns say something
	laneAlone   = 0.3 // a change in the lane's bit and no other, of a weak lane
	nextTo      = 3   // pixels: pictures that differ by no more are one, misread
	surelyOther = 6   // nats from which on a colour is believed to change
	strongLanes = 3   // lanes that must fail for a supply to be blamed: where it pulls the others shows nothing
	timeLimit   = 400.0
)

// A restless screen is the cells that change over time, as far as their change is sure.
type restless struct {
	changes  []changed
	cellsAll []analyse.Change
	order    float64 // what speaks for changes that stay for a while over such as come by chance, nats
	n        int     // cells looked at
	seen     bool
	words    *page
	pairs    []bool         // by change, where the codes are not known: two characters take turns as a lane has them; nil: not so
	then     map[int]uint64 // what each cell that changes also shows
	turns    []turning
	sorts    int // of these pairs, where there are too few to bear each other out
}

// A changed cell is one that shows two different things at times.
type changed struct {
	analyse.Change
	lane    int // exclusive-or of the codes, -1 when either is not known
	alone   int // the bits that may have changed alone: codes with one picture are not told apart
	colours int // of the inks, where only they differ; else -1
	was     int // codes
	now     int
	shows   int // the shape that it has then
	then    uint64
	mixed   bool // some lines are the one character's and some the other's
}

func newRestless(e *Screen, p *page) *restless {
	r := &restless{n: len(p.shape), words: p, order: nats.Lasting(e.Survey.Motion)}
	if e.Survey.Text == nil || e.Survey.Text.Changes == nil || nats.ByTurns(inUnison(e.Survey.Text.Changes, e.Survey.Motion)) { // fields that take turns are the device's or the subcarrier's doing
		return r
	}
	r.seen = true
	r.cellsAll = e.Survey.Text.Changes
	var at []int
	cells := slices.Clone(e.Survey.Cells)
	for _, c := range r.cellsAll {
		cells[c.At] = c.Other
		at = append(at, c.At)
	}
	other := pageOn(e.Survey, e.Profile, p.forms, turnedOver(cells, p.paper), p.paper, p.turned)
	r.then = map[int]uint64{}
	for _, i := range at {
		r.then[i] = other.rows[i]
	}
	if !e.Survey.Straightened && e.Survey.Sync.State == analyse.Locked { // else lines move by themselves
		r.turns = r.turnings()
	}
	turned := func(i int) bool {
		return slices.ContainsFunc(r.turns, func(k turning) bool { return k.cells[i] })
	}
	for k, i := range at {
		c := changed{Change: r.cellsAll[k], lane: -1, colours: -1, was: p.code[i], now: other.code[i], shows: other.shape[i], then: other.rows[i]}
		same := other.shape[i] == p.shape[i] || bits.OnesCount64(other.rows[i]^p.rows[i]) <= nextTo
		switch {
		case p.shape[i] < 0 || other.shape[i] < 0: // too faint to be read
			continue
		case same && p.ink[i] >= 0 && other.ink[i] >= 0 && p.ink[i] != other.ink[i] && min(c.Other.Sure, e.Survey.Cells[i].Sure) >= surelyOther:
			c.colours = p.ink[i] ^ other.ink[i]
		case !same && p.fits && c.now < 0 && p.font.lanesByLine(c.was, c.then) != 0: // lines of two characters
			c.alone, c.mixed = p.font.lanesByLine(c.was, c.then), true
			c.lane = 1 << bits.TrailingZeros(uint(c.alone))
		case !same && p.fits && c.now < 0 && (hitLines(p.rows[i], c.then) || turned(i)):
		case same, p.fits && c.now < 0 && !(p.blank[i] && bits.OnesCount64(other.rows[i]) > mistakenFor): // what is no glyph was misread, but nothing moves in blanks
			continue
		case p.fits && c.was >= 0 && c.now >= 0:
			c.alone, c.lane = p.font.lanes(c.was, c.now)
		}
		if c.alternates() {
			continue
		}
		r.changes = append(r.changes, c)
	}
	// A cell or two of which another colour is read at times are no more than the subcarrier.
	var recoloured []*changed
	for i := range r.changes {
		if r.changes[i].colours >= 0 {
			recoloured = append(recoloured, &r.changes[i])
		}
	}
	if len(recoloured) < leastSteadily || inStep(recoloured) > surelyInStep || (len(recoloured) < manyInStep || oneLane(recoloured) < mostlyOne) && inStep(recoloured) > crawling {
		r.changes = slices.DeleteFunc(r.changes, func(c changed) bool { return c.colours >= 0 })
	}
	if len(r.changes) < 2 || len(r.changes)*fewOfAll < len(r.cellsAll) && len(r.cellsAll)*10 > r.n {
		r.changes = nil
	}
	if r.pairs = r.paired(other); r.pairs == nil {
		r.pairs, r.sorts = r.swapping(other)
	}
	if r.pairs == nil {
		r.pairs = r.mixing()
	}
	return r
}

// fewOfAll: where pixels move in so many times as many cells as show another character, of a tenth of the screen or more, these are what the
// decoder makes of the others' movement. Common practice, no source.
const fewOfAll = 10

// leastSteadily are as many cells as must do a thing for it to be believed.
const leastSteadily = 3

// cells are those of the screen as it also shows; nil where few change.
func (r *restless) cells(all []analyse.Cell) []analyse.Cell {
	if len(r.changes) < leastMovingCells {
		return nil
	}
	out := slices.Clone(all)
	for _, c := range r.changes {
		out[c.At] = c.Other
	}
	return out
}

// leastMovingCells are as many as must change for a fault of the raster to be read from them.
const leastMovingCells = 8

// often tells of a cell that changes many times.
func (c *changed) often() bool { return c.Of >= enoughTime && c.Turns >= turnsOften }

// plainly is what a change costs that a program makes.
func (c *changed) plainly() float64 {
	cost := animated
	if c.often() {
		cost += manyTurns
	}
	if c.Of >= enoughTime && c.Fields == 1 {
		cost += oneField
	}
	return cost
}

// clean is the log-likelihood of what changes on a good machine.
func (r *restless) clean() float64 {
	cost := 0.0
	for i := range r.changes {
		cost += r.changes[i].plainly()
	}
	return r.bounded(-cost)
}

// bounded keeps time from saying more than a look at a screen can; neighbouring cells change together.
func (r *restless) bounded(like float64) float64 {
	if n := float64(len(r.changes)); n > 0 {
		return like * math.Min(1, timeLimit/(animated*n))
	}
	return like
}

// weak is the log-likelihood of what changes where one lane is weak.
func (r *restless) weak(memory string, bit int) (like float64, why string) {
	cost, k := 0.0, 0
	for i := range r.changes {
		c := &r.changes[i]
		alone := c.alone>>bit&1 == 1 && (c.Pictures <= twoStates || c.mixed)
		if memory == "colour" {
			alone = c.colours == 1<<bit && c.Pictures <= twoStates
		} else if r.pairs != nil {
			alone = r.pairs[i]
		}
		if alone {
			if cost += laneAlone; c.forGood() { // it comes and goes, mostly
				cost += oneField
			}
			k++
			continue
		}
		cost += c.plainly() + 1
	}
	if memory == "screen" {
		cost += math.Log(256)*float64(r.sorts) + r.turnedPairs() - r.allSorts(bit)
	}
	if k > 0 && memory == "screen" && r.pairs != nil {
		why = whyPaired(k, len(r.changes))
	} else if k > 0 {
		what := "code"
		if memory == "colour" {
			what = "colour"
		}
		why = fmt.Sprintf("%d of the %d cells that change over time change in bit %d of their %s alone", k, len(r.changes), bit, what)
	}
	return r.bounded(-cost), why
}

// often is what speaks for cells changing as often as they do where the usual part is this, nats.
func (r *restless) often(usual float64) float64 {
	part := 0.0
	for i := range r.changes {
		if c := &r.changes[i]; c.Of > 0 {
			part += float64(c.Fields) / float64(c.Of) / float64(len(r.changes))
		}
	}
	if part == 0 {
		return 0
	}
	return nats.Often(part, usual)
}

// supply is the log-likelihood of most lanes failing at any time.
func (r *restless) supply() (like float64, why string) {
	defer func() { like += r.often(nats.SupplyOften) - math.Max(0, r.order) }()
	var of [8]int
	n := 0
	for i := range r.changes {
		if c := &r.changes[i]; c.lane >= 0 {
			n++
			for b := range 8 {
				of[b] += c.lane >> b & 1
			}
		}
	}
	cost, lanes := 0.0, 0
	for _, k := range of {
		cost -= nats.BetaSequence(k, n, 1, 1)
		if k*12 >= n && k > 1 {
			lanes++
		}
	}
	var symbols words // bits that fall make few characters of one
	for i := range r.changes {
		c := &r.changes[i]
		switch {
		case c.lane >= 0:
		case r.words.fits || r.pairs != nil:
			cost += animated
		default:
			cost += math.Min(animated, laneAlone+symbols.cost(c.shows, 1.0/256))
		}
		if c.Of >= enoughTime && (c.forGood() || c.Fields == 1) { // it comes and goes, and comes again
			cost += oneField
		}
	}
	if len(r.changes)*20 < r.n {
		return math.Inf(-1), ""
	}
	recoloured := 0
	for i := range r.changes {
		if r.changes[i].colours >= 0 {
			recoloured++
		}
	}
	if 2*recoloured > len(r.changes) { // the screen memory's lanes fail with the colour's
		return math.Inf(-1), ""
	}
	if !r.words.fits && 2*n < len(r.changes) { // the codes are not known
		return r.bounded(-cost), fmt.Sprintf("%d of %d cells change over time, most of them again and again", len(r.changes), r.n)
	}
	many := 0 // cells of so many pictures that two lanes or more make them
	for i := range r.changes {
		if r.changes[i].Pictures > twoStates {
			many++
		}
	}
	if lanes < strongLanes && (lanes < 2 || 2*many < len(r.changes)) {
		return math.Inf(-1), ""
	}
	return r.bounded(-cost), fmt.Sprintf("%d of %d cells change over time, in %d of the 8 bits of their codes", len(r.changes), r.n, lanes)
}

// snow is the log-likelihood of whole bytes that are wrong for single fields.
func (r *restless) snow() (like float64, why string) {
	cost, single, events := 0.0, 0, 0
	for i := range r.changes {
		events += r.changes[i].Fields
	}
	var symbols words
	for i := range r.changes {
		c := &r.changes[i]
		each := math.Log(255)
		if !r.words.fits && r.pairs == nil { // as with a supply that fails
			each = math.Min(each, symbols.cost(c.shows, 1.0/256))
		}
		if c.Of >= enoughTime {
			// A cell is hit anew in each field, but snow is no more than a part of the fields; in more of them only so far as each shows another picture.
			usual := math.Max(1, math.Min(3*float64(events)/float64(max(1, r.n)), snowMost*float64(c.Of)))
			usual = math.Max(usual, math.Min(float64(c.Pictures-1), snowMany*float64(c.Of)))
			if each += oneField * math.Max(0, float64(c.Fields)-usual); float64(c.Fields) <= usual {
				single++
			}
		}
		cost += math.Min(each, c.plainly()+1) // what comes and goes for many fields is another's doing, or the decoder's
	}
	if single == 0 {
		return math.Inf(-1), ""
	}
	return r.bounded(-cost) + r.often(nats.SnowOften), fmt.Sprintf("%d cells show something else for a field now and then, in any of their bits", single)
}

// snowMost is the part of the fields in which snow hits a cell, at the most, and snowMany where it may hit each of its lines. Common practice, no source.
const (
	snowMost = 0.1
	snowMany = 0.25
)

// moving lists the faults that only time shows; base is the likelihood of the screen as it mostly is, decayed, which may
// be nil, what a lane's decay adds to that.
func (t *screenText) moving(base float64, decayed func(bit int) float64) []patterns.Hypothesis {
	if t.time == nil || len(t.time.changes) == 0 {
		return nil
	}
	var out []patterns.Hypothesis
	add := func(f patterns.Fault, share, like float64, why string) {
		if !math.IsInf(like, -1) {
			out = append(out, answer(f, share, base+like, why))
		}
	}
	for lane := range 8 {
		like, why := t.time.refresh(lane)
		if decayed != nil {
			like += math.Max(0, decayed(lane))
		}
		add(patterns.Fault{Kind: "refresh-loss", Lanes: []int{lane}}, 0.5/8, like, why)
	}
	like, why := t.time.refresh(-1)
	if decayed != nil && t.time.manyForGood() { // most of what one looks at may have decayed before
		like += math.Max(0, t.decaying()-t.codes)
	}
	add(patterns.Fault{Kind: "refresh-loss"}, 0.5, like, why)
	like, why = t.time.supply()
	add(patterns.Fault{Kind: "supply-or-all-lanes"}, 1, like, why)
	like, why = t.time.snow()
	add(patterns.Fault{Kind: "cell-snow"}, 1, like, why)
	if columns, like, why := t.time.fetches(); columns != "" {
		add(patterns.Fault{Kind: "cell-fetch", Columns: columns}, 0.25, like, why)
	}
	return out
}

// foldedInTime is the log-likelihood of what changes where the fold comes and goes with the field: either of the two
// pictures is what was written, the other follows from it.
func (t *screenText) foldedInTime(f fold) float64 {
	if t.other == nil || f.lanes != allLanes || f.fault.Kind == "address-line-stuck" {
		return math.Inf(-1)
	}
	moves := make(map[int]*changed, len(t.time.changes))
	for i := range t.time.changes {
		moves[t.time.changes[i].At] = &t.time.changes[i]
	}
	best := math.Inf(-1)
	for _, pair := range [2][2]*page{{t.page, t.other}, {t.other, t.page}} {
		b := textCells{e: t.e, want: pair[0], seen: pair[1]}
		shows, cost, explained := b.fold(f), 0.0, 0
		for i, seen := range b.seen.shape {
			shape, ink := shows(i)
			was, wasInk := b.plain(i)
			c := moves[i]
			if seen < 0 || shape < 0 || was < 0 {
				if c != nil {
					cost += c.plainly()
				}
				continue
			}
			differs := shape != was || f.colour && ink >= 0 && wasInk >= 0 && ink != wasInk
			switch {
			case c != nil && differs && shape == seen && c.Pictures <= twoStates && (ink < 0 || b.seen.ink[i] < 0 || ink == b.seen.ink[i]):
				cost += laneAlone
				explained++
			case c != nil:
				cost += c.plainly() + 1
			case differs:
				cost += stays
			}
		}
		if explained < leastSteadily || 2*explained <= len(moves) { // of two characters that take turns many are the fold's by chance
			continue
		}
		like := t.time.bounded(-cost)
		if pair[0] == t.other { // which must have been written, then
			like -= math.Max(0, t.codes+t.inks-t.other.drawn(nil)-t.other.drawnInks(nil))
		}
		best = math.Max(best, like)
	}
	return best
}

// twoStates are the pictures that a cell may show of two, one of them misread at times.
const twoStates = 3

// stays is what a cell costs that should change over time and does not: few changes are missed.
const stays = 3.0
