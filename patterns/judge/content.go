package judge

import (
	"backporch/patterns"
)

// What a good machine's screen looks like before anything is known of it. These are
// stated beliefs about screens that people run on a bench: boot messages, test
// programs, listings, menus. Common practice, no source. They decide only where the picture leaves it open, and
// half of each is even, for what people run is not known well.

// paperShare is how often a colour is a screen's paper, by the 3-bit index
// (black, blue, red, magenta, green, cyan, yellow, white).
var paperShare = [8]float64{0.172, 0.113, 0.072, 0.068, 0.077, 0.087, 0.077, 0.333}

// inkShare is how often a colour is ink, before its paper is known.
var inkShare = [8]float64{0.233, 0.098, 0.092, 0.083, 0.092, 0.098, 0.103, 0.203}

// borderShare is how often a border that differs from the paper has a colour.
var borderShare = [8]float64{0.223, 0.122, 0.092, 0.077, 0.092, 0.103, 0.083, 0.207}

const (
	extraColour     = 1.0 / 8 // each further colour of a screen
	brightShare     = 0.25    // screens, or parts of one, in bright colours
	inverseShare    = 0.03    // pairs of colours in which the ink covers more than the paper
	stripedPicture  = 5.0     // nats against a pattern that has one pixel column of all cells set, before any cell is seen
	stripedCell     = 1.0     // and for each different cell that has it
	gappedCell      = 3.0     // nats against a cell whose strokes all stop at one inner column: one glyph in twenty
	laneLimit       = 30.0    // no look at a screen makes one odder than this
	colourViolation = 6.0     // nats for a colour that a hypothesis forbids, in three cells or more
	rareViolation   = 2.0     // and in fewer, where a misread cell may be all there is
)

// colourPrior is the probability of a colour byte's bits 0 to 6; ink is -1 where none shows.
func colourPrior(ink, paper int, bright bool) float64 {
	p := paperShare[paper&7]
	if ink >= 0 {
		p *= inkPrior(ink, paper)
	}
	if bright {
		return p * brightShare
	}
	return p * (1 - brightShare)
}

func inkPrior(ink, paper int) float64 {
	if ink&7 == paper&7 {
		return patterns.InkIsPaper
	}
	return (1 - patterns.InkIsPaper) * inkShare[ink&7] / (1 - inkShare[paper&7])
}

// borderPrior is the probability of a border colour beside a screen's main paper.
func borderPrior(border, paper int) float64 {
	p := (1 - patterns.BorderIsPaper) * borderShare[border&7]
	if border&7 == paper&7 {
		p += patterns.BorderIsPaper
	}
	return p
}

// fillShare is how often a screen that holds one byte throughout holds this one,
// or its complement, since ink and paper may stand for each other: memory tests write four of them.
func fillShare(b uint8) float64 {
	switch b {
	case 0, 0xff, 0x55, 0xaa:
		return 0.48
	}
	return 0.04 / 126
}
