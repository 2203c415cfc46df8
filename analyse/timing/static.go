package timing

import (
	"math"
	"sort"
)

// edgeWindow is how many samples of a 720-sample line about an edge are looked at.
const edgeWindow = 40

// edgeShape is the least sum of squares about the mean of an edge of a quarter of white (55 codes) in
// the middle of the window: lower ones are bent by what the decoder leaves of the subcarrier.
const edgeShape = 55 * 55 * (edgeWindow - 2*reach - 2) / 4

// reach is how far, in samples, such an edge is looked for to either side.
const reach = 6

// static gives each line's displacement that all fields share, from the straight blanking edges near
// the ends of the lines, where a border leaves nothing else; NaN where a line doesn't show one. Each line is fitted as a + b t + c t', t the median over the lines about that edge; then d = -c/b. Lines torn
// further than a sample are looked for in whole samples first. An
// edge where the colour changes doesn't count. It is nil when there is no edge.
func (m *mean2D) static() []float64 {
	window := edgeWindow * m.width / 720
	if window < 24 {
		return nil
	}
	at := make([]float64, m.height)
	found := 0
	whole := m.template()
	first := strongest(whole, window/2-m.width/60, m.width/12)
	second := strongest(whole, m.width*11/12, m.width-window/2+m.width/60)
	for y := range at {
		sum, weight := 0.0, 0.0
		if m.count[y] > 0 {
			line := m.line(y)
			for _, edge := range []int{first, second} {
				from := max(0, min(m.width-window, edge-window/2))
				if m.coloured[y*m.width+edge] {
					continue
				}
				if d, w, ok := fitEdge(line[from:from+window], whole[from:from+window]); ok {
					sum += d * w
					weight += w
				}
			}
		}
		if at[y] = math.NaN(); weight > 0 {
			at[y] = sum / weight
			found++
		}
	}
	if found < m.height/4/lineStep {
		return nil
	}
	return at
}

// template is the median over the lines.
func (m *mean2D) template() []float64 {
	t := make([]float64, m.width)
	column := make([]float64, 0, m.height)
	for x := range t {
		column = column[:0]
		for y, n := range m.count {
			if n > 0 {
				column = append(column, float64(m.line(y)[x]))
			}
		}
		sort.Float64s(column)
		t[x] = column[len(column)/2]
	}
	return t
}

// strongest is where t is steepest.
func strongest(t []float64, from, to int) int {
	best := from
	for x := from; x < to; x++ {
		if math.Abs(t[x+1]-t[x-1]) > math.Abs(t[best+1]-t[best-1]) {
			best = x
		}
	}
	return best
}

// fitEdge places a piece of a line against the template; w is the weight of the answer.
func fitEdge(line []float32, t []float64) (d, w float64, ok bool) {
	best := math.Inf(1)
	for s := -reach; s <= reach; s++ {
		shift, energy, left, fits := fitShift(line, t, s)
		if fits && left < best {
			best, d, w, ok = left, shift, energy, true
		}
	}
	return d, w, ok
}

// fitShift fits a + b t(x-s) + c t'(x-s) by least squares.
func fitShift(line []float32, t []float64, s int) (d, energy, left float64, ok bool) {
	var n, st, sg, sf, stt, sgg, stg, stf, sgf, sff float64
	for x := reach + 1; x < len(line)-reach-1; x++ {
		i := x - s
		tv, gv, fv := t[i], (t[i+1]-t[i-1])/2, float64(line[x])
		n++
		st += tv
		sg += gv
		sf += fv
		stt += tv * tv
		sgg += gv * gv
		stg += tv * gv
		stf += tv * fv
		sgf += gv * fv
		sff += fv * fv
	}
	stt, sgg, stg = stt-st*st/n, sgg-sg*sg/n, stg-st*sg/n
	stf, sgf, sff = stf-st*sf/n, sgf-sg*sf/n, sff-sf*sf/n
	det := stt*sgg - stg*stg
	if stt < edgeShape || sgg < minGradient/2 || det < 1e-6*stt*sgg {
		return 0, 0, 0, false
	}
	b, c := (stf*sgg-sgf*stg)/det, (sgf*stt-stf*stg)/det
	left = sff - b*stf - c*sgf
	// The line must show the same edge, at about its height, and little else.
	if b < 0.5 || b > 2 || left > 0.05*sff || math.Abs(c/b) > 1 {
		return 0, 0, left, false
	}
	return float64(s) - c/b, sgg, left, true
}
