package patterns

import (
	"fmt"
	"math/bits"
)

// Lines of the characters that repeat: a bit below the rows of characters is stuck, in the line counter or at the generator's address.

// lineOfGlyphs is the fault that makes the same picture as a bit of the line counter that counts within a row of characters: the character
// generator has that bit on its lowest address lines.
func (u turn) lineOfGlyphs() (f Fault, share float64, ok bool) {
	if u.fault.Kind != "line-counter" {
		return Fault{}, 0, false
	}
	return Fault{Kind: "character-generator", Lines: []int{*u.fault.CounterBit}}, generatorLine / 16, true
}

// repeatedLines is the log-likelihood ratio of the characters' lines being alike in pairs, as a stuck bit of their number makes them, where the
// font is not known; sorts is how many sorts of characters are so, of of.
func (p *page) repeatedLines(u turn) (odds float64, sorts, of int) {
	seen := map[int]bool{}
	for i, s := range p.shape {
		if s < 0 || seen[s] || p.blank[i] || barred(p.rows[i]) {
			continue
		}
		seen[s] = true
		of++
		rows := p.rows[i]
		if bits.OnesCount64(rows^u.rows(rows))*strayPixels <= bits.OnesCount64(rows) {
			sorts++
		}
	}
	if of < fewGlyphs {
		return 0, sorts, of
	}
	return betaSequence(of-sorts, of, 0.5, 50) - betaSequence(sorts, of, 0.5, 4), sorts, of
}

// strayPixels: of so many pixels of ink one may be misread in lines that are alike. Common practice, no source.
const strayPixels = 8

// linesRepeat adds such faults of a screen that its font is not known of; clean is the log-likelihood of none.
func (t *screenText) linesRepeat(clean float64, add func(f Fault, share, like float64, why ...string)) {
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
