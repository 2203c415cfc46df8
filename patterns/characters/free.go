package characters

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// A screenText is a Text display's screen with all that its hypotheses are weighed by. The likelihoods are those
// of the whole screen, so that answers with and without a reference stand side by side.
type screenText struct {
	e      *Screen
	good   *analyse.Survey // the good machine's; nil: none
	page   *page
	other  *page // as it also shows at times; nil where nothing changes
	time   *restless
	codes  float64 // log-likelihood of what is written, on a good machine
	inks   float64
	unlike float64      // and of how its glyphs differ from the font's
	gain   [][8]float64 // by cell and bit of the code: ln of how much likelier the cell is if its bit is no witness
	lost   [][8]float64 // the same for a lane that fails in a row of the chip and hardly elsewhere
}

func newScreenText(e *Screen) *screenText {
	f := &forms{}
	t := &screenText{e: e, good: e.Reference, page: pageBeside(e.Survey, e.Reference, e.Profile, f)}
	t.time = newRestless(e, t.page)
	if cells := t.time.cells(e.Survey.Cells); cells != nil {
		t.other = pageOn(e.Survey, e.Profile, f, turnedOver(cells, t.page.paper), t.page.paper, t.page.turned)
	}
	if !e.Blank { // else all that was read is the border, in the cells that it runs through
		t.codes, t.inks = t.page.drawn(nil), t.page.drawnInks(nil)
	}
	if t.page.fits {
		t.unlike = t.page.fit()
	} else { // what it takes to draw glyphs that no font at hand has
		drawn := map[int]bool{} // on this screen: what else shows for a field, or on the reference, was not drawn for it
		for _, s := range t.page.shape {
			if s > 255 && !drawn[s] {
				drawn[s] = true
				t.unlike += math.Log(formGuess)
			}
		}
	}
	t.gain, t.lost = t.page.gains()
	return t
}

// drawn is the log-likelihood of what is written in the cells that are in; nil: all.
func (p *page) drawn(in func(i int) bool) float64 {
	if p.codeCosts == nil {
		p.codeCosts = written(p.shape, p.columns, p.known(), nil)
	}
	return sumOf(p.codeCosts, in)
}

// drawnInks is the same of their colours.
func (p *page) drawnInks(in func(i int) bool) float64 {
	if p.inkCosts == nil {
		p.inkCosts = writtenInks(p.ink, p.columns)
	}
	return sumOf(p.inkCosts, in)
}

// writtenInks gives each cell's log-likelihood: a colour like the cell to the left, or like the cell above, or one of those used; or, as
// in pictures drawn with characters and in tests of them, any of those used.
func writtenInks(inks []int, columns int) []float64 {
	var same, above nats.Adaptive
	var symbols, steps, used words // a row of colours goes up by one or two
	out, left, orderly := make([]float64, len(inks)), -1, 0.5
	for i, ink := range inks {
		if ink < 0 {
			continue
		}
		bit, own := 0, 0.0
		if ink == left {
			bit = 1
		}
		if left >= 0 {
			own += same.Cost(bit)
		}
		if bit == 0 {
			over := 0
			if i >= columns && inks[i-columns] == ink {
				over = 1
			}
			if own += above.Cost(over); over == 0 {
				own += either(symbols.cost(ink, 1.0/16), steps.cost((ink-left)&15, 1.0/16))
			}
		}
		ordered, any := orderly*math.Exp(-own), (1-orderly)*math.Exp(-used.cost(ink, 1.0/16))
		out[i] = surprise(ordered + any)
		orderly = (1-switching)*ordered/(ordered+any) + switching/2
		left = ink
	}
	return out
}

// either is the length of what may be written in two ways.
func either(a, b float64) float64 { return math.Ln2 - nats.LogSum(-a, -b) }

// misread is what a cell costs that shows what it can't, in nats: one in two hundred, and any glyph.
const misread = 5.3 + 5.5

// free weighs a screen that nothing is known of beforehand.
func (t *screenText) free() []patterns.Hypothesis {
	alive, dead := t.blank()
	still := t.time.clean()
	clean := alive + t.codes + t.inks + still
	out := []patterns.Hypothesis{{Prior: math.Log(patterns.CleanPrior), Like: clean}}
	add := func(f patterns.Fault, share, like float64, why ...string) {
		out = append(out, answer(f, share, like, why...))
	}
	stuck := map[string][]float64{"screen": noLanes(8), "colour": noLanes(4)} // the likelier level
	for _, h := range stuckLanes() {
		like, why := t.stuck(h)
		stuck[h.fault.Memory][*h.fault.Bit] = math.Max(stuck[h.fault.Memory][*h.fault.Bit], like)
		add(h.fault, h.share, alive+like+still, why)
		if g, share, ok := lineOfGenerator(h); ok {
			add(g, share, alive+like+still, why)
		}
	}
	for _, h := range t.rows() {
		add(h.fault, h.share, clean+t.held(h), t.whyHeld(h))
	}
	for _, memory := range []string{"screen", "colour"} {
		share, lanes := shareOf(memory)
		for bit := range lanes {
			like, why := t.weak(memory, bit)
			// A lane that fails as a whole, now and then, is mostly as one that is stuck.
			like += t.codes + t.inks
			if moving, _ := t.time.weak(memory, bit); len(t.time.changes) > 0 {
				like = math.Max(like, stuck[memory][bit]+moving-math.Ln2)
			}
			add(patterns.Fault{Kind: "data-bit-weak", Bit: new(bit), Memory: memory}, share/float64(lanes), alive+like, why...)
		}
	}
	if alive == 0 {
		if t.good == nil { // beside a reference lanes are weighed cell by cell
			t.blocks(clean, add)
			t.lostLines(clean, add)
			t.recolouredRows(clean, add)
		}
		for _, f := range foldsOf(t.e.Profile) {
			if !f.still() || !f.screen { // what is read elsewhere shows nowhere itself; colours alone repeat anyway
				continue
			}
			switch f.fault.Columns { // without a reference which of each two columns is right is open, but for what changes
			case "even":
				if f.from(2) > 2 { // the pairs are those of the odd columns
					continue
				}
			case "odd":
				f.why = "columns of cells stand in pairs that show the same, all lanes alike"
			}
			static, spoilt := t.folded(f)
			moving := t.foldedInTime(f)
			like := math.Max(static+still, math.Max(static, t.codes+t.inks)+moving)
			if f.fault.Columns == "odd" {
				if changing, _, _ := t.time.fetches(); changing == "odd" || changing == "even" { // the others stand still
					f.fault.Columns, f.share = changing, 2*f.share
				} else {
					even := f.fault
					even.Columns = "even"
					add(even, f.share, like-math.Ln2, f.why)
				}
			}
			add(f.fault, f.share, like, f.explain(t.e, spoilt))
		}
		t.lateColumns(clean, add)
		t.floating(clean, add)
		t.floatingAfter(clean, add)
		for _, u := range turns() {
			if t.page.different() < fewGlyphs {
				break
			}
			if like, ok := t.turned(u); ok {
				add(u.fault, u.share, like+t.inks+still-t.unlike, u.why)
				if f, share, ok := u.lineOfGlyphs(); ok {
					add(f, share, like+t.inks+still-t.unlike, u.why)
				}
			}
		}
		t.lostGlyphs(clean, add)
		t.blends(still, add)
		t.neverLoaded(clean, add)
		if !t.page.fits {
			t.linesRepeat(clean, add)
			t.stagesStuck(clean, add)
			t.columnsHeld(clean, add)
			t.pixelsInTwos(clean, add)
		}
	}
	out = append(out, t.moving(clean-still, t.decayed)...)
	t.linesInTime(func(hold) float64 { return clean - still }, add)
	t.placesInTime(clean-still, add)
	t.turnsInTime(clean-still, add)
	add(patterns.Fault{Kind: "blank-picture"}, 1, dead)
	for _, c := range t.e.Survey.Levels.Components {
		add(patterns.Fault{Kind: "colour-path", Component: c.Name, Level: new(c.Level)}, 1.0/float64(len(t.e.Survey.Levels.Components)), clean+math.Min(c.Gain, unheld*c.Gain), whyPath(c))
	}
	if alive == 0 && len(t.page.code) > 0 {
		if woken := t.page.woken(); woken > -math.MaxFloat64 {
			// Cells of a chip that woke halfway go on turning, as those of one that its supply fails.
			turning, _ := t.time.supply()
			add(patterns.Fault{Kind: "power-up-pattern"}, 1, woken+math.Max(still, turning-wokenTurns))
		}
	}
	return out
}

// wokenTurns is how seldom, nats, woken memory goes on turning. Common practice, no source.
const wokenTurns = 3.0

// unheld is what a nat for a held colour signal is worth with nothing to compare with: devices turn and blend colours in more ways than the fit
// knows. Common practice, no source.
const unheld = 0.5

// fewGlyphs is how many different characters must stand on a screen before one can say of all glyphs that they are
// changed alike: of fewer, each may as well be another character.
const fewGlyphs = 4

func noLanes(n int) []float64 { return slices.Repeat([]float64{math.Inf(-1)}, n) }

// answer makes a hypothesis of a fault that its kind's prior and share are of.
func answer(f patterns.Fault, share, like float64, why ...string) patterns.Hypothesis {
	k := patterns.KindOf(f.Kind)
	f.Class = k.Class
	var said []string
	for _, w := range why {
		if w != "" {
			said = append(said, w)
		}
	}
	return patterns.Hypothesis{Fault: &f, Prior: math.Log(math.Max(k.Prior, 1e-9) * share), Like: like, Why: said}
}

// folded is the log-likelihood of the screen with cells read from other places: what shows is written once, and
// repeats where the fold says.
func (t *screenText) folded(f fold) (like float64, repeats int) {
	const hopeless, leastRepeats = 30, 3
	const fewColours = 6 // nats that colours may add to what the characters say

	p := t.page
	source := func(i int) int {
		if from := f.from(i); from >= 0 {
			return from
		}
		return i
	}
	// A place that was not read itself holds what is read first of the cells that show it.
	holds := func(symbols []int) []int {
		out := slices.Clone(symbols)
		for i, s := range symbols {
			if from := source(i); out[from] < 0 {
				out[from] = s
			}
		}
		return out
	}
	// What shows in several cells is written once, as hard as in the cell where it was hardest. What goes against the fold
	// is written by itself.
	once := func(costs []float64, symbols []int) float64 {
		hardest, apart := make([]float64, len(costs)), 0.0
		// A pattern goes on as the cell above or to the left does, or the one before that.
		goesOn := func(i, from int) bool {
			for _, d := range [...]int{p.columns, 2 * p.columns, 1, 2} {
				if i >= d && from >= d && symbols[i] == symbols[i-d] && symbols[from] == symbols[from-d] && (d > 2 || i%p.columns >= d && from%p.columns >= d) {
					return true
				}
			}
			return false
		}
		held := holds(symbols)
		for i, v := range costs {
			from := source(i)
			if from != i && goesOn(i, from) { // as it does anyway
				apart += v
				continue
			}
			if symbols[i] >= 0 && symbols[i] != held[from] {
				apart += v
				continue
			}
			hardest[from] = math.Min(hardest[from], v)
		}
		return sumOf(hardest, nil) + apart
	}
	codes, inks := t.codes, t.inks
	if f.screen && f.lanes == allLanes {
		wrong, of := 0, 0
		var hidden, sorts []int // sorts: that repeat, none nearly another
		held := holds(p.shape)
		sources := map[int]bool{}
		for i, s := range p.shape {
			from := source(i)
			if from == i || s < 0 {
				continue
			}
			of++
			switch {
			case s == held[from]:
				if !p.blank[i] {
					repeats++
					sources[from] = true
					if !p.fits && len(sorts) < fewSorts && !slices.ContainsFunc(sorts, func(k int) bool { return p.nearly(s, k) }) {
						sorts = append(sorts, s)
					}
				}
			case !f.colour && p.blank[i] && held[from] != p.space: // its own ink may be the background's colour
				hidden = append(hidden, i)
			case !f.colour && held[from] == p.space && !p.blank[i]:
				hidden = append(hidden, from)
			case !p.fits && p.nearly(s, held[from]): // says nothing either way
			default:
				wrong++
			}
		}
		if !p.fits && len(sorts) < leastRepeats { // one character in several readings
			return math.Min(t.codes-1, codes) + t.inks, repeats
		}
		if codes = p.hiddenInk(hidden) + nats.BetaSequence(wrong, of, 0.5, 50) - float64(wrong)*math.Log(glyphsMistaken); codes < t.codes-hopeless {
			return t.codes + t.inks - hopeless, 0 // however well the rest may be written
		}
		if codes += once(p.codeCosts, p.shape); len(sources) < leastRepeats || p.repeatsAnyway(f.from) { // a cell that shows on and on is drawn so, and what repeats everywhere
			codes = math.Min(codes, t.codes-1)
		} else if f.fault.Kind == "line-counter" {
			codes += p.linesTwice(f.from)
		}
	} else if f.screen {
		if !p.fits {
			return codes + inks - 1, 0
		}
		lane, levels := bits.TrailingZeros(uint(f.lanes)), 0
		var runs levelRuns
		for i, c := range p.code {
			from := source(i)
			level := runs.level // an unread cell goes on with it
			if c >= 0 {
				level = c & f.lanes
				levels |= 1 << (level >> lane)
			}
			if i%p.columns == 0 || level != runs.level {
				runs.next(i%p.columns, level)
			}
			switch {
			case from == i || c < 0 || p.code[from] < 0:
			case (c^p.code[from])&f.lanes != 0:
				codes -= misread
			default:
				repeats++
				runs.run += t.gain[i][lane]
			}
		}
		runs.next(0, 0)
		if levels == 3 { // a lane that is the same in all cells is so wherever it is read
			codes += runs.sum
		}
	}
	if f.screen && (repeats < leastRepeats || p.different() < 3) { // blank beside blank, or one character all over, is no repetition
		return math.Min(codes, t.codes-1) + t.inks, repeats
	}
	if f.colour {
		wrong, of := 0, 0
		for i, ink := range p.ink {
			if from := source(i); from != i && ink >= 0 && p.ink[from] >= 0 {
				if of++; ink != p.ink[from] {
					wrong++
				}
			}
		}
		inks = math.Min(once(p.inkCosts, p.ink), t.inks+fewColours) + nats.BetaSequence(wrong, of, 0.5, 50) - float64(wrong)*math.Log(inksMistaken)
		if !f.screen {
			repeats = of - wrong
		}
	}
	return codes + inks, repeats
}

// known is the font that the screen shows; nil where it is another than the one at hand.
func (p *page) known() *glyphs {
	if !p.fits {
		return nil
	}
	return p.font
}

// explain says what shows a fold.
func (f *fold) explain(e *Screen, repeats int) string {
	if f.why != "" {
		return f.why
	}
	what := "what stands there"
	if !f.screen {
		what = "the colour"
	} else if f.lanes != allLanes {
		what = fmt.Sprintf("bit %d of the code", f.fault.Lanes[0])
	}
	place := ""
	switch f.fault.Kind {
	case "address-line-stuck":
		place = fmt.Sprintf("repeats %s in the cells whose addresses differ in line %s alone", what, patterns.List(f.fault.Lines))
	case "line-counter":
		place = fmt.Sprintf("repeats whole rows of cells as bit %d of the line counter would, codes and colours alike", *f.fault.CounterBit)
	default:
		place = fmt.Sprintf("repeats %s by its column on the raster (%s), all lanes alike", what, f.fault.Columns)
	}
	return fmt.Sprintf("the screen %s: %d written cells", place, repeats)
}

func whyPath(c analyse.Component) string {
	state := "at nothing"
	if c.Level == 1 {
		state = "at its greatest"
	}
	return fmt.Sprintf("the colours of border and picture are the display's with %s %s, and not as they should be", c.Name, state)
}
