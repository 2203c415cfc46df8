package characters

import (
	"math"

	"backporch/patterns"
)

// blank gives the log-likelihoods of an even picture area on a machine that draws and on a dead one.
func (t *screenText) blank() (alive, dead float64) {
	e := t.e
	if !e.Blank {
		return 0, -1e4
	}
	colour := e.Colour
	border := e.Survey.Border.Colour
	even := 1 / float64(len(e.Profile.Colours))
	edge, own := 1.0, 1.0 // of the border on a dead machine; of border and paper on one that draws
	if border >= 0 {
		edge = even
		if own = (1 - patterns.BorderIsPaper) * even * even; border == colour {
			own = patterns.BorderIsPaper * even
		}
	}
	latched := edge // a dead picture leaves the border as it is
	if t.good != nil && t.good.Border.Colour >= 0 && border >= 0 {
		if latched = 1; t.good.Border.Colour != border {
			latched = latchToo
		}
	}
	dead = math.Log(patterns.OtherDead * latched)
	if colour == 0 || e.Edgeless && colour == border {
		dead = math.Log(0.48 * latched)
	}
	if e.Survey.Registration.Edges > contours*2*e.Profile.Height {
		dead += math.Log(edgesInside)
	}
	shown := patterns.EmptyScreen
	if !e.Edgeless {
		shown += patterns.FillScreen / 2
	}
	return math.Log(shown * own), dead
}

// Of a dead picture: how often its border is another colour than it should be, so that the latch died as well; how many times
// the edges of its contour, two a line, echoes and bars may make of them; and how often one has more, so that something is drawn that
// was not read. Common practice, no source.
const (
	latchToo    = 0.02
	contours    = 4
	edgesInside = 0.02
)
