package judge

import (
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// What goes by the addresses of a chip, beside what the screen should be. What a decoder spoils in one cell it spoils in all that are
// drawn alike (misread.go); a dead row is wrong in cells that lie at its addresses and right in all others like them.

// byAddress adds to the hypotheses of dead rows and columns, and of address lines that are held, what the cells drawn alike at other
// addresses say for them: however much is misread, that does not go by address. contexts numbers the sorts of cells. The first hypothesis is that of a good machine.
func (c *comparison) byAddress(e *evidence, list []patterns.Hypothesis, contexts []int) {
	for i := range list {
		f := list[i].Fault
		if f == nil || f.Level == nil || f.Row == nil && f.Column == nil && f.Kind != "address-line-stuck" {
			continue
		}
		m, wrong := c.behind(e)
		odds := 0.0
		if f.Kind == "address-line-stuck" {
			odds = m.foldOdds(wrong, contexts, f)
		} else {
			at := m.deadAt(numberOf(f), f.Column != nil)
			turned, bad, _ := m.oriented(wrong, *f.Bit, *f.Level, at)
			odds = turned.deadOdds(bad, contexts, f)
		}
		if odds > 0 {
			list[i].Like = math.Max(list[i].Like, list[0].Like+odds)
		}
	}
}

// numberOf is the row or column that a fault names.
func numberOf(f *patterns.Fault) int {
	if f.Column != nil {
		return *f.Column
	}
	return *f.Row
}

// deadOdds is the log-likelihood ratio of a dead row or column over misreading by sorts of cells, nats, no more than foldLimit. A cell's lines in a row
// break together and count as one. A sort that stands at few other addresses says less with each of its cells.
func (m *image) deadOdds(wrong []uint8, contexts []int, f *patterns.Fault) float64 {
	lane, level := *f.Bit, *f.Level
	in := m.deadAt(numberOf(f), f.Column != nil)
	by := map[int]*[2]nats.Tally{} // by sort: cells, or their lines, at the dead addresses, and others
	count := func(sort int, here bool, n nats.Tally) {
		if n.Of == 0 {
			return
		}
		s := by[sort]
		if s == nil {
			s = &[2]nats.Tally{}
			by[sort] = s
		}
		k := 1
		if here {
			k = 0
		}
		s[k].Add(2*n.Changed > n.Of)
	}
	for i := range m.lines {
		var cell nats.Tally
		here := false
		for y, a := range m.lines[i] {
			if m.known[a]>>lane&1 == 0 || int(m.bytes[a]>>lane&1) == level {
				continue // it would show nothing
			}
			is := wrong[a]>>lane&1 == 1
			if f.Column != nil { // what is misread is so in one line of a character wherever it stands
				n := nats.Tally{Of: 1}
				if is {
					n.Changed = 1
				}
				count(contexts[i]*8+y, in(a), n)
			}
			cell.Add(is)
			here = in(a)
		}
		if f.Row != nil {
			count(contexts[i], here, cell)
		}
		// The colours of a chip's column are rows of cells one below the other, and what is misread goes by these too.
		if a := m.colour[i]; f.Row != nil && m.known[a]>>lane&1 == 1 && int(m.bytes[a]>>lane&1) != level {
			n := nats.Tally{Of: 1}
			if wrong[a]>>lane&1 == 1 {
				n.Changed = 1
			}
			count(-1-contexts[i], in(a), n) // colours are sorts by themselves
		}
	}
	return bySort(by)
}

// foldOdds is the same of an address line that is held: cells that then show others' bits, against cells drawn alike that show their own either way.
func (m *image) foldOdds(wrong []uint8, contexts []int, f *patterns.Fault) float64 {
	var lines int
	for _, l := range f.Lines {
		lines |= 1 << l
	}
	var lanes uint8
	for _, l := range f.Lanes {
		lanes |= 1 << l
	}
	read := m.addressWarp(lines, *f.Level, lanes)
	by := map[int]*[2]nats.Tally{}
	for i := range m.lines {
		out, _ := read(i)
		foretold, right, departs, beyond := 0, 0, 0, 0
		for y, a := range m.lines[i] {
			known := out[y].known & m.known[a] & lanes
			beyond += bits.OnesCount8(lanes &^ out[y].known)
			change := (out[y].value ^ m.bytes[a]) & known
			foretold += bits.OnesCount8(change)
			right += bits.OnesCount8(change & wrong[a])
			departs += bits.OnesCount8(wrong[a] & lanes)
		}
		s := by[contexts[i]]
		if s == nil {
			s = &[2]nats.Tally{}
			by[contexts[i]] = s
		}
		switch {
		case foretold > 0:
			s[0].Add(2*right > foretold && 2*right > departs)
		case beyond == 0:
			s[1].Add(departs > 0)
		case !m.blank[m.lines[i][0]]: // what lies beyond the screen is hardly what stands on it
			s[0].Add(departs > 0)
		}
	}
	return bySort(by)
}

// bySort adds up what sorts of cells say, of which some are at the addresses of a fault and others elsewhere.
func bySort(by map[int]*[2]nats.Tally) float64 {
	odds, cells := 0.0, 0
	for _, k := range slices.Sorted(maps.Keys(by)) { // in order, for sums of the same numbers to be the same
		here, there := by[k][0], by[k][1]
		usual := (float64(there.Changed) + 0.5) / (float64(there.Of) + 5)
		says := float64(here.Changed) * math.Log(deadBit/usual)
		if few := float64(there.Of) / 5; float64(here.Changed) > few { // as far as there are others to hold them against
			says *= few / float64(here.Changed)
		}
		odds += says + float64(here.Of-here.Changed)*math.Log((1-deadBit)/(1-usual))
		cells += here.Changed
	}
	return math.Min(foldLimit, odds) - nats.Scant(cells)
}
