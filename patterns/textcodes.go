package patterns

import (
	"fmt"
	"math"
)

// A style is how often each code stands on a sort of screen, beside its commonest one.
type style struct {
	share  float64
	filler float64 // how often the commonest code is the space
	code   func(code int) float64
}

// Writing has letters of both cases, or of one; a test's or a game's screen has any code.
// In the order of ASCII. Common practice, no source.
var styles = []style{
	{0.43, 0.97, func(c int) float64 { return writing(c, 0.60/52, 0.60/52, 0.20, 0.18) }},
	{0.35, 0.97, func(c int) float64 { return writing(c, 0.75/26, 1e-5, 0.10, 0.12) }},
	{0.02, 0.97, func(c int) float64 { return writing(c, 1e-5, 0.75/26, 0.10, 0.12) }},
	{0.10, 0.80, func(c int) float64 { return 0.8*writing(c, 0.60/52, 0.60/52, 0.20, 0.18) + 0.2/256 }},
	{0.10, 0.60, func(int) float64 { return 1.0 / 256 }},
}

func writing(code int, upper, lower, figures, marks float64) float64 {
	switch c := byte(code); {
	case c >= 'A' && c <= 'Z':
		return upper
	case c >= 'a' && c <= 'z':
		return lower
	case c >= '0' && c <= '9':
		return figures / 10
	case c >= ' ' && c <= '~':
		return marks / 33
	}
	return 0.02 / 161
}

// codeOdds weighs lanes by the codes that stand on a screen. Each different one counts once: what
// is written repeats itself.
type codeOdds struct {
	p         *page
	cells     [256]int // by first code of a glyph
	different int
	filler    int // the commonest; -1 when nothing is read
}

func newCodeOdds(p *page) *codeOdds {
	o := &codeOdds{p: p, filler: -1}
	for _, c := range p.code {
		if c >= 0 {
			o.cells[c]++
		}
	}
	for c, n := range o.cells {
		if n > 0 {
			o.different++
			if o.filler < 0 || n > o.cells[o.filler] {
				o.filler = c
			}
		}
	}
	return o
}

// weakRate is the part of its cells that a weak lane spoils, as a round figure.
const weakRate = 0.15

// weigh is the log-likelihood of the screen's codes with a bit held at level (none: -1), in
// all cells, or here and there (weak).
func (o *codeOdds) weigh(bit, level int, weak bool) float64 {
	if o.filler < 0 {
		return 0
	}
	var total []float64
	for _, s := range styles {
		var straight, held [256]float64
		var fillStraight, fillHeld [256]float64
		for code := range 256 {
			p, f := s.code(code), (1-s.filler)/255
			switch {
			case o.different == 1:
				f = filled(code)
			case code == ' ':
				f = s.filler
			}
			k := o.p.first[code]
			straight[k] += p
			fillStraight[k] += f
			if bit >= 0 {
				k = o.p.first[force(code, bit, level)]
			}
			held[k] += p
			fillHeld[k] += f
		}
		like := math.Log(s.share)
		for code, n := range o.cells {
			if n == 0 {
				continue
			}
			p, q := straight[code], held[code]
			if code == o.filler {
				p, q = fillStraight[code], fillHeld[code]
			}
			switch {
			case bit < 0:
				like += math.Log(p)
			case weak:
				like += math.Log((1-weakRate)*p + weakRate*q)
			default: // what the lane can't show was misread, or speaks against it
				like += math.Log(q + p*math.Exp(-against(n)))
			}
		}
		total = append(total, like)
	}
	return logSum(total...)
}

// filled is how often a code stands all over a screen on which nothing else does: cleared, or as memory tests
// leave it. Common practice, no source.
func filled(code int) float64 {
	switch code {
	case ' ':
		return 0.2
	case 0x00, 0x55, 0xaa, 0xff:
		return 0.05
	}
	return 0.6 / 251
}

// against is what a character costs, in nats, that a lane can't show, by the cells that do: a glyph may
// be taken for another wherever it stands, but not all over the screen.
func against(cells int) float64 {
	if cells < 30 {
		return math.Min(2*float64(cells)+1, 9)
	}
	return 40
}

// why says what the codes show of a lane.
func (o *codeOdds) why(bit, level int) []string {
	if o.filler < 0 {
		return nil
	}
	broken, of := 0, 0
	for code, n := range o.cells {
		of += n
		if n > 0 && o.p.first[force(code, bit, level)] != code {
			broken += n
		}
	}
	return []string{fmt.Sprintf("bit %d of the code is %d in %d of the %d cells that were read, which show %d different characters", bit, level, of-broken, of, o.different)}
}

// whyWeak names the characters that a weak lane makes of likelier ones.
func (o *codeOdds) whyWeak(bit int) []string {
	n := 0
	for code, cells := range o.cells {
		if cells > 0 && styles[0].code(code) < styles[0].code(code^1<<bit)/20 {
			n += cells
		}
	}
	if n == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%d cells show a character that hardly stands on a screen and is an ordinary one with bit %d of its code changed", n, bit)}
}

// inkOdds weighs the lanes of the colour memory by the inks on a screen, each of which counts once.
type inkOdds struct {
	e     *evidence
	cells [16]int
	prior [16]float64
	paper int
}

func newInkOdds(e *evidence, p *page) *inkOdds {
	o := &inkOdds{e: e, paper: p.paper}
	for _, c := range p.ink {
		if c >= 0 && c < 16 {
			o.cells[c]++
		}
	}
	sum := 0.0
	for i := range o.prior {
		if i < len(e.p.Colours) && p.paper >= 0 {
			o.prior[i] = readable(e.p.Colours[i].Y - e.p.Colours[p.paper].Y)
			if i == p.paper {
				o.prior[i] = inkIsPaper
			}
		}
		sum += o.prior[i]
	}
	for i := range o.prior {
		o.prior[i] /= math.Max(sum, 1e-9)
	}
	return o
}

// readable is how often an ink is chosen by its luma over that of the paper. Common practice, no source.
func readable(luma float64) float64 {
	switch d := math.Abs(luma); {
	case d >= 0.25:
		return 1
	case d >= 0.1:
		return 0.4
	}
	return 0.1
}

// fewCells of an ink may be misread.
const fewCells = 3

// weigh is the log-likelihood of the inks with a bit of the colour held at level (none: -1).
func (o *inkOdds) weigh(bit, level int) float64 {
	like := 0.0
	for ink, n := range o.cells {
		if n < fewCells {
			continue
		}
		p, q := o.prior[ink], 0.0
		for written := range 16 {
			if bit < 0 && written == ink || bit >= 0 && force(written, bit, level) == ink {
				q += o.prior[written]
			}
		}
		if bit >= 0 {
			q += p * math.Exp(-against(n))
		}
		like += math.Log(q)
	}
	return like
}

func (o *inkOdds) why(bit, level int) []string {
	different, cells := 0, 0
	for ink, n := range o.cells {
		if n >= fewCells && ink>>bit&1 == level {
			different++
			cells += n
		}
	}
	return []string{fmt.Sprintf("bit %d of the colour is %d in all %d cells that show an ink, of %d different colours", bit, level, cells, different)}
}
