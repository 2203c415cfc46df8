package judge

import (
	"math"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// smearDots is how often a path too narrow for the subcarrier, or one that brings the picture twice, dots the map of a screen's colours in one bit as a weak lane does:
// little is left of chroma, smeared along the line, so that cells beside others read as other colours. Common practice, no source.
const smearDots = 0.1

// smeared weighs what dots of other colours say for a weak lane against such a path: where the path is at fault they are its as well. Upright bars that stand on the
// same pixels of all cells are a lane's doing no less than a weak lane's is, and a second copy of the picture lies on the pixels of any lane.
func smeared(logic, paths []patterns.Hypothesis, e *evidence) {
	part, still := 0.0, 0.0 // still: what stands on a lane's pixels
	for i := range paths {
		f := paths[i].Fault
		switch {
		case f == nil:
		case f.Kind == "low-bandwidth" || f.Kind == "ghost":
			part += paths[i].Like
			if f.Kind == "ghost" {
				still += paths[i].Like
			}
		case f.Kind == "fixed-bars" && f.PeriodPx != nil && onCells(*f.PeriodPx):
			still += paths[i].Like
		}
	}
	good := logic[0].Like
	for i := range logic {
		f := logic[i].Fault
		lane := oneLane(f)
		if lane < 0 {
			continue
		}
		dots := 0.0
		if f.Kind == "data-bit-weak" {
			dots, _ = e.scattering(lane)
		}
		if dots > 0 {
			left := dottedBy(dots, part)
			logic[i].Like += e.scattered(lane, left) - e.scattered(lane, dots)
			dots = left
		}
		odds := logic[i].Like - good - dots // what stands still is in all cells, and dots none
		if odds > 0 && still >= patterns.Named && e.laneMoving(lane) == 0 {
			logic[i].Like += dottedBy(odds, still) - odds
		}
	}
}

// oneLane is the lane of a fault that is told by bits of it that break with cells like theirs; -1: no such fault.
func oneLane(f *patterns.Fault) int {
	switch {
	case f == nil || f.Memory != "":
	case f.Kind == "data-bit-weak" && f.Bit != nil:
		return *f.Bit
	case f.Kind == "address-line-stuck" && len(f.Lanes) == 1:
		return f.Lanes[0]
	}
	return -1
}

// onCells tells whether bars of a period, pixels, stand on the same pixels of all cells: 8, or a part of it.
func onCells(period float64) bool {
	n := math.Round(8 / period)
	return n >= 1 && math.Abs(8/period-n) < 0.02*n
}

// dottedBy is what dots say for a lane that would be worth odds, nats, where a path is at fault by so much that dots as well.
func dottedBy(odds, part float64) float64 {
	clean, smears := math.Log(math.Max(1-part, 1e-12)), math.Log(math.Max(part, 1e-12)*smearDots)
	return odds + nats.LogSum(clean, smears) - nats.LogSum(clean, smears+odds)
}
