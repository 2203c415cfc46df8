package judge

import "math"

// laneScatter is the deviation of ln of how often lanes are hit by themselves. Common practice, no source.
const laneScatter = 0.35

// excess is how much better a lane's count of events is explained by a fault of its
// own than by what befalls every lane: the log-likelihood ratio of two Poisson counts, halved
// for neighbouring events are not independent, and no more than the lanes' own scatter allows. What screens and
// misreading do to the lanes differs by a factor whose logarithm has a standard deviation of laneScatter. ends is how many times as often as the others the
// lanes at a cell's ends have them by themselves.
func excess(counts [8]int, lane int, ends float64) float64 {
	share := func(b int) float64 {
		if b == 0 || b == 7 {
			return ends
		}
		return 1
	}
	second, total, of := 0.0, 0.0, 0.0
	for b, n := range counts {
		if b != lane {
			second = math.Max(second, float64(n)*share(lane)/share(b))
			total += float64(n)
			of += share(b)
		}
	}
	n, mean := float64(counts[lane]), math.Max(0.3, total/of)*share(lane)
	if n <= second {
		return 0
	}
	z := math.Log((n+0.5)/(second+0.5)) / laneScatter
	return math.Min(0.5*(n*math.Log(n/mean)-(n-mean)), z*z/2)
}

// cellEnds is how often pixels at a cell's ends break with cells like theirs, beside those in its middle: what stands in the next cell spreads into them. 103 to 172
// on 34 good machines' captures by simulators that others wrote.
const cellEnds = 1.8
