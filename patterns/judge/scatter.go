package judge

import (
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns/nats"
	"backporch/video/display"
)

// Colours of a written screen lie in runs and blocks; a lane that is wrong here and there scatters one bit of them. Which of
// the two a map of colours is, is asked by its length in writing (Rissanen, Modeling by shortest data description, Automatica 14,
// 1978, from memory): as it stands, or as the map without the scatter and the list of the cells that are wrong.

// A chart is one colour of every cell, 3 bits; -1 where it was not read.
type chart struct {
	value   []int
	columns int
}

// frequencies are how often each of some outcomes came, from prior counts on.
type frequencies []float64

func (f frequencies) pay(k int) float64 {
	sum := 0.0
	for _, n := range f {
		sum += n
	}
	cost := -math.Log(f[k] / sum)
	f[k]++
	return cost
}

// length is the nats that writing a chart takes: mostly a cell is as the one before it or as the one above, in a chequer as the one
// above that one's left. Prior counts: common practice, no source.
func (c chart) length() float64 {
	agreed, one := frequencies{10, 0.5}, frequencies{10, 1}
	split, chequered := frequencies{3, 3, 0.5}, frequencies{3, 3, 0.5}
	colours := frequencies{.5, .5, .5, .5, .5, .5, .5, .5}
	sum := 0.0
	// pick pays for which of two colours a cell has, or neither.
	pick := func(f frequencies, v, first, second int) (neither bool) {
		k := 2
		switch v {
		case first:
			k = 0
		case second:
			k = 1
		}
		sum += f.pay(k)
		return k == 2
	}
	above := make([]int, c.columns)
	for i := range above {
		above[i] = -1
	}
	left, diagonal := -1, -1
	for i, v := range c.value {
		column := i % c.columns
		if column == 0 {
			left, diagonal = -1, -1
		}
		up, aslant := above[column], diagonal
		diagonal = up
		if v < 0 {
			continue
		}
		other := true
		switch {
		case left >= 0 && left == up && aslant >= 0 && aslant != left:
			other = pick(chequered, v, left, aslant)
		case left >= 0 && up >= 0 && left == up:
			other = v != left
			sum += agreed.pay(truth(other))
		case left >= 0 && up >= 0:
			other = pick(split, v, left, up)
		case left >= 0 || up >= 0:
			other = v != max(left, up)
			sum += one.pay(truth(other))
		}
		if other {
			sum += colours.pay(v)
		}
		left, above[column] = v, v
	}
	return sum
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

// leastPatch is the cells of a patch of one colour, the lane apart, from which on it is asked whether the lane scatters there.
const leastPatch = 6

// A scatter is the cells of a chart in which a lane is wrong, as far as writing these down apart makes the chart shorter.
type scatter struct {
	gain     float64 // nats saved, the list of the wrong cells paid
	saved    float64 // nats saved before the list
	wrong    []int   // cells
	possible []int   // cells that hold the other value, where the lane could be wrong too
}

// scattered looks for the cells in which bit reads level where the chart has the other value.
func (c chart) scattered(bit, level int) (s scatter) {
	plain := c.length()
	now := chart{append([]int(nil), c.value...), c.columns}
	length := plain
	for _, patch := range c.patches(bit, level) {
		for _, i := range patch {
			now.value[i] ^= 1 << bit
		}
		if l := now.length(); l+math.Ln2 < length {
			length = l
			s.wrong = append(s.wrong, patch...)
			continue
		}
		for _, i := range patch {
			now.value[i] ^= 1 << bit
		}
	}
	if len(s.wrong) == 0 {
		return s
	}
	for i, v := range now.value {
		if v >= 0 && v>>bit&1 != level && c.value[i] == v {
			s.possible = append(s.possible, i)
		}
	}
	s.saved = plain - length
	s.gain = s.saved + nats.BetaSequence(len(s.wrong), len(s.wrong)+len(s.possible), 0.5, 3)
	return s
}

// missedWrong is what a cell takes that a fault makes wrong and that is not.
const missedWrong = 4.0

// at is what the scatter says for a fault that is wrong in all the cells that in tells and no others: those need not be listed.
func (s scatter) at(in func(cell int) bool) (gain float64, wrong int) {
	for _, i := range s.wrong {
		if in(i) {
			wrong++
		}
	}
	if wrong < len(s.wrong) || wrong == 0 {
		return 0, 0
	}
	gain = s.saved
	for _, i := range s.possible {
		if in(i) {
			gain -= missedWrong
		}
	}
	return gain, wrong
}

// among gives the keys of lines, and those of the lines that the scatter's cells lie on.
func (s scatter) among(lines map[int]map[int]breaks, of func(cell int) int) []int {
	keys := map[int]bool{}
	for r := range lines {
		keys[r] = true
	}
	for _, i := range s.wrong {
		keys[of(i)] = true
	}
	return slices.Sorted(maps.Keys(keys))
}

// patches gives the cells whose bit is level within each patch of cells that touch, are alike but for that bit, and have it both ways.
func (c chart) patches(bit, level int) [][]int {
	var out [][]int
	seen := make([]bool, len(c.value))
	for start, v := range c.value {
		if v < 0 || seen[start] {
			continue
		}
		seen[start] = true
		members := []int{start}
		for k := 0; k < len(members); k++ {
			i := members[k]
			for _, d := range [4]int{-1, 1, -c.columns, c.columns} {
				j := i + d
				if j < 0 || j >= len(c.value) || seen[j] || (d == -1 || d == 1) && j/c.columns != i/c.columns {
					continue
				}
				if c.value[j] >= 0 && (c.value[j]^v)&^(1<<bit) == 0 {
					seen[j] = true
					members = append(members, j)
				}
			}
		}
		var at []int
		for _, i := range members {
			if c.value[i]>>bit&1 == level {
				at = append(at, i)
			}
		}
		if len(members) >= leastPatch && len(at) > 0 && len(at) < len(members) {
			out = append(out, at)
		}
	}
	return out
}

// mostlyInk is the pixels of a cell from which on the hue of its ink is sure; thinner strokes take colour from their edges.
const mostlyInk = 20

// colourScatter looks for a lane of the colours' bytes that reads level in cells here and there: bits 0 to 2 are the ink's, 3 to 5
// the paper's. Brightness and flash are read too unsurely for that.
func (e *evidence) colourScatter(bit, level int) scatter {
	if e.p.Kind != display.Attr || bit > 5 {
		return scatter{}
	}
	if known := e.scatters[bit][level]; known != nil {
		return *known
	}
	c := chart{make([]int, len(e.s.Cells)), e.p.Columns()}
	for i := range e.s.Cells {
		cell := &e.s.Cells[i]
		c.value[i] = -1
		ink := 0
		for _, b := range cell.Bits {
			ink += bits.OnesCount8(b)
		}
		turned := e.inverted(i)
		if turned {
			ink = 64 - ink
		}
		switch {
		case cell.Sure < sureColours:
		case bit >= 3 && ink <= 64-mostlyInk:
			c.value[i] = cell.Paper & 7
			if turned {
				c.value[i] = cell.Ink & 7
			}
		case bit < 3 && !cell.Single && ink >= mostlyInk:
			c.value[i] = cell.Ink & 7
			if turned {
				c.value[i] = cell.Paper & 7
			}
		}
	}
	s := c.scattered(bit%3, level)
	e.scatters[bit][level] = &s
	return s
}

// inverted tells whether a cell's ink, the colour that covers less of it, is rather its paper: that of most of the cells about it, as where a shape fills most of its
// cell. A lane that is wrong in one of a cell's colours makes no other of its colours the one about it.
func (e *evidence) inverted(cell int) bool {
	c := &e.s.Cells[cell]
	if c.Single || c.Ink&7 == c.Paper&7 {
		return false
	}
	votes := 0
	for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
		row, column := c.Row+d[0], c.Column+d[1]
		if row < 0 || row >= e.p.Rows() || column < 0 || column >= e.p.Columns() {
			continue
		}
		o := &e.s.Cells[row*e.p.Columns()+column]
		switch o.Paper & 7 {
		case c.Ink & 7:
			votes++
		case c.Paper & 7:
			votes--
		}
	}
	return votes > 0
}

// dotted is what it takes that a good screen should be dotted in one bit of its colours. Common practice, no source.
const dotted = 6.0

// scattering is what a lane's scatter in the colours speaks for it, beyond what the other bits of the same colour do: screens that
// are dotted with other colours are so in any bit.
func (e *evidence) scattering(bit int) (odds float64, cells int) {
	if bit > 5 {
		return 0, 0
	}
	beside := 0.0
	for b := bit / 3 * 3; b < bit/3*3+3; b++ {
		for level := range 2 {
			s := e.colourScatter(b, level)
			switch {
			case b != bit:
				beside = math.Max(beside, s.gain)
			case s.gain > odds:
				odds, cells = s.gain, len(s.wrong)
			}
		}
	}
	if odds -= beside + dotted; odds <= 0 {
		return 0, 0
	}
	return odds, cells
}

// coloursTell bounds what colours say of which bit it is that fails, nats. Common practice, no source.
const coloursTell = 10.0

// byColours is what colour bytes say for a lane that fails, in what stands and over time: these are read wherever the picture's pixels lie.
func (e *evidence) byColours(bit int) float64 {
	odds, _ := e.scattering(bit)
	return math.Min(coloursTell, odds+0.6*excess(e.recolours, bit, 1))
}
