package signal

import (
	"math"

	"backporch/analyse"
)

// How low the one low-pass is that a soft edge speaks of is told by the edge's whole shape too: a decoder's trap and its own
// low-pass slow an edge beside it, by what nobody knows, so the pole is what is left when all of those that good chains have are tried. Each is
// a member of a family as in bandwidth.go; the pole's posterior is over a grid of equal steps of its logarithm.

const (
	poleFromHz, poleToHz = 0.25e6, 4e6
	poleSteps            = 41
	poleOpen             = 0.05 // of the frequency, at the least: an output's low-pass is not quite one pole (common practice, no source)
	leastSlow            = 4.0  // nats for a soft edge, from which on its pole is asked for: one output in fifty has one
)

// What stands beside the pole.
var (
	besideTraps    = []chain{{}, {trap: 0.5e6}, {trap: 0.7e6}, {trap: 0.9e6}, {trap: 0.7e6, flat: true}}
	besideSharp    = []float64{0, 0.3}
	besideMachines = []float64{4.2e6, 6.5e6}
)

// A poled is a member with its pole's place on the grid and its rise.
type poled struct {
	member
	k    int
	rise float64 // s, 10 to 90 %
}

var knownPoles store[poled]

func poleAt(k int) float64 {
	return poleFromHz * math.Pow(poleToHz/poleFromHz, float64(k)/(poleSteps-1))
}

// polesOf gives the members of the grid for pixels of so many seconds.
func polesOf(pixel, subcarrier float64) []poled {
	return knownPoles.of(pixel, subcarrier, func(w *waves) (list []poled) {
		for k := range poleSteps {
			for _, c := range besideTraps {
				for _, c.sharp = range besideSharp {
					for _, c.machine = range besideMachines {
						c.family, c.pole = soft, poleAt(k)
						m := w.member(c)
						list = append(list, poled{member: m, k: k, rise: m.rise() * pixel})
					}
				}
			}
		}
		return list
	})
}

// rise is the 10 to 90 % time of a member's step in pixels; NaN where it has none.
func (m *member) rise() float64 {
	low, high := math.NaN(), math.NaN()
	step := make([]float64, len(m.wave))
	for i, v := range m.wave {
		step[i] = v
		if i >= shapeFine {
			step[i] += step[i-shapeFine]
		}
	}
	half := int(m.half*shapeFine) + shapeLength/2
	if math.IsNaN(m.half) || half < 1 || half >= len(step)-1 {
		return math.NaN()
	}
	for i := half + 1; i > 0; i-- {
		if step[i-1] <= 0.1 {
			low = float64(i-1) + (0.1-step[i-1])/(step[i]-step[i-1])
			break
		}
	}
	for i := half; i+1 < len(step); i++ {
		if step[i+1] >= 0.9 {
			high = float64(i) + (0.9-step[i])/(step[i+1]-step[i])
			break
		}
	}
	return (high - low) / shapeFine
}

// pole is the posterior of the one low-pass that the response has beside a good chain's, Hz, and of the rise time of the whole, ns.
func (r *response) pole(subcarrierHz float64) (hz, rise *analyse.Estimate) {
	main := 0.0
	for i, v := range r.taps {
		if r.at(i) < tailPx+6 { // one of a quarter of a megahertz is over by then, but for a twentieth
			main += v / 2
		}
	}
	if main < 0.2 {
		return nil, nil
	}
	peak := 0.0
	for _, v := range r.taps {
		peak = math.Max(peak, v/main)
	}
	f := newShapes(r, main, peak)
	if f == nil {
		return nil, nil
	}
	list := polesOf(r.pixel*1e-9, subcarrierHz)
	gains, most := make([]float64, len(list)), math.Inf(-1)
	for i := range list {
		gains[i] = math.Inf(-1)
		if !math.IsNaN(list[i].rise) {
			gains[i] = f.like(&list[i].member)
			most = math.Max(most, gains[i])
		}
	}
	if math.IsInf(most, -1) {
		return nil, nil
	}
	var sum, first, second, times, squares float64
	for i, g := range gains {
		w := math.Exp(g - most)
		x := math.Log(poleAt(list[i].k))
		sum += w
		first += w * x
		second += w * x * x
		if w > 0 {
			times += w * list[i].rise
			squares += w * square(list[i].rise)
		}
	}
	mean := first / sum
	part := math.Hypot(math.Sqrt(math.Max(0, second/sum-mean*mean)), poleOpen)
	ns := times / sum * 1e9
	spread := math.Sqrt(math.Max(0, squares/sum-square(times/sum))) * 1e9
	value := math.Exp(mean)
	return &analyse.Estimate{Value: value, Spread: part * value, Limit: "edges"},
		&analyse.Estimate{Value: ns, Spread: math.Hypot(spread, poleOpen*ns), Limit: "edges"}
}
