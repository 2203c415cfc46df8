package composite

import (
	"math"
	"time"

	"backporch/video"
)

// A lineCounter finds field sync and counts lines from it.
type lineCounter struct {
	nominal  float64 // lines a field, by the standard
	free     float64 // lines a field without field sync
	owed     float64 // part of a line that free running has left over
	charge   float64 // s of sync level lately, the integrator of a sync separator
	line     int     // lines since the line on which field sync began
	half     bool    // field sync began in the middle of that line
	previous bool    // half of the field before
	length   int     // lines of the last whole field
	absent   int     // fields in a row without field sync
	found    int     // field syncs found
}

// fire is how long sync level has to last to be field sync.
const fire = 14e-6

// advance takes in the line from zero on and says whether a new field began on it.
func (c *lineCounter) advance(x []float32, base int64, f *flywheel, zero float64) bool {
	// A mean over one subcarrier cycle keeps strong colours out.
	cycle := max(1, int(math.Round(f.cycle)))
	stride := 2 * cycle
	limit := float32((f.tip+f.black)/2) * float32(cycle)
	from := max(0, int(zero)-int(base))
	to := min(len(x), int(zero+f.period)-int(base))
	dt := float64(stride) / f.rate
	c.line++
	began, at := false, 0.0
	for i := from; i+cycle <= to; i += stride {
		before := c.charge
		if sum(x[i:i+cycle]) < limit {
			c.charge = min(c.charge+dt, 2*fire)
		} else {
			c.charge = max(c.charge-dt, 0)
		}
		if before < fire && c.charge >= fire && !began {
			began, at = true, float64(i-from)/float64(to-from)
		}
	}
	if began && c.accept() {
		c.half = at > 0.5 && at-fire*f.rate/f.period > 0.25
		if c.found > 0 && c.absent == 0 {
			c.length = c.line
		}
		c.line, c.absent = 0, 0
		c.found++
		return true
	}
	last := int(math.Ceil(c.nominal)) + 8
	if c.absent > 3 || c.found == 0 {
		// Free running at a rate of its own: the picture rolls.
		last = int(c.free + c.owed)
	}
	if c.line >= last {
		c.half = false
		if c.absent > 3 || c.found == 0 || c.length == 0 {
			c.owed += c.free - float64(last)
			c.line = 0
		} else { // it should have come earlier: keep time
			c.line -= c.length
		}
		c.absent++
		return true
	}
	return false
}

// accept opens the window for field sync: noise far from it does nothing.
func (c *lineCounter) accept() bool {
	if c.found == 0 || c.absent > 3 {
		return true
	}
	return float64(c.line) > c.nominal*0.9
}

// FirstLine is the line that a capture's field begins with, counted from the one on which
// field sync begins: 23 (625/50, counted from line 1) and 23 (525/60, counted from line 4),
// as devices mostly have it; ITU-R BT.1700, SMPTE 170M for the count, common
// practice for the choice.
func FirstLine(s video.Standard) int {
	if s == video.Std525 {
		return 19
	}
	return 22
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
