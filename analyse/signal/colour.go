package signal

import (
	"math"

	"backporch/analyse"
)

// clippedShare is the part of the screen's samples at the top of the codes, in %, as the device gave them: a picture that is too large may have been taken to
// its right size since. How many lie a code and a half to either side is what a codec and rounding leave open.
func (m *layout) clippedShare() *analyse.Estimate {
	mean := m.in.Stack.Y
	if p := m.in.Path; p != nil && p.frame.width == m.in.Stack.Width && len(p.given) > 0 && p.given[0].Height == m.in.Stack.Height {
		mean = p.mean()
	}
	var n [3]int
	all := 0
	for i := range m.runs {
		r := &m.runs[i]
		from, to := m.inside(r, 0)
		for _, v := range mean[r.line*m.in.Stack.Width+from : r.line*m.in.Stack.Width+to] {
			for k, end := range [3]float32{topEnd - 1.5, topEnd, topEnd + 1.5} {
				if v >= end {
					n[k]++
				}
			}
			all++
		}
	}
	if all == 0 {
		return nil
	}
	share := func(k int) float64 { return 100 * float64(n[k]) / float64(all) }
	e := &analyse.Estimate{Value: share(1), Spread: math.Hypot((share(0)-share(2))/2, leastShare), Limit: "codes"}
	if m.in.Levels.Full {
		e.Limit = "device" // it puts white itself at the codes' end
	}
	return e
}

// topEnd is a code and a half below the last that devices of 1 to 254 give (ITU-R BT.601).
const topEnd = 252.5

// leastShare, %: a letter or two that peaking drives to the end are no clipping (common practice, no source).
const leastShare = 0.05
