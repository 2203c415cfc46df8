package survey

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/analyse/cells"
	"backporch/analyse/grid"
	"backporch/video"
	"backporch/video/display"
)

// Whose cells fit best by less than this ratio of mean squares is a guess; a cell that fits no
// display counts no further than worstCell, codes squared. Common practice, no source.
const (
	surelyChosen = 1.25
	worstCell    = 1600.0
	leastMisfit  = 2.0 // what is left of a perfect fit, codes squared
)

// choose takes the display of the standard that explains the picture best, and says so where
// another does nearly as well.
//
// Edges on a pixel grid are not enough: one display's pixels may be nine eighths of another's, and then a
// column in every eighth of the one lies on the other's grid. What tells them apart is how well two colours
// a cell and the pixels of the grid, and on a Text display one background, give back what is seen.
func choose(s *analyse.Stack, standard video.Standard, o Options) (best *display.Profile, note string) {
	var first, second *display.Profile
	least, next := math.Inf(1), math.Inf(1)
	for _, p := range o.Displays {
		if standard != video.UnknownStandard && p.Standard != standard {
			continue
		}
		if best == nil {
			best = p
		}
		reg := grid.Register(s, p, grid.Options{})
		if !reg.OK {
			continue
		}
		misfit := leastMisfit
		list := cells.Recover(s, reg, p).Cells
		for i := range list {
			misfit += math.Min(float64(list[i].Misfit*list[i].Misfit), worstCell) / float64(len(list))
		}
		if reg.Edges == 0 { // nothing but the border to go by
			misfit += worstCell
		}
		switch {
		case misfit < least:
			first, second, least, next = p, first, misfit, least
		case misfit < next:
			second, next = p, misfit
		}
	}
	switch {
	case first == nil && best != nil:
		return best, fmt.Sprintf("no display fits; %s was taken: name the right one with --display", best.Name)
	case first == nil:
		return nil, ""
	case second != nil && next < least*surelyChosen:
		return first, fmt.Sprintf("the display was guessed: %s fits nearly as well as %s", second.Name, first.Name)
	}
	return first, ""
}
