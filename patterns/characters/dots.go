package characters

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns"
)

// A character generator that has lost some of its cells, with nothing to compare it with: amid words stand characters that are dots, without strokes.

// dotsOnly tells of a picture that is none that one draws: no two of its lines are alike and none is blank or full, as those below and above a letter are, and every
// second pixel, or so, differs from its neighbour. Fine textures repeat their lines.
func dotsOnly(rows uint64) bool {
	const few, many = 42, 72 // of 112 pairs; bits at random have 56, give or take 5.3
	lines := map[uint8]bool{0: true, 0xff: true}
	for y := range 8 {
		lines[line(rows, y)] = true
	}
	n := edges(rows)
	return len(lines) == 10 && n >= few && n <= many
}

// dotsInWords is how seldom, nats, a good screen has such pictures among the letters of words. Common practice, no source.
const dotsInWords = 8.0

// mostInWords is how many different characters words are written with, at the most: ASCII has 95 that print. A chart of a generator's shows all, fine patterns too.
const mostInWords = 95

// lostGlyphs weighs such a generator; clean is the log-likelihood of a good machine.
func (t *screenText) lostGlyphs(clean float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	if t.good != nil || t.e.Survey.Straightened { // the reference tells; and where lines move by themselves letters are torn
		return
	}
	p := t.page
	usual := p.usualEdges()
	dots, drawn := map[int]bool{}, map[int]bool{} // sorts
	for i, s := range p.shape {
		switch {
		case s < 0 || p.blank[i] || barred(p.rows[i]):
		case s > 255 && dotsOnly(p.rowsOf(s)) && strokeless(p.rowsOf(s), usual) > 0:
			dots[s] = true
		default:
			drawn[s] = true
		}
	}
	if len(drawn) < fewSorts || len(drawn) > mostInWords {
		return
	}
	letter := func(i, beside int) bool {
		k := i + beside
		return k >= 0 && k < len(p.shape) && k/p.columns == i/p.columns && drawn[p.shape[k]] && bits.OnesCount64(p.rows[k]^p.rows[i]) < invertedPixels
	}
	var amid []int // sorts that stand next to a letter
	cells := 0
	for i, s := range p.shape {
		if !dots[s] || !letter(i, -1) && !letter(i, 1) {
			continue
		}
		if cells++; !slices.Contains(amid, s) {
			amid = append(amid, s)
		}
	}
	if cells <= len(amid) { // what is misread is another each time
		return
	}
	if len(amid) < 2 || len(amid) < len(dots) || len(dots) > max(fewCodes, len(drawn)/8) { // what stands by itself is a picture; where many are so, it is memory or the path
		return
	}
	add(patterns.Fault{Kind: "character-generator"}, 0.25, clean+math.Min(dotsInWords, 2*surelyDots*float64(len(amid))),
		fmt.Sprintf("%d sorts of characters that stand amid words, in %d cells, are dots without strokes, and the %d others are drawn", len(amid), cells, len(drawn)))
}
