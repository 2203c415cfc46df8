package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
)

// A column of a chip in which a lane is held is a block of neighbouring cells. Where all of it is another character than the screen is filled
// with, or inverted, it shows by where it begins and ends.

// rewritten is the log-likelihood of what is written with the cells that are in turned back to what they may have been meant for, where that
// stands elsewhere too; turned are how many of them are, full is the same with nothing forgiven that is half expected, and sorts takes
// what they show.
func (p *page) rewritten(in func(i int) bool, meant func(shape int) int, sorts map[int]bool) (like, full float64, turned int) {
	s := newScribe(p.columns, p.known())
	elsewhere := map[int]bool{}
	for i, shape := range p.shape {
		if !in(i) {
			elsewhere[shape] = true
		}
	}
	for i, shape := range p.shape {
		if shape < 0 {
			s.skip()
			continue
		}
		if in(i) {
			if other := meant(shape); other != shape && elsewhere[other] && s.p(other) > s.p(shape) {
				if sorts != nil {
					sorts[shape] = true
				}
				shape = other
				turned++
			}
		}
		like += surprise(s.p(shape))
		full += math.Log(s.p(shape))
		s.write(shape)
	}
	return like, full, turned
}

// setOff is how probable it is that a writer sets a block of cells off from the others, so that it begins and ends anywhere. Common practice, no source.
const setOff = 0.1

// besideBlock is how far beside a block of the chip's, in cells, another one is tried.
const besideBlock = 8

// blocks weighs such columns; clean is the log-likelihood of a good machine.
func (t *screenText) blocks(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	p := t.page
	if p.different() < 2 {
		return
	}
	type block struct {
		hold
		gain, alike float64 // alike: wherever it begins
	}
	var found []block
	anywhere := 2*math.Log(float64(len(p.shape))) - math.Log(setOff)
	try := func(h hold, written bool, more float64, meant func(shape int) int) {
		of := 0
		for i, shape := range p.shape {
			if shape >= 0 && h.in(i) {
				of++
			}
		}
		like, _, turned := p.rewritten(h.in, meant, nil)
		most := oneCell * float64(turned)
		if written {
			most = math.Min(most, anywhere)
		}
		b := block{hold: h, alike: math.Min(like-t.codes, most)}
		if b.alike < 1 {
			return
		}
		if b.gain = b.alike + more; 2*turned <= of {
			b.gain = 0
		}
		for _, aside := range [2]int{-besideBlock, besideBlock} {
			// What a block that begins elsewhere does as well is not the chip's doing.
			if b.gain > 0 {
				other, _, _ := p.rewritten(func(i int) bool { return i+aside >= 0 && i+aside < len(p.shape) && h.in(i+aside) }, meant, nil)
				b.gain = math.Min(b.gain, like-other+more)
			}
		}
		found = append(found, b)
	}
	usual, other := p.usual()
	for _, h := range deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool { return memory == "screen" }) {
		if h.fault.Column == nil {
			continue
		}
		bit, level := *h.fault.Bit, *h.fault.Level
		switch {
		case p.fits:
			if stray, hidden := p.against(h); stray <= strayCells {
				written, more := p.different() <= fewAlike || p.font.inverts(bit), p.hiddenInk(hidden)
				if !written {
					more += p.agree(h)
				}
				try(h, written, more, func(shape int) int {
					if shape > 255 {
						return shape
					}
					return p.font.first[force(shape, bit, 1-level)]
				})
			}
		case p.different() <= fewAlike:
			try(h, true, 0, func(shape int) int {
				if shape == other {
					return usual
				}
				return shape
			})
		case bit == 7 && level == 1:
			as := map[int]int{}
			h.share *= 0.5 // there are other ways to invert a character
			try(h, true, 0, func(shape int) int {
				turned, ok := as[shape]
				if !ok {
					turned = p.number(^p.rowsOf(shape))
					as[shape] = turned
				}
				return turned
			})
		}
	}
	for i, b := range found {
		gain := b.gain
		for k, o := range found {
			if k != i && *o.fault.Bit == *b.fault.Bit && *o.fault.Level == *b.fault.Level { // where others are like it none is dead: all codes in order are so
				gain = math.Min(gain, b.gain-o.alike)
			}
		}
		if gain > 0 {
			add(b.fault, b.share, clean+gain, fmt.Sprintf("the cells of one column of the chips, %d to %d, show what would go on with the others but for bit %d of their code",
				*b.fault.Column<<t.e.Profile.RowBits, min((*b.fault.Column+1)<<t.e.Profile.RowBits, len(p.shape))-1, *b.fault.Bit))
		}
	}
}

// As many cells of a block may be misread; and so many sorts stand on a screen that is filled with one. Common practice, no source.
const (
	strayCells = 2
	fewAlike   = 3
)

// against counts the cells that can't be with a lane held in some; hidden are blanks among them, which may have an ink that does not show.
func (p *page) against(h hold) (n int, hidden []int) {
	for i, c := range p.code {
		switch {
		case c < 0 || !h.in(i) || c>>*h.fault.Bit&1 == *h.fault.Level:
		case p.blank[i]:
			hidden = append(hidden, i)
		default:
			n++
		}
	}
	return n, hidden
}

// agree is, in nats, how much likelier the sorts of characters in a block have their bit at the level of a lane that is held there than by the
// others' bits.
func (p *page) agree(h hold) float64 {
	inside, outside := map[int]bool{}, map[int]bool{}
	for i, c := range p.code {
		switch {
		case c < 0 || p.blank[i]:
		case h.in(i):
			inside[c] = true
		default:
			outside[c] = true
		}
	}
	n, sorts := 1.0, 0.0
	for c := range outside {
		if c>>*h.fault.Bit&1 == *h.fault.Level {
			n++
		}
	}
	for c := range inside {
		if c>>*h.fault.Bit&1 == *h.fault.Level {
			sorts++
		}
	}
	return -math.Max(0, sorts-1) * math.Log(n/float64(len(outside)+2)) // of the one that fills it the block speaks
}

// inverts tells whether a bit of the code inverts the characters.
func (g *glyphs) inverts(bit int) bool {
	n := 0
	for code, rows := range g.rows {
		if bits.OnesCount64(rows^g.rows[code^1<<bit]) >= invertedPixels {
			n++
		}
	}
	return 2*n > len(g.rows)
}

// usual are the two commonest shapes of a page.
func (p *page) usual() (first, second int) {
	cells, a, b := map[int]int{}, -1, -1
	for _, s := range p.shape {
		if s < 0 {
			continue
		}
		cells[s]++
	}
	for _, s := range p.shape {
		switch {
		case s < 0 || s == a || s == b:
		case a < 0 || cells[s] > cells[a]:
			a, b = s, a
		case b < 0 || cells[s] > cells[b]:
			b = s
		}
	}
	return a, b
}
