package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/patterns"
	"backporch/patterns/nats"
)

// A lane that fails for single fetches leaves cells that are no glyph of the font: each of their lines is that of the character or of the one with the bit
// the other way. In a still, or where it fails in every other field, that is all that shows.

// A blend is what a cell's pixels are as the lines of two characters that differ in one bit of their code.
type blend struct {
	low   int // the code with the bit at 0; -1: no such two
	lines int // in which the two differ
	ones  int // of them, that are the code's with the bit at 1
}

// pure tells whether all lines are one character's.
func (b blend) pure() bool { return b.ones == 0 || b.ones == b.lines }

// blendOf finds the two characters; one pixel of the cell may be misread.
func (g *glyphs) blendOf(rows uint64, bit int) blend {
	best := blend{low: -1}
	least := lineAlike + 1
	for _, low := range g.codeOrder() {
		if low>>bit&1 == 1 {
			continue
		}
		a, b, stray := g.rows[low], g.rows[low|1<<bit], 0
		k := blend{low: low}
		for y := 0; y < 8 && stray <= lineAlike; y++ {
			x, z, v := line(a, y), line(b, y), line(rows, y)
			if x == z {
				stray += bits.OnesCount8(v ^ x)
				continue
			}
			k.lines++
			d, e := bits.OnesCount8(v^x), bits.OnesCount8(v^z)
			if e < d {
				k.ones++
			}
			stray += min(d, e)
		}
		if stray < least || stray == least && stray <= lineAlike && best.low >= 0 && k.pure() && !best.pure() {
			least, best = stray, k
		}
	}
	return best
}

// leastBlends is how many sorts of cells must be of two characters each, and no glyph. Common practice, no source.
const leastBlends = 4

// blended is the log-likelihood of what is written where a lane shows a level now and then in single lines; ok is false where few cells are of two
// characters each, or most are of none.
func (t *screenText) blended(bit, level int) (like float64, sorts int, ok bool) {
	p := t.page
	if p.font == nil || p.different() < fewGlyphs {
		return 0, 0, false
	}
	known := map[uint64]blend{}
	read, of := 0, 0
	lines, wrong := 0, 0
	for i, rows := range p.rows {
		if p.shape[i] < 0 {
			continue
		}
		b, seen := known[rows]
		if !seen {
			b = p.font.blendOf(rows, bit)
			known[rows] = b
			if !barred(rows) {
				if of++; b.low >= 0 {
					read++
				}
			}
			if b.low >= 0 && !b.pure() && p.shape[i] > 255 {
				sorts++
			}
		}
		if b.low >= 0 && !b.pure() {
			lines += b.lines
			if level == 1 {
				wrong += b.ones
			} else {
				wrong += b.lines - b.ones
			}
		}
	}
	if sorts < leastBlends || float64(read) < mostSorts*float64(of) {
		return 0, sorts, false
	}
	rate := (float64(wrong) + 0.5) / (float64(lines) + 1)
	s := newScribe(p.columns, p.font)
	misreads := 0
	for i, rows := range p.rows {
		if p.shape[i] < 0 {
			s.skip()
			continue
		}
		b := known[rows]
		if b.low < 0 {
			misreads++
			s.skip()
			continue
		}
		meant, shown := b.low, b.lines-b.ones // the code with the bit at the other level, and lines that escaped
		if level == 0 {
			meant, shown = b.low|1<<bit, b.ones
		}
		failed := math.Pow(rate, float64(b.lines-shown)) * math.Pow(1-rate, float64(shown))
		symbol := p.font.first[meant]
		sum := s.p(symbol) * failed
		if shown == 0 && b.lines > 0 { // or it is the other character, as it should be
			other := p.font.first[meant^1<<bit]
			if v := s.p(other); v > sum {
				symbol = other
			}
			sum += s.p(other)
		}
		like += surprise(sum)
		s.write(symbol)
	}
	like += nats.BetaSequence(misreads, len(p.rows), 0.5, 50) - float64(misreads)*math.Log(glyphsMistaken)
	return like, sorts, true
}

// blends weighs such lanes of the screen memory; still is the log-likelihood of what changes on a good machine.
func (t *screenText) blends(still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	unlike := t.unlike
	if t.page.fits { // what is no glyph is dear already
		unlike = 0
	}
	for bit := range 8 {
		moving, _ := t.time.weak("screen", bit)
		for level := range 2 {
			like, sorts, ok := t.blended(bit, level)
			if !ok {
				continue
			}
			add(patterns.Fault{Kind: "data-bit-weak", Bit: new(bit), Memory: "screen"}, screenShare/16, like+t.inks+math.Max(still, moving)-unlike,
				fmt.Sprintf("%d sorts of cells show lines of two characters each, whose codes differ in bit %d alone", sorts, bit))
		}
	}
}
