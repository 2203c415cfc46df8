package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// Lines of the characters that repeat: a bit below the rows of characters is stuck, in the line counter or at the generator's address.

// lineOfGlyphs is the fault that makes the same picture as a bit of the line counter that counts within a row of characters: the character
// generator has that bit on its lowest address lines.
func (u turn) lineOfGlyphs() (f patterns.Fault, share float64, ok bool) {
	if u.fault.Kind != "line-counter" {
		return patterns.Fault{}, 0, false
	}
	return patterns.Fault{Kind: "character-generator", Lines: []int{*u.fault.CounterBit}}, generatorLine / 16, true
}

// sorts are the pictures of characters that are not blank, each once; such as are nearly the commonest one may be that one, misread.
func (p *page) sorts() (out []uint64) {
	cells, most, top := map[int]int{}, uint64(0), 0
	for i, s := range p.shape {
		if s < 0 || p.blank[i] {
			continue
		}
		if cells[s]++; cells[s] > top {
			most, top = p.rows[i], cells[s]
		}
	}
	if top > 0 {
		out = append(out, most)
	}
	seen := map[int]bool{}
	for i, s := range p.shape {
		if s < 0 || p.blank[i] || seen[s] {
			continue
		}
		seen[s] = true
		if rows := p.rows[i]; bits.OnesCount64(rows^most) > mistakenFor {
			out = append(out, rows)
		}
	}
	return out
}

// repeatedLines is the log-likelihood ratio of the characters' lines being alike in pairs, as a stuck bit of their number makes them, where the
// font is not known; sorts is how many sorts of characters are so, of of.
func (p *page) repeatedLines(u turn) (odds float64, sorts, of int) {
	for _, rows := range p.sorts() {
		if barred(rows) {
			continue
		}
		of++
		if bits.OnesCount64(rows^u.rows(rows))*strayPixels <= bits.OnesCount64(rows) {
			sorts++
		}
	}
	if of < fewGlyphs {
		return 0, sorts, of
	}
	return nats.BetaSequence(of-sorts, of, 0.5, 50) - nats.BetaSequence(sorts, of, 0.5, 4), sorts, of
}

// strayPixels: of so many pixels of ink one may be misread in lines that are alike. Common practice, no source.
const strayPixels = 8

// linesRepeat adds such faults of a screen that its font is not known of; clean is the log-likelihood of none.
func (t *screenText) linesRepeat(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	for _, u := range turns() {
		if u.fault.Kind != "line-counter" {
			continue
		}
		odds, sorts, of := t.page.repeatedLines(u)
		why := fmt.Sprintf("%d of %d sorts of characters have lines that are alike in pairs, as with bit %d of their number stuck", sorts, of, *u.fault.CounterBit)
		add(u.fault, u.share, clean+odds, why)
		if f, share, ok := u.lineOfGlyphs(); ok {
			add(f, share, clean+odds, why)
		}
	}
}

// Characters are so narrow in columns of pixels if stages of the shift register are stuck; of a font's own one in nine is. Common practice, no source.
const narrowest = 3

// narrowed is the log-likelihood ratio of all characters having their ink in the same few columns, where the font is not known; sorts is how many do, of of.
func (p *page) narrowed() (odds float64, sorts, of int) {
	var within [8]int // by the first of these columns
	for _, rows := range p.sorts() {
		of++
		ink := uint64(0)
		for shift := 0; shift < 64; shift += 8 {
			ink |= rows >> shift & 0xff
		}
		for first := range 9 - narrowest {
			if ink&^((1<<narrowest-1)<<first) == 0 {
				within[first]++
			}
		}
	}
	for _, n := range within {
		sorts = max(sorts, n)
	}
	if of < fewGlyphs {
		return 0, sorts, of
	}
	return nats.BetaSequence(of-sorts, of, 0.5, 50) - nats.BetaSequence(sorts, of, 1, 8), sorts, of
}

// stagesStuck adds such a shift register; clean is the log-likelihood of a good one.
func (t *screenText) stagesStuck(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	odds, sorts, of := t.page.narrowed()
	add(patterns.Fault{Kind: "shift-register"}, stageAtPaper*(8-narrowest)/7, clean+odds,
		fmt.Sprintf("%d of %d sorts of characters have all of their ink in the same %d columns of pixels: stages of the shift register are stuck", sorts, of, narrowest))
}

// heldColumn is the log-likelihood ratio of one column of pixels being ink in all lines of all characters, as a data bit of the generator makes it that is stuck,
// where the font is not known; sorts is how many sorts of characters are so, of of. A font's own characters have a stroke of that height here and there.
func (p *page) heldColumn(bit int) (odds float64, sorts, of int) {
	column := uint64(0x0101010101010101) << bit
	blank, cells := 0, 0
	for i, s := range p.shape {
		if s >= 0 {
			cells++
			if p.blank[i] {
				blank++
			}
		}
	}
	for _, rows := range p.sorts() {
		if rows == math.MaxUint64 {
			continue // a block has ink anywhere
		}
		of++
		if rows&column == column {
			sorts++
		}
	}
	if of < fewGlyphs || 10*blank > cells { // a blank shows the stroke too; the gaps between letters that are inverted do not stand in blanks
		return 0, sorts, of
	}
	return nats.BetaSequence(of-sorts, of, 0.5, 50) - nats.BetaSequence(sorts, of, 0.5, 8), sorts, of
}

// columnsHeld adds such faults of the generator; clean is the log-likelihood of none.
func (t *screenText) columnsHeld(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	for _, u := range turns() {
		if u.fault.Kind != "character-generator" {
			continue
		}
		if *u.fault.Level == 0 {
			odds, sorts, of := t.page.brokenColumn(*u.fault.Bit)
			add(u.fault, u.share, clean+odds, fmt.Sprintf("%d of %d sorts of characters that go across one column of pixels have no ink there, as with data bit %d of the generator at 0", sorts, of, *u.fault.Bit))
			continue
		}
		odds, sorts, of := t.page.heldColumn(*u.fault.Bit)
		add(u.fault, u.share, clean+odds, fmt.Sprintf("%d of %d sorts of characters have ink in all lines of one column of pixels, as with data bit %d of the generator at 1", sorts, of, *u.fault.Bit))
	}
}

// brokenColumn is the log-likelihood ratio of one column of pixels never being ink where it has ink on both sides, as a data bit of the generator or a stage of the
// shift register makes it that is stuck at paper, where the font is not known; sorts is how many sorts of characters have ink on both sides in some line, and not once
// between, of of. In nine fonts no more than one of the letters, figures and marks of each is so.
func (p *page) brokenColumn(bit int) (odds float64, sorts, of int) {
	all := 0
	var edge [2]int // sorts with ink in the last and the first column: between letters one of them is a gap, if cells are where they seem to be
	for _, rows := range p.sorts() {
		spans, between := false, false
		for shift := 0; shift < 64; shift += 8 {
			line := rows >> shift & 0xff
			spans = spans || line>>(bit+1) != 0 && line&(1<<bit-1) != 0
			between = between || line>>bit&1 == 1
		}
		for i, column := range [2]uint64{0x0101010101010101, 0x8080808080808080} {
			if rows&column != 0 {
				edge[i]++
			}
		}
		all++
		if !spans {
			continue
		}
		if of++; !between {
			sorts++
		}
	}
	if of < fewGlyphs || 5*min(edge[0], edge[1]) > 3*all {
		return 0, sorts, of
	}
	return nats.BetaSequence(of-sorts, of, 0.5, 50) - nats.BetaSequence(sorts, of, 0.5, 8), sorts, of
}
