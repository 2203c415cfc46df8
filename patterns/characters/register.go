package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// A shift register that shows nothing of the glyphs, or shows their pixels in twos.

// onlyBars gives the line that all lines of all cells show, as a register has it that is never loaded: it shifts round what it held when it
// woke, or what stands at its input. cells are those that were read.
func (p *page) onlyBars() (line uint8, cells int, ok bool) {
	count, most := map[uint64]int{}, 0
	var usual uint64
	for i, rows := range p.rows {
		if p.faint[i] {
			continue
		}
		cells++
		if count[rows]++; count[rows] > most {
			usual, most = rows, count[rows]
		}
	}
	line = uint8(usual)
	if cells == 0 || float64(most) < allBars*float64(cells) || text.Alike(line)(0) != usual {
		return 0, cells, false
	}
	return line, cells, true
}

// allBars is the part of the cells that must show the same bars: all but those misread, such as where the ink changes. Common practice, no source.
const allBars = 0.9

// oneFill is how many screens are filled with one character, barsFill how many of a font's characters are bars that go through all lines, and inksFill how
// many screens that are filled with one have several inks, each in some part of them. Common practice, no source.
const (
	oneFill  = 0.3
	barsFill = 0.04
	inksFill = 0.05
)

// neverLoaded adds a register that is never loaded, on a screen that nothing is known of; clean is the log-likelihood of a good one.
func (t *screenText) neverLoaded(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	line, cells, ok := t.page.onlyBars()
	if !ok || line == 0 || line == math.MaxUint8 { // paper or ink alone: the screen may be cleared
		return
	}
	inks := map[int]int{}
	for _, ink := range t.page.ink {
		if ink >= 0 {
			inks[ink]++
		}
	}
	several, odds := 0, -math.Log(oneFill)
	if !t.page.fits { // else it is one of the font's
		odds -= math.Log(barsFill)
	}
	for _, n := range inks {
		if n >= fewCells {
			several++
		}
	}
	if several > 1 {
		odds -= math.Log(inksFill)
	}
	add(patterns.Fault{Kind: "shift-register"}, neverLoads, clean+odds,
		fmt.Sprintf("all of the %d cells that were read show the same bars in all of their lines, in %d inks: the register is never loaded", cells, several))
}

// neverLoadedAgainst adds it beside a reference.
func (t *screenText) neverLoadedAgainst(b textCells, plain, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	line, cells, ok := t.page.onlyBars()
	if !ok || line == 0 || b.want.different() < fewGlyphs {
		return
	}
	like := b.turned(turn{rows: text.Alike(line)}, plain)
	add(patterns.Fault{Kind: "shift-register"}, neverLoads, like-math.Log(256)+still,
		fmt.Sprintf("all of the %d cells that were read show the same bars in all of their lines, whatever the reference has there: the register is never loaded", cells))
}

// inTwos is the log-likelihood ratio of all characters having their pixels alike in twos, or their halves alike, as alike has it, where the font is not known; sorts is how
// many have, of of. A font's own strokes are two pixels wide in many hands, but begin at either of the two.
func (p *page) inTwos(alike text.Alteration) (odds float64, sorts, of int) {
	for _, rows := range p.sorts() {
		if barred(rows) {
			continue
		}
		of++
		if bits.OnesCount64(rows^alike(rows))*strayPixels <= bits.OnesCount64(rows) {
			sorts++
		}
	}
	if of < fewSorts {
		return 0, sorts, of
	}
	return math.Min(wideFont, nats.BetaSequence(of-sorts, of, 0.5, 50)-nats.BetaSequence(sorts, of, 0.5, 8)), sorts, of
}

// wideFont is how seldom, nats, a font is drawn in pixels twice as wide throughout. Common practice, no source.
const wideFont = 8.0

// pixelsInTwos adds such a register of a screen that its font is not known of; clean is the log-likelihood of none.
func (t *screenText) pixelsInTwos(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	for _, k := range []struct {
		alike text.Alteration
		why   string
	}{
		{text.PairsAlike(0), "have all of their pixels in twos, the two alike: the register shows each second pixel twice"},
		{text.HalfTwice(0), "have both of their halves alike: the register shows one half twice"},
	} {
		odds, sorts, of := t.page.inTwos(k.alike)
		add(patterns.Fault{Kind: "shift-register"}, pixelsInTwos/2, clean+odds, fmt.Sprintf("%d of %d sorts of characters %s", sorts, of, k.why))
	}
}
