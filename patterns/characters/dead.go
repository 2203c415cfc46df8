package characters

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/patterns"
)

// Rows and columns of a chip in which a lane is held, on a screen whose codes are not known: in these cells a character stands for the one that
// was to be expected, always the same for each, and in no others.

// A guess is a character that a cell may have been meant to show.
type guess struct {
	shape int
	p     float64
}

// guesses gives for each cell what a writer may have put there, what shows first.
func (p *page) guesses() [][]guess {
	const least = 0.02
	s := newScribe(p.columns, p.known())
	out := make([][]guess, len(p.shape))
	for i, shape := range p.shape {
		if shape < 0 {
			s.skip()
			continue
		}
		one, two, above := s.keys()
		may := map[int]bool{p.space: true, s.left(1): true, s.left(p.columns): true}
		for k, key := range [3]uint64{one, two, above} {
			if c := s.context[k][key]; c != nil {
				for symbol := range c.of {
					may[symbol] = true
				}
			}
		}
		out[i] = []guess{{shape, s.p(shape)}}
		for _, symbol := range slices.Sorted(maps.Keys(may)) {
			if symbol >= 0 && symbol != shape {
				if v := s.p(symbol); v >= least {
					out[i] = append(out[i], guess{symbol, v})
				}
			}
		}
		s.write(shape)
	}
	return out
}

// anyOther is how probable one character is as the other of a bit of a code that is not known.
const anyOther = 0.5 / 256

// A row of a chip is one of many, but a character becomes always the same: what was seen once counts so many times as much as what was not.
const firstSight = 0.3

// A line of the chip's cells, as what stands there comes from what was to be expected.
type lineMap struct {
	became map[int]*counter
	shown  map[int]bool // characters that something became: they have the bit as it is held
}

// p is how probable it is that a character shows as another one.
func (m *lineMap) p(from, shows int) float64 {
	first := anyOther
	if from == shows {
		if first = 0.5; m.shown[from] {
			first = 1
		}
	}
	return m.became[from].p(shows, first, firstSight)
}

// add takes it that a character did so, with this probability.
func (m *lineMap) add(from, shows int, p float64) {
	c := m.became[from]
	if c == nil {
		c = &counter{of: map[int]float64{}}
		m.became[from] = c
	}
	c.of[shows] += p
	c.total += p
	if from != shows && p > 0.5 {
		m.shown[shows] = true
	}
}

// lostLine is the log-likelihood ratio of a lane held in these cells, in order of their addresses. most is what each can say for it.
func (p *page) lostLine(line []int, guesses [][]guess, stands map[int]int, most []float64, rate float64) (odds float64, m characterMap) {
	// Woken memory, and all characters in order, show the same along many rows of the chips.
	earlier := map[int]bool{}
	inside := map[int]int{}
	for _, i := range line {
		inside[p.shape[i]]++
	}
	lane := lineMap{became: map[int]*counter{}, shown: map[int]bool{}}
	for _, i := range line {
		shape := p.shape[i]
		if shape < 0 {
			continue
		}
		rest, each := 1.0, make([]float64, len(guesses[i]))
		sum, best := 0.0, 0
		for k, g := range guesses[i] {
			rest -= g.p
			each[k] = g.p * lane.p(g.shape, shape)
			if sum += each[k]; each[k] > each[best] {
				best = k
			}
		}
		sum += math.Max(0, rest) * anyOther
		// What stands elsewhere too is no slip of a lane.
		own := math.Max(guesses[i][0].p, float64(stands[shape]-inside[shape])/float64(2*len(p.shape)))
		if earlier[shape] {
			own = math.Max(own, rate)
		}
		earlier[shape] = true
		odds += math.Max(-misread, math.Min(most[i], surprise(sum)-surprise(own)))
		for k, g := range guesses[i] {
			lane.add(g.shape, shape, each[k]/sum)
		}
		if 2*each[best] > sum && guesses[i][best].shape != shape {
			m.cells++
		}
	}
	for _, from := range slices.Sorted(maps.Keys(lane.became)) {
		to, most := from, 0.0
		for _, k := range slices.Sorted(maps.Keys(lane.became[from].of)) {
			if n := lane.became[from].of[k]; n > most {
				to, most = k, n
			}
		}
		switch {
		case most < 0.5:
		case to == from:
			m.same = append(m.same, from)
		default:
			m.became = append(m.became, [2]int{from, to})
		}
	}
	return odds, m
}

// alikeAlong is the part of the written cells, but those that are in, that show what an earlier cell of their row of the chips shows, over
// what cells do that stand nearly as far apart.
func (p *page) alikeAlong(rows int, in func(i int) bool) float64 {
	part := func(apart int) (same, of float64) {
		shown := make([]map[int]bool, apart)
		for i, shape := range p.shape {
			if in(i) || shape < 0 || p.blank[i] {
				continue
			}
			before := shown[i%apart]
			if before == nil {
				before = map[int]bool{}
				shown[i%apart] = before
			} else if of++; before[shape] {
				same++
			}
			before[shape] = true
		}
		return same / math.Max(of, 1), of
	}
	here, of := part(rows)
	less, _ := part(rows - 1)
	more, _ := part(rows + 1)
	return math.Max(here-math.Max(less, more), 0.5/(of+1))
}

// lostLines weighs them all.
func (t *screenText) lostLines(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	p := t.page
	if p.different() < fewGlyphs || len(p.shape) == 0 {
		return
	}
	guesses, stands := p.guesses(), map[int]int{}
	sure := make([]int, len(p.shape)) // whether another character was to be expected there
	unlikely := make([]bool, len(p.shape))
	for i, shape := range p.shape {
		if stands[shape]++; shape < 0 {
			continue
		}
		unlikely[i] = guesses[i][0].p < anyOther
		for _, g := range guesses[i][1:] {
			if g.p > 0.5 {
				sure[i] = 1
			}
		}
		if guesses[i][0].p > 0.5 {
			sure[i] = 1
		}
	}
	most := make([]float64, len(p.shape))
	for _, h := range deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool {
		return memory == "screen" && bit == 0 && level == 0
	}) {
		if h.fault.Row == nil { // the cells of a column are neighbours: what is drawn there is unlike the rest anyway
			continue
		}
		var line []int
		odd, of := [2]float64{0.5, 0.5}, [2]float64{1, 1}
		for i, shape := range p.shape {
			if h.in(i) {
				line = append(line, i)
			} else if shape >= 0 {
				if of[sure[i]]++; unlikely[i] {
					odd[sure[i]]++
				}
			}
		}
		for _, i := range line { // as seldom as such a cell is elsewhere
			most[i] = -math.Log(odd[sure[i]] / of[sure[i]])
		}
		odds, m := p.lostLine(line, guesses, stands, most, p.alikeAlong(1<<t.e.Profile.RowBits, h.in))
		if odds < 1 || m.cells < leastFlips {
			continue
		}
		looks := textCells{e: t.e, seen: p, want: p}.looks(m, false)
		why := fmt.Sprintf("in %d of the %d cells of one row of the chips a character stands that is not to be expected there, the same for each that is, and hardly any does elsewhere", m.cells, len(line))
		for bit := range 8 {
			for level := range 2 {
				f := h.fault
				f.Bit, f.Level = new(bit), new(level)
				add(f, h.share, clean+odds+looks[bit][level], why)
			}
		}
	}
}
