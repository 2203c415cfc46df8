package beside

import (
	"cmp"
	"math"
	"slices"

	"backporch/analyse"
)

// spread is the deviation of what is left over about each pixel, as far as luma goes up and down about it in the good machine's capture: edges and fine
// patterns are where two decoders differ. It is told by the quarter of such places where least is left, so that what a fault changes does not count.
func (d *Difference) spread(b *samples) []float64 {
	w, h := d.p.Width, d.p.Height
	lively := make([]float64, w*h)
	for y := range h {
		for x := range w {
			lo, hi := math.Inf(1), math.Inf(-1)
			for dy := -1; dy <= 1; dy++ {
				for dx := -2; dx <= 2; dx++ {
					v := b.at(x+dx, y+dy)
					lo, hi = math.Min(lo, v), math.Max(hi, v)
				}
			}
			lively[y*w+x] = hi - lo
		}
	}
	return bySize(d.left, lively, 1)
}

// fewPlaces is how many places a sort has at the least. What is left over of cells' chroma is at the most mostLively times what is left everywhere, or livelyPart of what goes
// on there: more is a fault's doing, which may change all cells of some colours and no others. Common practice, no source.
const (
	fewPlaces  = 60
	mostLively = 5
	livelyPart = 0.06
)

// quarter is the deviation of values of these sizes by the one below which a quarter of them are, 0.3186 deviations of a normal one: a fault may change most of the
// places of a sort. It changes their order.
func quarter(sizes []float32) float64 {
	if len(sizes) == 0 {
		return leastScale
	}
	return math.Max(leastScale, float64(analyse.Select(sizes, len(sizes)/4))/0.3186)
}

// bySize is the deviation of values among those that are as lively, in codes: sorts are half an octave wide, or as wide as takes in
// fewPlaces; livelyPart is what part of how lively they are it is at the most.
func bySize(v, lively []float64, livelyPart float64) []float64 {
	var order []int
	var all []float32
	for i := range v {
		if !math.IsNaN(v[i]) {
			order = append(order, i)
			all = append(all, float32(math.Abs(v[i])))
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(lively[j], lively[i]) })
	most := mostLively * quarter(all)
	out := make([]float64, len(v))
	for from := 0; from < len(order); {
		to := min(from+fewPlaces, len(order))
		for to < len(order) && (lively[order[to]] > lively[order[from]]/math.Sqrt2 || lively[order[to]] < 1) {
			to++
		}
		if len(order)-to < fewPlaces {
			to = len(order)
		}
		off := make([]float32, 0, to-from)
		for _, i := range order[from:to] {
			off = append(off, float32(math.Abs(v[i])))
		}
		sd := math.Min(quarter(off), math.Max(most, livelyPart*lively[order[(from+to)/2]]))
		for _, i := range order[from:to] {
			out[i] = sd
		}
		from = to
	}
	return out
}

// compareChroma does for the cells' mean chroma what compare does for luma.
func (d *Difference) compareChroma(s, good *analyse.Survey) {
	a, b := s.Stack, good.Stack
	if a.ChromaWidth == 0 || b.ChromaWidth == 0 || s.Signal.ChromaDead || good.Signal.ChromaDead {
		return
	}
	n, columns := len(good.Cells), d.p.Columns()
	here, there := [2][]float64{make([]float64, n), make([]float64, n)}, [2][]float64{make([]float64, n), make([]float64, n)}
	for i := range good.Cells {
		u, v := chromaOf(a, s.Registration, &good.Cells[i]), chromaOf(b, good.Registration, &good.Cells[i])
		for k := range 2 {
			here[k][i], there[k][i] = u[k], v[k]
		}
	}
	// A device turns all hues, makes all colours paler or not, and adds a little; its chroma may come later than the other's: what then is in a cell goes by its neighbours.
	const terms, own = 7, 3
	var both, rows, ideal []float64
	steps := make([]float64, n)
	for k := range 2 {
		for i := range good.Cells {
			l, r := i-min(1, i%columns), i+min(1, columns-1-i%columns)
			left, right := there[k][l]-there[k][i], there[k][r]-there[k][i]
			u, v := there[0][i]-128, there[1][i]-128
			row := []float64{u, 0, -v, left, right, 1, 1}
			if k == 1 {
				row = []float64{0, v, u, left, right, 0, 1}
			}
			both, rows = append(both, here[k][i]-128), append(rows, row...)
			steps[i] = math.Max(steps[i], math.Max(math.Abs(left), math.Abs(right)))
		}
	}
	for i := range good.Cells {
		ideal = append(ideal, d.mean(&good.Cells[i])...)
	}
	r := regression{v: both, rows: rows, terms: terms, first: []float64{1, 1, 0, 0, 0, 0}}
	f, ok := r.fit()
	if d.tinted = true; !ok || !deviceTurn(f.taps[0], f.taps[1], f.taps[2], f.taps[5]+f.taps[6], f.taps[6]) {
		return
	}
	for k := range 2 {
		d.chroma[k] = f.left[k*n : (k+1)*n]
		d.chromaSD[k] = bySize(d.chroma[k], steps, livelyPart)
		r := regression{v: here[k], rows: ideal, terms: own}
		g, ok := r.fit()
		if !ok {
			return
		}
		d.toChroma[k] = g.taps
	}
	d.withChroma, d.tinted = true, false
}

// deviceTurn tells whether one capture's chroma by the other's, in Cb, in Cr, across and what is added to both, is as two devices may have it: turned a little, paler or
// not. A lost colour signal, or one that is held, makes other colours of them. The bounds are common practice, no source.
func deviceTurn(alongCb, alongCr, across, addedCb, addedCr float64) bool {
	const mostTurn, mostSkew, mostAdded, leastSize, mostSize = 25 * math.Pi / 180, 0.25, 8.0, 0.4, 2.5
	along := (alongCb + alongCr) / 2
	size := math.Hypot(along, across)
	return size > leastSize && size < mostSize && math.Abs(math.Atan2(across, along)) < mostTurn && math.Abs(alongCb-alongCr) < 2*mostSkew*size &&
		math.Hypot(addedCb, addedCr) < mostAdded
}

// mean is the display's mean U and V of a cell as it is read, and 1.
func (d *Difference) mean(c *analyse.Cell) []float64 {
	out := make([]float64, 3)
	for y := range 8 {
		for x := range 8 {
			k := d.p.Colours[max(0, colourAt(c, x, y))]
			out[0], out[1] = out[0]+k.U/64, out[1]+k.V/64
		}
	}
	out[2] = 1
	return out
}

// chromaOf is a cell's mean Cb and Cr.
func chromaOf(s *analyse.Stack, reg analyse.Registration, c *analyse.Cell) (out [2]float64) {
	scale := float64(s.ChromaWidth) / float64(s.Width)
	x0 := int(math.Round((reg.OriginX + float64(c.Column*8)*reg.PitchX) * scale))
	x1 := int(math.Round((reg.OriginX + float64(c.Column*8+8)*reg.PitchX) * scale))
	x0, x1 = max(0, min(x0, s.ChromaWidth-1)), max(1, min(x1, s.ChromaWidth))
	n := 0.0
	for y := range 8 {
		line := int(math.Round(reg.OriginY + float64(c.Row*8+y)*reg.PitchY))
		if line < 0 || line >= s.Height {
			continue
		}
		for x := x0; x < max(x1, x0+1); x++ {
			out[0] += float64(s.Cb[line*s.ChromaWidth+x])
			out[1] += float64(s.Cr[line*s.ChromaWidth+x])
			n++
		}
	}
	out[0], out[1] = out[0]/math.Max(n, 1), out[1]/math.Max(n, 1)
	return out
}

// chromaOdds is what a cell's chroma says of the same question as odds.
func (d *Difference) chromaOdds(c, g *analyse.Cell) (sum float64) {
	if !d.withChroma {
		return 0
	}
	read, as := d.mean(c), d.mean(g)
	i := c.Row*d.p.Columns() + c.Column
	for k := range 2 {
		would := d.toChroma[k][0]*(read[0]-as[0]) + d.toChroma[k][1]*(read[1]-as[1])
		sum += rho(d.chroma[k][i]-would, d.chromaSD[k][i]) - rho(d.chroma[k][i], d.chromaSD[k][i])
	}
	return sum
}

// mostChroma is how many deviations a cell's chroma may be from the good machine's and still be the same. Common practice, no source.
const mostChroma = 4

func (d *Difference) chromaStill(c *analyse.Cell) bool {
	if !d.withChroma {
		return true
	}
	i := c.Row*d.p.Columns() + c.Column
	for k := range 2 {
		if math.Abs(d.chroma[k][i]) > mostChroma*d.chromaSD[k][i] {
			return false
		}
	}
	return true
}
