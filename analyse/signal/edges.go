package signal

import (
	"math"
	"sort"
)

const (
	edgeReach  = 12  // samples to either side of an edge that its shape is drawn over
	finePhases = 8   // places between two samples
	leastStep  = 0.3 // of white: smaller edges drown in noise and in what is left of the subcarrier
	fewEdges   = 24  // edges needed, and
	fewPlaces  = 3   // different places on the line, so that the phases are filled
	plateau    = 6   // samples off an edge from which a run counts as level
)

// edges gives the 10 to 90 % rise time in ns and the overshoot in % of the step. Pixels
// are no whole number of samples wide, so edges at different places meet the sampling grid at
// different phases; laid over each other by their known places they draw the edge between the
// samples. Then each place is moved to fit the drawing, which takes out errors of registration.
// Only edges between greys count: at others the luma holds remains of the subcarrier.
func (m *layout) edges(white float64) (riseNs, overshoot *float64) {
	places := map[int]*place{}
	all := 0
	for i := 1; i < len(m.runs); i++ {
		a, b := &m.runs[i-1], &m.runs[i]
		if a.line != b.line || math.Abs(a.to-b.from) > 1e-6 || !m.grey(a.colour) || !m.grey(b.colour) {
			continue
		}
		a0, a1 := m.inside(a, plateau)
		b0, b1 := m.inside(b, plateau)
		if a1-a0 < 2 || b1-b0 < 2 || a.to-a.from < edgeReach || b.to-b.from < edgeReach {
			continue
		}
		before, after := m.mean(a.line, max(a0, a1-12), a1), m.mean(b.line, b0, min(b1, b0+12))
		base := int(math.Floor(a.to)) // the sample before the edge
		if math.Abs(after-before) < leastStep*white || base-edgeReach < 0 || base+edgeReach >= m.in.Stack.Width {
			continue
		}
		p := places[b.first]
		if p == nil {
			p = &place{at: a.to, phase: a.to - float64(base)}
			places[b.first] = p
		}
		line := m.in.Stack.Y[a.line*m.in.Stack.Width:]
		for k := range p.sum {
			v := (float64(line[base-edgeReach+k]) - before) / (after - before)
			// Beyond the next edge it is no longer this one's shape.
			x := float64(base - edgeReach + k)
			if x < a.from+2 {
				v = 0
			}
			if x > b.to-2 {
				v = 1
			}
			p.sum[k] += v
		}
		p.n++
		all++
	}
	if all < fewEdges || len(places) < fewPlaces {
		return nil, nil
	}
	list := make([]*place, 0, len(places))
	for _, p := range places {
		list = append(list, p)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].at < list[j].at }) // the same sums in every run
	shape := draw(list)
	for range 2 {
		for _, p := range list {
			p.align(shape)
		}
		shape = draw(list)
	}
	return m.shapeOf(shape)
}

// A place is the edges at one place on the lines, added up.
type place struct {
	sum   [2*edgeReach + 1]float64 // by sample, the one before the edge in the middle
	n     float64
	at    float64 // samples
	phase float64 // of the edge after the middle sample
}

// middle is where the edge lies in a drawn shape.
const middle = edgeReach * finePhases

// draw lays the places over each other.
func draw(list []*place) []float64 {
	shape, weight := make([]float64, 2*middle+1), make([]float64, 2*middle+1)
	for _, p := range list {
		for k, v := range p.sum {
			at := (float64(k-edgeReach)-p.phase)*finePhases + middle
			i := int(math.Floor(at))
			part := at - float64(i)
			if i >= 0 && i < len(shape) {
				shape[i] += v * (1 - part)
				weight[i] += p.n * (1 - part)
			}
			if i+1 >= 0 && i+1 < len(shape) {
				shape[i+1] += v * part
				weight[i+1] += p.n * part
			}
		}
	}
	for i := range shape {
		if weight[i] > 0 {
			shape[i] /= weight[i]
		} else if i > 0 {
			shape[i] = shape[i-1]
		}
	}
	return shape
}

// align moves a place to where it fits the shape best, by a step of least squares.
func (p *place) align(shape []float64) {
	var gd, gg float64
	for k := edgeReach - 4; k <= edgeReach+4; k++ {
		at := (float64(k-edgeReach)-p.phase)*finePhases + middle
		i := int(math.Floor(at))
		if i < finePhases || i+finePhases+1 >= len(shape) {
			continue
		}
		part := at - float64(i)
		value := shape[i]*(1-part) + shape[i+1]*part
		g := (shape[i+2] - shape[i-1]) / 3 * finePhases // a sample
		gd += g * (p.sum[k]/p.n - value)
		gg += g * g
	}
	if gg > 0 {
		p.phase = max(-1, min(2, p.phase-gd/gg))
	}
}

// shapeOf reads the drawn edge.
func (m *layout) shapeOf(shape []float64) (riseNs, overshoot *float64) {
	low, high := math.NaN(), math.NaN()
	half := middle
	for half > 1 && shape[half-1] > 0.5 {
		half--
	}
	for half < len(shape)-2 && shape[half] < 0.5 {
		half++
	}
	for i := half; i > 0; i-- {
		if shape[i-1] <= 0.1 {
			low = float64(i-1) + (0.1-shape[i-1])/(shape[i]-shape[i-1])
			break
		}
	}
	for i := half - 1; i < len(shape)-1; i++ {
		if shape[i+1] >= 0.9 {
			high = float64(i) + (0.9-shape[i])/(shape[i+1]-shape[i])
			break
		}
	}
	if math.IsNaN(low) || math.IsNaN(high) || high <= low {
		return nil, nil
	}
	rise := (high - low) / finePhases * m.sampleNs()
	greatest := 1.0
	for _, v := range shape[half:] {
		greatest = max(greatest, v)
	}
	over := 100 * (greatest - 1)
	return &rise, &over
}

// sampleNs is the time between two samples: the line's over BT.601's 864 or 858 for
// 720 samples.
func (m *layout) sampleNs() float64 {
	scan := m.in.Display.Standard.Scan()
	return 1e9 / scan.LineHz / (float64(scan.LineSamples) * float64(m.in.Stack.Width) / 720)
}

func (m *layout) grey(colour uint8) bool {
	return int(colour) < len(m.in.Display.Colours) && m.in.Display.Colours[colour].Saturation() < 0.02
}
