package characters

import (
	"fmt"
	"maps"
	"slices"
)

// Unread says why a picture of which no fault stands out is not clean all the same: what differs is none that is known, or the codes can't be
// judged. "" where it is.
func (e *Screen) Unread() string {
	if e.Blank {
		return ""
	}
	f := &forms{}
	p := pageBeside(e.Survey, e.Reference, e.Profile, f)
	const font = "the characters are not those of the font at hand, so that no bit of their codes is known: give the machine's with --font"
	if e.Reference != nil {
		want := pageOf(e.Reference, e.Profile, f)
		if p.fits && want.fits {
			return ""
		}
		p.settle(want, 0)
		p.doubt(e.Survey.Cells, want)
		differ, steady, of := substituted(textCells{e: e, seen: p, want: want}.ownTaken())
		switch {
		case steady*2 >= differ && steady >= leastFlips:
			return fmt.Sprintf("%d cells differ from the reference, and %d of them are of characters that always show as the same other one: a lane of the screen memory, or the character generator; %s", differ, steady, font)
		case differ*20 > of:
			return fmt.Sprintf("%d of %d cells differ from the reference; %s", differ, of, font)
		}
		return ""
	}
	if p.fits && p.different() < 2 && filled(p.only()) < testFill {
		return "one character stands all over the screen: memory that a test has filled looks like this, and so do stuck lanes"
	}
	return ""
}

// Codeless tells of a screen whose codes are not known for want of its font.
func (e *Screen) Codeless() bool {
	return !e.Blank && !pageOf(e.Survey, e.Profile, &forms{}).fits
}

// What is said of a screen without its font.
const (
	CodelessGood = "colours, border and what changes over time show nothing wrong, nor do characters repeat by address or by their place on the raster"
	CodelessWhy  = "the characters are not those of the font at hand, so that the bits of their codes were not judged: the machine's own, with --font, or a reference of the same screen would tell"
)

// substituted counts the cells that differ from the reference's, those of them whose character
// shows as the same other one nearly wherever it stands, and the written ones of those compared.
func substituted(t textCells) (differ, steady, of int) {
	became, stands := tally{}, map[int]int{}
	for i, seen := range t.seen.shape {
		want := t.want.shape[i]
		if seen < 0 || want < 0 {
			continue
		}
		stands[want]++
		if !t.want.blank[i] || !t.seen.blank[i] {
			of++ // what is blank in both says little
		}
		if seen != want {
			differ++
			became.add(want, seen)
		}
	}
	for _, want := range slices.Sorted(maps.Keys(became)) {
		for _, n := range became[want] {
			if n >= 2 && n*10 >= stands[want]*9 {
				steady += n
			}
		}
	}
	return differ, steady, of
}
