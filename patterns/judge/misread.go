package judge

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
)

// What is misread: how often, at what cost, and how much hypotheses are worth where much is.

// errorRates is what a pixel costs that is misread, nats, and sets what part of it one costs at an edge. As many are misread as differ
// from the expected ones outside the worst lane, but no more than a picture of this noise gives; at edges, where a decoder's comb or trap
// blurs pixels into their neighbours, as many more as differ there than elsewhere: what is wrong in memory is wrong anywhere.
func (c *comparison) errorRates(e *evidence) (perPixel float64) {
	c.soft = 1
	type counts struct{ wrong, of [8]int }
	var edge, flat counts
	for i := range e.s.Cells {
		t := tileOf(&c.cells[i])
		wrong, edges := c.departs(t, &e.s.Cells[i]), t.edges()
		total := 0
		for _, w := range wrong {
			total += bits.OnesCount8(w)
		}
		if total > 24 { // another cell altogether
			continue
		}
		blurred := total <= softest
		for y, w := range wrong {
			for lane := range 8 {
				n := &flat
				if edges[y]>>lane&1 == 1 && blurred {
					n = &edge
				}
				n.wrong[lane] += int(w >> lane & 1)
				n.of[lane]++
			}
		}
	}
	worst := 0
	for lane := range 8 {
		if edge.wrong[lane]+flat.wrong[lane] > edge.wrong[worst]+flat.wrong[worst] {
			worst = lane
		}
	}
	sum := func(n [8]int) (out float64) {
		for lane, v := range n {
			if lane != worst {
				out += float64(v)
			}
		}
		return out
	}
	most := 0.002
	if snr := e.s.Signal.SNRdB; snr == nil || *snr < 28 {
		most = 0.01
	}
	all := sum(edge.wrong) + sum(flat.wrong)
	rate := math.Max(surePixel, math.Min(most, (all+1)/(float64(len(e.s.Cells)*56)+20000)))
	atEdges := sum(edge.wrong)/(sum(edge.of)+500) - flatWeight*(sum(flat.wrong)+1)/(sum(flat.of)+500)
	if atEdges = math.Min(atEdges, mostAtEdges); atEdges > rate {
		c.soft = math.Log(atEdges) / math.Log(rate)
	}
	return -math.Log(rate)
}

// Pixels at edges are misread by blur as far as they are wrong flatWeight times as often as others; no more than mostAtEdges of them. Common
// practice, no source.
const (
	flatWeight  = 3.0
	mostAtEdges = 0.12
)

// surePixel is the share of pixels that are misread at the least: what is not modelled misreads some. Common practice, no source.
const surePixel = 5e-4

// misreadCells adds up what cells pay. One in a hundred may be misread as a whole, whatever it
// then shows, at wholeCell nats; the rest is taken at its word.
func misreadCells(paid []float64) float64 {
	paid = slices.Clone(paid)
	slices.SortFunc(paid, func(a, b float64) int { return cmp.Compare(b, a) })
	sum := 0.0
	for i, cost := range paid {
		if i < len(paid)/100+1 {
			cost = math.Min(cost, wholeCell)
		}
		sum += cost
	}
	return sum
}

const wholeCell = 7.0

// misreadColour is what a cell costs whose pattern is as expected and whose colours are not: one in four hundred.
const misreadColour = 6.0

// misreadPlain is the same of a cell that is one colour in both captures, and plainly so, which no stroke spoils: one of them in four hundred times four
// hundred. Common practice, no source.
var misreadPlain = misreadColour + math.Log(400)

// plain tells whether a cell is one colour in both captures, of which both are sure.
func (c *comparison) plain(seen *analyse.Cell) bool {
	there := &c.cells[seen.Row*c.columns+seen.Column]
	return c.survey != nil && seen.Single && there.Single && min(seen.Sure, there.Sure) >= sureStroke
}

// paid is the cost of a cell with n pixels wrong against a prediction.
func (c *comparison) paid(n float64, t tile, seen *analyse.Cell, perPixel float64) float64 {
	if n == 0 {
		return 0
	}
	lost := misreadColour
	switch {
	case seen.Sure < 2:
		perPixel, lost = perPixel/2, lost/2
	case c.plain(seen):
		lost = misreadPlain
	}
	// At the most what it takes to write any cell at all: 64 pixels and a pair of colours.
	paid := math.Min(n*perPixel, 64*math.Ln2+5)
	there := tileOf(&c.cells[seen.Row*c.columns+seen.Column])
	apart := seen.Apart > 0 && (t == there || t == there.inverted())
	bound, alike := math.Max(paid, misreadPlain), false
	if paid > lost { // the pattern may be right and a colour misread
		for _, s := range [2]tile{tileOf(seen), tileOf(seen).inverted()} {
			t.ink, t.paper = s.ink, s.paper
			_, left := c.differ(t, seen)
			paid = math.Min(paid, lost+left*perPixel)
			alike = alike || left == 0
		}
	}
	// As the good machine's: the two pictures say how much that takes, up to what a cell that is misread as a whole may do. But what a path does to the colours of strokes it
	// does to all alike, in either picture's terms.
	switch {
	case apart && alike:
		paid = math.Min(float64(seen.Apart), paid)
	case apart:
		paid = math.Min(float64(seen.Apart), bound)
	}
	return paid
}

// usualLeft is what cells that are misread cost, in nats, in a capture that is read as well as most: one in a hundred, as a whole.
const usualLeft = 8 * wholeCell

// calmed takes the hypotheses' differences for less where even the best of them leaves more misread than usual: then pixels are not misread one by
// one, as the likelihoods have it, but by a decoder that spoils what is alike in the same way, and so many nats say that much less
// (overdispersion: McCullagh and Nelder, Generalized Linear Models, 1989, chapter 4, from memory). What else than the reading of cells speaks
// for each, as the border and the time, stands apart. context numbers the sorts of cells, doubted marks those hardly read in one of the captures, plain those of one
// colour in both; spoilt
// tells that the picture came by a bad path, which makes more of what is misread.
func calmed(list []patterns.Hypothesis, context []int, doubted, plain []bool, spoilt bool, apart func(h *patterns.Hypothesis) float64) []patterns.Hypothesis {
	best, fits := math.Inf(-1), 0.0
	for i := range list {
		list[i].Like -= apart(&list[i])
		if h := &list[i]; h.Like > best { // one that says nothing of most cells is not the best
			best, fits = h.Like, h.Like-h.Spelt
		}
	}
	heat := math.Max(1, -fits/usualLeft)
	for i := range list {
		list[i].Like = best + (list[i].Like-best)/heat
	}
	// Of what the best of them gains over nothing wrong, only so much counts as its sorts of cells bear out, and of the others' as much of it.
	top := 0
	for i := range list {
		if list[i].Gain != nil && list[i].Like > list[top].Like {
			top = i
		}
	}
	if good := list[0].Like; list[top].Like > good {
		part := math.Min(1, borneOut(list[top].Gain, context, doubted, plain, heat > 1)/(list[top].Like-good))
		if spoilt && heat > 1 {
			part *= spoiltPart
		}
		if part < 1 { // the best stays what it is, and the others come nearer: another screen than the reference's is held against it
			nearer := (list[top].Like - good) * (1 - part)
			for i := range list {
				if list[i].Like > good {
					list[i].Like = good + (list[i].Like-good)*part
				}
				list[i].Like += nearer
			}
		}
	}
	for i := range list {
		list[i].Like += apart(&list[i])
	}
	return list
}

// borneOut is the most that gains say for a hypothesis, nats: cells that are read well, in a capture that is (not all), at their word, and so are
// plain ones and those of which so much is told that no decoder would spoil it; the others by their sorts.
func borneOut(gain []float64, context []int, doubted, plain []bool, all bool) (most float64) {
	rest := make([]float64, len(gain))
	for k, g := range gain {
		if doubted[k] || all && !plain[k] && math.Abs(g) < wholly {
			rest[k] = g
		} else {
			most += g
		}
	}
	return math.Max(0, most) + bySorts(rest, context)
}

// wholly is what a cell says of which more is told than the pixels that blur spoils and colours that are misread, nats. Common practice, no source.
const wholly = 3 * misreadColour

// bySorts is the most that gains say for a hypothesis, nats, where cells are misread: what a decoder spoils in one it spoils in all
// that are drawn alike, so that each sort of cell is one observation. The sorts' gains are held against their own scatter about
// nothing (the statistic of Vuong, Econometrica 57, 1989, with a variance by clusters, from memory).
func bySorts(gain []float64, context []int) float64 {
	sorts := make([]float64, slices.Max(context)+1)
	for i, g := range gain {
		sorts[context[i]] += g
	}
	// No sort says more than a few usual ones do, whichever way (Winsorized, as Huber, Robust Statistics, 1981, from memory).
	sizes := make([]float64, 0, len(sorts))
	for _, g := range sorts {
		if g != 0 {
			sizes = append(sizes, math.Abs(g))
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	slices.Sort(sizes)
	most := mostOfSort * sizes[len(sizes)/2]
	total, square := 0.0, 0.0
	for _, g := range sorts {
		g = math.Max(-most, math.Min(most, g))
		total += g
		square += g * g
	}
	if total <= 0 || square == 0 {
		return 0
	}
	return total * total / square / 2
}

// spoiltPart is what a nat is worth where cells are misread and the path is known to be bad. Common practice, no source.
const spoiltPart = 0.5

// mostOfSort is how many times what the middle one of the sorts says one may say at the most. Common practice, no source.
const mostOfSort = 3.0

// contexts numbers the cells by what a decoder makes of them: colours, and the different bytes of the pattern, a byte being the same
// moved round or inverted.
func (c *comparison) contexts() []int {
	type sort struct {
		bytes [4]uint64
		a, b  int
	}
	known := map[sort]int{}
	out := make([]int, len(c.cells))
	for i := range c.cells {
		k := &c.cells[i]
		s := sort{a: min(k.Ink, k.Paper), b: max(k.Ink, k.Paper)}
		if k.Single {
			s.a, s.b = k.Paper, k.Paper
		} else {
			for _, row := range k.Bits {
				low := row
				for turn := range 8 {
					low = min(low, bits.RotateLeft8(row, turn), ^bits.RotateLeft8(row, turn))
				}
				s.bytes[low>>6] |= 1 << (low & 63)
			}
		}
		n, ok := known[s]
		if !ok {
			n = len(known)
			known[s] = n
		}
		out[i] = n
	}
	return out
}

// doubted marks the cells of two colours that either capture hardly read.
func (c *comparison) doubted(s *analyse.Survey) []bool {
	out := make([]bool, len(c.cells))
	if c.survey == nil { // a stated fill is one sort of cell, and meant as it is stated
		return out
	}
	for i := range out {
		a, b := &c.cells[i], &s.Cells[i]
		out[i] = !a.Single && a.Sure < hardlyRead || !b.Single && b.Sure < hardlyRead
	}
	return out
}

// plainly marks the cells that are one colour in both captures, of which both are sure, and those whose pictures plainly differ.
func (c *comparison) plainly(s *analyse.Survey) []bool {
	out := make([]bool, len(c.cells))
	for i := range out {
		out[i] = c.plain(&s.Cells[i]) || s.Cells[i].Apart > patterns.PlainlyApart
	}
	return out
}

// hardlyRead is the log-odds of a cell below which it is. Common practice, no source.
const hardlyRead = 4

// gains is by how much each cell is cheaper than with nothing wrong.
func gains(good, paid []float64) []float64 {
	out := make([]float64, len(paid))
	for i := range out {
		out[i] = good[i] - paid[i]
	}
	return out
}

// plainlyOther counts the cells that show something else than a good machine's, of one colour in both captures or by what the two pictures say.
func (c *comparison) plainlyOther(e *evidence) (n int) {
	for i := range e.s.Cells {
		seen, t := &e.s.Cells[i], tileOf(&c.cells[i])
		if !c.plain(seen) && seen.Apart <= patterns.PlainlyApart {
			continue
		}
		_, straight := c.differ(t, seen)
		_, turned := c.differ(t.inverted(), seen)
		if straight > 0 && turned > 0 && !(seen.Flash || c.cells[i].Flash) {
			n++
		}
	}
	return n
}

// fewOther is how many such cells a good machine may show at the most, one in thirty: a cursor, a clock, and what is misread. Common practice, no source.
const fewOther = 24
