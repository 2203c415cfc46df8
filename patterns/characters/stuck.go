package characters

import (
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/patterns/nats"
)

// Lanes of a Text display's memories without a reference: held in all cells or in some rows of the chip; weaklanes.go has the others.

// stuck is the log-likelihood of the screen with a lane held in all cells.
func (t *screenText) stuck(h hold) (like float64, why string) {
	bit, level := *h.fault.Bit, *h.fault.Level
	if h.fault.Memory == "colour" {
		inks := newInkOdds(t.e, t.page)
		odds := math.Max(-40, math.Min(60, inks.weigh(bit, level)-inks.weigh(-1, 0)))
		return t.codes + t.inks + odds, inks.why(bit, level)[0]
	}
	p := t.page
	if !p.fits {
		odds, why := p.spaces(bit, level)
		letters, sorts := p.lettered(bit, level)
		if letters > 1 {
			why = fmt.Sprintf("%d sorts of characters look like such as have bit %d of their code at %d, and hardly any like the others", sorts, bit, level)
		}
		return t.codes + t.inks + odds + letters, why
	}
	if p.different() < 2 { // one character all over: a test's fill as well as a lane
		return t.codes + t.inks + t.filledOdds(bit, level), ""
	}
	var before [256][]int // the codes that show as a glyph with the bit held
	for code := range 256 {
		if p.font.first[code] == code {
			k := p.font.first[force(code, bit, level)]
			before[k] = append(before[k], code)
		}
	}
	// A dot or two that show in place of the space are lost here and there.
	dots, lost := -1, 0
	shown := p.counts()
	for k, list := range before {
		if n := bits.OnesCount64(p.font.rows[k]); slices.Contains(list, p.space) && n > 0 && n <= twoDots && p.different() >= fewGlyphs && shown[k] > 0 && (dots < 0 || shown[k] > shown[dots]) {
			dots = k
		}
	}
	wrong, hidden := map[int]int{}, []int(nil)
	t.page.drawn(nil)
	capitals := 0.0
	for i, v := range written(p.shape, p.columns, p.known(), func(i int) []int {
		if s := p.shape[i]; s < 256 {
			switch {
			case len(before[s]) > 0:
				return before[s]
			case p.blank[i] && dots >= 0:
				lost++
				return before[dots]
			case p.blank[i]: // or its ink is the background's colour
				hidden = append(hidden, i)
			default:
				wrong[s]++
			}
		}
		return p.shape[i : i+1]
	}) {
		if v > p.codeCosts[i] { // a writer is known so far only: what most cells have a little of is the writer's
			more := math.Min(math.Max(0, v-p.codeCosts[i]-slightly), oneCell)
			if v = p.codeCosts[i]; p.smallLost(i, bit, level) {
				capitals += more
			} else {
				v += more
			}
		}
		like += v
	}
	like += math.Min(capitals, capitalsAlone)
	// Of what the lane can't show, two glyphs may have been taken for others wherever they stand, if there are any that they
	// are like; the rest was misread cell by cell.
	codes := slices.Collect(maps.Keys(wrong))
	slices.SortFunc(codes, func(a, b int) int {
		if d := wrong[b] - wrong[a]; d != 0 {
			return d
		}
		return a - b
	})
	cells, different, single := 0, 0, 0
	for k, c := range codes {
		n := wrong[c]
		cells += n
		least := 64
		for other := range 256 {
			if len(before[other]) > 0 {
				least = min(least, bits.OnesCount64(p.font.rows[c]^p.font.rows[other]))
			}
		}
		if k < 2 && least <= mistakenFor {
			like -= against(n)
		} else {
			single += n
		}
	}
	like += unseenInk(hidden, p) + p.filledWith(p.font.first[force(p.font.stands[' '], bit, level)])
	if lost > 0 {
		of := lost + shown[dots]
		like += math.Min(0, nats.BetaSequence(lost, of, 1, 1)+expected*float64(of)) // as a writer is forgiven
	}
	like += nats.BetaSequence(single, len(p.shape), 0.5, 50) - float64(single)*math.Log(glyphsMistaken)
	for s, n := range p.counts() {
		if n > 0 && len(before[s]) > 0 {
			different++
		}
	}
	of := 0
	for _, n := range p.counts() {
		of += n
	}
	why = fmt.Sprintf("bit %d of the code is %d in %d of the %d cells that were read, which show %d different characters", bit, level, of-cells, of, different)
	return like + t.inks, why
}

// spaces weighs a lane of a screen whose codes are not known: the space fills most screens, and a lane that is not as in its code
// makes another character of it wherever it stands.
func (p *page) spaces(bit, level int) (odds float64, why string) {
	cells := map[int]int{}
	most, of, even := -1, 0, map[int]int{}
	for i, s := range p.shape {
		if s < 0 {
			continue
		}
		of++
		switch p.rows[i] { // by what colour shows all over the cell
		case 0:
			even[p.paper]++
		case ^uint64(0):
			even[p.ink[i]]++
		}
		if cells[s]++; most < 0 || cells[s] > cells[most] || cells[s] == cells[most] && s < most {
			most = s
		}
	}
	if p.different() < fewSorts || cells[most]*3 < of {
		return 0, ""
	}
	turns := ' '>>bit&1 != level
	rows := p.rowsOf(most)
	switch {
	case rows == 0 && turns:
		return math.Log(1 - spacesFill), ""
	case rows == 0:
		return math.Log(spacesFill / (1 - otherFills)), ""
	case barred(rows):
		return 0, ""
	case !turns:
		return 0, ""
	case mostOf(even)*alsoBlank > of: // where nothing is written stands this, and no space that shows as another character
		return 0, ""
	}
	return math.Log(spacesFill / otherFills), fmt.Sprintf("%d of %d cells show one character that is no space, among %d others: the space shows so where a bit of its code is stuck", cells[most], of, p.different()-1)
}

// alsoBlank: of a screen that is filled with what the space shows as, no more than one cell in so many shows nothing but one colour. Common practice, no source.
const alsoBlank = 4

func mostOf(counts map[int]int) (n int) {
	for _, v := range counts {
		n = max(n, v)
	}
	return n
}

// filledWith is, in nats, how much likelier it is that a screen of several sorts of characters is filled up with what shows if that is the space, changed by a
// lane, than that it is filled with this character; 0 where it is not.
func (p *page) filledWith(shape int) float64 {
	rows := p.rowsOf(shape)
	if rows == 0 || barred(rows) || p.different() < fewSorts {
		return 0
	}
	n, of := 0, 0
	for _, s := range p.shape {
		if s >= 0 {
			of++
		}
		if s == shape {
			n++
		}
	}
	if 3*n < of {
		return 0
	}
	return math.Log(spacesFill / (otherFills * thisFills))
}

// How many screens with several sorts of characters are filled up with spaces, and how many with another character: neither a
// block nor a bar. Common practice, no source.
const (
	spacesFill = 0.9
	otherFills = 0.03
	thisFills  = 0.1 // of those, with one of the eight that a lane makes of the space
	fewSorts   = 8
)

// mistakenFor is by how many pixels two glyphs may differ that are taken for each other. Common practice, no source.
const mistakenFor = 6

// How many screens have a patch whose ink is the background's, of what part of the screen, and what each further run of such cells
// or each further cell costs, nats. Common practice, no source.
const (
	hasPatch   = 0.05
	largePatch = 0.08
	patchRun   = 6.0
	patchCell  = 3.0
)

// smallLost tells of a cell that shows a capital, which may have been the small letter with a lane held that leaves the space as it is: one that changes figures and
// spaces too is told by these, and capitals go with them.
func (p *page) smallLost(i, bit, level int) bool {
	c := p.code[i]
	if c < 0 || p.font.stands[' ']>>bit&1 != level {
		return false
	}
	means := p.font.means[c]
	return means >= 'A' && means <= 'Z' && c>>bit&1 == level && p.font.means[c^1<<bit] == means^caseBit
}

// capitalsAlone is how much likelier, nats, it is that a screen is written in any letters than in capitals alone, which is chosen for all of it.
var capitalsAlone = func() float64 {
	capitals, written := 0.0, 0.0
	for _, s := range styles {
		if s.sort != writtenScreen {
			continue
		}
		if written += s.share; s.code('e') < s.code('Q') {
			capitals += s.share
		}
	}
	return math.Log(written / capitals)
}()

// counts are the cells of each code.
func (p *page) counts() (n [256]int) {
	for _, c := range p.code {
		if c >= 0 {
			n[c]++
		}
	}
	return n
}

// filledOdds weighs a lane on a screen of one character: it may have been written as the other one.
func (t *screenText) filledOdds(bit, level int) float64 {
	for code, n := range t.page.counts() {
		if n == 0 {
			continue
		}
		if force(code, bit, level) != code {
			return -40
		}
		return math.Log(1 + filled(t.page.font.first[code^1<<bit])/filled(code))
	}
	return 0
}

// held is the log-likelihood ratio of a lane held in some cells.
func (t *screenText) held(h hold) float64 {
	bit, level := *h.fault.Bit, *h.fault.Level
	odds, says := 0.0, t.lost
	if h.fault.Row == nil { // neighbouring cells are written alike
		says = t.gain
	}
	for i := range t.page.shape {
		if !h.in(i) {
			continue
		}
		switch c := t.page.likely(i); {
		case c >= 0 && c>>bit&1 == level:
			odds += says[i][bit]
		case t.page.code[i] >= 0 && t.page.font.first[force(c, bit, level)] != c: // else the one shows as the other
			odds -= misread
		}
	}
	return odds
}

func (t *screenText) whyHeld(h hold) string {
	odd, of := 0, 0
	for i := range t.page.shape {
		if h.in(i) && t.page.likely(i) >= 0 {
			if of++; t.lost[i][*h.fault.Bit] > 1 {
				odd++
			}
		}
	}
	return fmt.Sprintf("%d of the %d cells there would make better sense with bit %d of their code changed, and all have it at %d", odd, of, *h.fault.Bit, *h.fault.Level)
}

// rows lists the dead rows and columns that anything speaks for.
func (t *screenText) rows() []hold {
	if !t.page.fits {
		return nil
	}
	return deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool {
		if memory != "screen" {
			return false // colours say too little by themselves
		}
		odd, of := 0, 0
		for i, g := range t.lost {
			if !in(i) || t.page.blank[i] {
				continue
			}
			if of++; g[bit] > 1 && t.page.likely(i)>>bit&1 == level {
				odd++
			}
		}
		return odd >= 2 && odd*oddOfDead >= of // every second cell should have the bit otherwise
	})
}

// oddOfDead: of so many written cells in a dead row or column one at least looks odd. Common practice, no source.
const oddOfDead = 12
