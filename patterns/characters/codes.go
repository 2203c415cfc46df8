package characters

import (
	"fmt"
	"math"
	"slices"

	"backporch/patterns"
)

// A style is how often each code stands on a sort of screen, beside its commonest one.
type style struct {
	share  float64
	filler float64 // how often the commonest code is the space
	code   func(code int) float64
	sort   int
}

// Sorts of screens: written ones, such as have any code, and such as are drawn with characters.
const (
	writtenScreen = iota
	anyScreen
	pictureScreen
)

// Writing has letters of both cases, or of one; a test's or a game's screen has any code.
// In the order of ASCII. Common practice, no source.
var styles = []style{
	{0.43, 0.97, func(c int) float64 { return writing(c, 0.60/52, 0.60/52, 0.20, 0.18) }, writtenScreen},
	{0.35, 0.97, func(c int) float64 { return writing(c, 0.75/26, 1e-5, 0.10, 0.12) }, writtenScreen},
	{0.02, 0.97, func(c int) float64 { return writing(c, 1e-5, 0.75/26, 0.10, 0.12) }, writtenScreen},
	{0.10, 0.80, func(c int) float64 { return 0.8*writing(c, 0.60/52, 0.60/52, 0.20, 0.18) + 0.2/256 }, writtenScreen},
	{0.05, 0.60, func(int) float64 { return 1.0 / 256 }, anyScreen},
	{0.05, 0.60, drawn, pictureScreen},
}

// drawn is how often a code stands in a picture that is drawn with characters: none of those that one writes with.
func drawn(code int) float64 {
	if code > ' ' && code <= '~' {
		return 1e-5
	}
	return 1.0 / 162
}

func writing(code int, upper, lower, figures, marks float64) float64 {
	switch c := byte(code); {
	case c >= 'A' && c <= 'Z':
		return 26 * upper * letter(code, 'A')
	case c >= 'a' && c <= 'z':
		return 26 * lower * letter(code, 'a')
	case c >= '0' && c <= '9':
		return figures / 10
	case c >= ' ' && c <= '~':
		return marks / 33
	}
	return 0.02 / 161
}

// letters are how often each of the alphabet stands in English, in 1000 letters; from memory.
var letters = [26]float64{82, 15, 28, 43, 127, 22, 20, 61, 70, 2, 8, 40, 24, 67, 75, 19, 1, 60, 63, 91, 28, 10, 24, 2, 20, 1}

// letter is how often a symbol is a letter from first on, among those: half as in English, half any, for
// screens are full of abbreviations and of other languages.
func letter(symbol int, first byte) float64 {
	if k := symbol - int(first); k >= 0 && k < 26 {
		return 0.5*letters[k]/1000 + 0.5/26
	}
	return 0
}

// filled is how often a code stands all over a screen on which nothing else does: cleared, or as memory tests
// leave it. Common practice, no source.
func filled(code int) float64 {
	switch code {
	case ' ':
		return 0.2
	case 0x00, 0x55, 0xaa, 0xff:
		return testFill
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

// inkOdds weighs the lanes of the colour memory by the inks on a screen, each of which counts once.
type inkOdds struct {
	e     *Screen
	cells [16]int
	prior [16]float64
	alike [16][16]bool // colours that the capture does not tell apart: without any chroma those of one luma
	paper int
}

func newInkOdds(e *Screen, p *page) *inkOdds {
	o := &inkOdds{e: e, paper: p.paper}
	for _, c := range p.ink {
		if c >= 0 && c < 16 {
			o.cells[c]++
		}
	}
	sum := 0.0
	for i := range o.prior {
		if i < len(e.Profile.Colours) && p.paper >= 0 {
			o.prior[i] = readable(e.Profile.Colours[i].Y - e.Profile.Colours[p.paper].Y)
			if i == p.paper {
				o.prior[i] = patterns.InkIsPaper
			}
		}
		sum += o.prior[i]
	}
	for i := range o.prior {
		o.prior[i] /= math.Max(sum, 1e-9)
		for k := range o.prior {
			o.alike[i][k] = i == k || e.Survey.Signal.ChromaDead && max(i, k) < len(e.Profile.Colours) && math.Abs(e.Profile.Colours[i].Y-e.Profile.Colours[k].Y) < faintInk
		}
	}
	for ink, n := range o.cells { // and count once
		if first := slices.Index(o.alike[ink][:], true); first < ink {
			o.cells[first] += n
			o.cells[ink] = 0
		}
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
		p, q := o.prior[ink], 0.0 // what was written may be any that shows so
		for written := range 16 {
			if bit < 0 && o.alike[written][ink] || bit >= 0 && o.alike[force(written, bit, level)][ink] {
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

// testFill is how often one character all over a screen is each of the four bytes that memory tests write. Common practice, no source.
const testFill = 0.05
