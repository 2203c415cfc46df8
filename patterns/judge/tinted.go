package judge

import (
	"math"

	"backporch/analyse"
	"backporch/patterns"
)

// What a bad path makes of the colours, and takes from faults of the logic that these speak for.

// dazzled takes from a luma that is stuck at its greatest what a level does that is too high, or cut off: all is bright then as well. And from
// every component what a second copy of the picture does, whose colours lie over all areas, and a path too narrow for the subcarrier, of whose colours little
// is left. A border of another colour says nothing of the latch where colour is lost.
func dazzled(logic, paths []patterns.Hypothesis, ghost *analyse.Ghost) {
	high, double, narrow, good, grey := 0.0, 0.0, 0.0, 0.0, 0.0
	for i := range paths {
		switch f := paths[i].Fault; {
		case f == nil:
			good += paths[i].Like
		case f.Kind == "level-high" || f.Kind == "clipping":
			high += paths[i].Like
		case f.Kind == "ghost":
			double += paths[i].Like
		case f.Kind == "low-bandwidth":
			narrow += paths[i].Like
		case f.Kind == "colour-lost":
			grey += paths[i].Like
		}
	}
	unaltered := math.Inf(-1)
	for i := range logic {
		if logic[i].Fault == nil {
			unaltered = math.Max(unaltered, logic[i].Like)
		}
	}
	tinted := narrow > 0.5 || double > 0.5 && ghost != nil && math.Abs(ghost.Pct.Value) > colouringGhost
	for i := range logic {
		f := logic[i].Fault
		if f != nil && f.Kind == "border-latch" && grey > 0.5 { // without its colour any border is another
			logic[i].Like = math.Min(logic[i].Like, unaltered)
		}
		if f == nil || f.Component == "" {
			continue
		}
		if f.Component == "luma" && *f.Level == 1 {
			logic[i].Like += math.Log(math.Max(1-high, 1e-6))
		}
		if tinted {
			logic[i].Like += math.Log(math.Max(good, 1e-3))
		}
	}
}

// colouringGhost, %, is the copy that puts colours off by more than devices do (common practice, no source).
const colouringGhost = 10.0

// recoloured are what a path does to colours: cells are then misread by their colours, in whatever lane these differ.
var recoloured = map[string]bool{"level-high": true, "level-low": true, "clipping": true, "hue-shift": true, "colour-lost": true}

// tinted takes from weak lanes what they gain by colours alone, where the path has changed all of these: the same chip holds the bitmap, eight bytes
// for one of colours.
func (c *comparison) tinted(logic, paths []patterns.Hypothesis) {
	bad := 0.0
	for i := range paths {
		if f := paths[i].Fault; f != nil && recoloured[f.Kind] {
			bad += paths[i].Like
		}
	}
	if bad < 0.5 || c.memory == nil {
		return
	}
	good := math.Inf(-1)
	for i := range logic {
		if logic[i].Fault == nil && !logic[i].Other {
			good = math.Max(good, logic[i].Like)
		}
	}
	for i := range logic {
		f := logic[i].Fault
		if f == nil || f.Kind != "data-bit-weak" || f.Bit == nil {
			continue
		}
		colours, all := 0, 0
		for a, w := range c.wrong {
			n := int(w >> *f.Bit & 1)
			all += n
			if a >= c.memory.p.ColourBase {
				colours += n
			}
		}
		if float64(colours) >= mostInColours*float64(all) {
			logic[i].Like = math.Min(logic[i].Like, good)
		}
	}
}
