package judge

import (
	"fmt"
	"math"
	"sort"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters"
	"backporch/patterns/nats"
	"backporch/patterns/signalpath"
	"backporch/patterns/workbench"
	"backporch/video/display"
)

// Options are what is known beside the capture.
type Options struct {
	Reference *analyse.Survey  // a good machine showing the same screen; nil: none
	Fill      *byte            // the byte that all of the display memory should hold; nil: not stated
	Board     *workbench.Board // names parts; nil: lanes only
	Known     []workbench.Fact // what came of bench tests
	Without   []Term           // evidence to leave out, to measure what it is worth; for verdicts: none
}

// Classify says what a survey shows. It never fails: without evidence the verdict is
// undetermined, with the reason.
func Classify(s *analyse.Survey, p *display.Profile, o Options) *patterns.Verdict {
	s, o = without(s, o)
	paths := signalpath.Hypotheses(s, o.Reference, p)
	nats.Normalise(paths)
	v := &patterns.Verdict{}
	c := &conclusion{s: s, p: p, o: o, v: v, paths: paths}
	if s.Holds() && s.Registration.OK { // a picture that moves is misread line by line
		c.e = gather(s, p)
		c.e.leave(o.Without)
		var against *comparison
		if o.Reference != nil {
			c.e.good = o.Reference.Motion
			against = compareWith(c.e, o.Reference)
		} else if o.Fill != nil {
			against = likelierFill(c.e, *o.Fill)
		}
		if c.against = against; against != nil {
			against.spoilt = faulty(paths) >= patterns.Named
		}
		c.logic = logicFor(c.e, against)
		dazzled(c.logic, paths, s.Signal.Ghost)
		if against != nil {
			against.tinted(c.logic, paths)
		}
		if against == nil {
			smeared(c.logic, paths, c.e)
		}
		nats.Normalise(c.logic)
	}
	c.know()
	c.conclude()
	return v
}

// tooManyMoving is the part of the bytes that change from which on the colours of cells are means of several.
const tooManyMoving = 0.2

// logicFor weighs the logic's hypotheses with whatever there is to compare with.
func logicFor(e *evidence, against *comparison) []patterns.Hypothesis {
	if e.p.Kind == display.Text {
		return characters.Hypotheses(lettered(e, against))
	}
	free := logicHypotheses(e)
	if against == nil {
		return free
	}
	// The screen may be another than the reference's: then the free likelihoods hold, with
	// what it takes to write that screen down. Woken memory and a blank picture stand in the place of any screen.
	written := against.written(e)
	if _, blank := e.blank(); blank { // blankOdds holds what an empty screen takes
		written = 0
	}
	for i := range free {
		free[i].Like -= written
		if k := free[i].Fault; k == nil || k.Kind != "power-up-pattern" && k.Kind != "blank-picture" {
			free[i].Like += math.Log(patterns.OtherScreen)
			free[i].Other = true
		}
	}
	return merge(free, against.hypotheses(e))
}

// merge adds up hypotheses that name the same fault.
func merge(a, b []patterns.Hypothesis) []patterns.Hypothesis {
	index := map[string]int{}
	var out []patterns.Hypothesis
	for _, h := range append(append([]patterns.Hypothesis(nil), a...), b...) {
		k := identity(h.Fault)
		if h.Fault == nil && h.Other {
			k = "another screen"
		}
		i, ok := index[k]
		if !ok {
			index[k] = len(out)
			out = append(out, h)
			continue
		}
		other := &out[i]
		if h.Prior+h.Like > other.Prior+other.Like {
			other.Why = h.Why
		}
		other.Like = nats.LogSum(other.Prior+other.Like, h.Prior+h.Like) - other.Prior
	}
	return out
}

func identity(f *patterns.Fault) string {
	if f == nil {
		return ""
	}
	n := func(v *int) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprint(*v)
	}
	return fmt.Sprint(f.Kind, n(f.Bit), n(f.Level), f.Component, n(f.Expected), n(f.Seen), f.Memory,
		f.Lines, f.Lanes, n(f.Row), n(f.Column), f.Columns, n(f.CounterBit), f.Codes)
}

// A conclusion gathers what the verdict is made of.
type conclusion struct {
	s       *analyse.Survey
	p       *display.Profile
	o       Options
	v       *patterns.Verdict
	e       *evidence // nil: no registered picture
	against *comparison
	paths   []patterns.Hypothesis
	logic   []patterns.Hypothesis // empty: nothing could be said of it
	// fact is the likelihood of what the user knows under a fault of the logic; nil: nothing is known.
	fact func(f *patterns.Fault) float64
}

// conclude fills the verdict.
func (c *conclusion) conclude() {
	path, logic := patterns.Best(c.paths), patterns.Best(c.logic)
	var faults []patterns.Fault
	collect := func(list []patterns.Hypothesis) {
		for _, h := range list {
			if h.Fault != nil && h.Like >= patterns.Listed {
				f := *h.Fault
				f.Probability = h.Like
				faults = append(faults, f)
			}
		}
	}
	collect(c.shifted())
	collect(c.paths)
	sort.SliceStable(faults, func(i, j int) bool { return faults[i].Probability > faults[j].Probability })
	for i := range faults {
		faults[i].Part = c.o.Board.Part(faults[i])
	}

	// A fault of the logic explains more of a picture than the path it came by. Where the path is at fault as well, something is wrong either way, and
	// it need only be likelier than none.
	class, sure := patterns.Undetermined, 0.0
	way, waySure := classOf(c.paths)
	byWay := way != patterns.Clean && faulty(c.paths) >= patterns.NamedPath && waySure >= patterns.LeastClass
	if k, p := classOf(c.logic); k != patterns.Clean && k != patterns.Undetermined && faulty(c.logic) >= patterns.Named &&
		(p >= patterns.LeastClass || byWay && p > cleanShare(c.logic)) {
		class, sure = k, p
	} else if byWay {
		class, sure = way, waySure
	} else if len(c.logic) > 0 && c.certain() {
		clean := cleanShare(c.logic) * cleanShare(c.paths)
		if clean >= patterns.Cleared {
			class, sure = patterns.Clean, clean
		}
	}
	c.v.Class = class
	if class != patterns.Undetermined {
		c.v.Confidence = &sure
		front(faults, class)
	}
	c.v.Faults = faults
	c.explain(path, logic)
	c.lanes()
	c.regions()
	state(c.v, Varied(c.s), c.against != nil)
}

// shifted spreads faults of a lane over the places that the picture may have: what
// is bit 3 here is bit 4 if the picture begins a pixel further right.
func (c *conclusion) shifted() []patterns.Hypothesis {
	shifts := c.s.Registration.Shifts
	if !c.displaced() {
		return c.logic
	}
	var out []patterns.Hypothesis
	for _, h := range c.logic {
		if h.Fault == nil || h.Fault.Bit == nil {
			out = append(out, h)
			continue
		}
		total := 0.0
		byBit := map[int]float64{}
		for _, s := range shifts {
			bit, part := ((*h.Fault.Bit+s.Pixels)%8+8)%8, s.Probability
			if c.fact != nil {
				f := *h.Fault
				f.Bit = &bit
				part *= c.fact(&f)
			}
			if h.Fault.Kind == "data-bit-weak" {
				part *= math.Exp(c.e.byColours(bit))
			}
			total += part
			byBit[bit] += part
		}
		for bit, share := range byBit {
			f := *h.Fault
			f.Bit = &bit
			moved := h
			moved.Fault, moved.Like = &f, h.Like*share/total
			out = append(out, moved)
		}
	}
	// The same fault may come from two places.
	index := map[string]int{}
	joined := out[:0:0]
	for _, h := range out {
		k := identity(h.Fault)
		if i, ok := index[k]; ok {
			joined[i].Like += h.Like
			continue
		}
		index[k] = len(joined)
		joined = append(joined, h)
	}
	return joined
}

// displaced tells whether the picture may lie at more than one place.
func (c *conclusion) displaced() bool {
	return len(c.s.Registration.Shifts) > 1 && c.p.Kind == display.Attr
}

// dead is the probability of a dead picture from which on an even screen is not called clean.
const dead = 0.15

// certain tells whether a picture that shows nothing wrong shows enough to be called clean.
func (c *conclusion) certain() bool {
	if _, blank := c.e.blank(); blank && c.against == nil {
		for _, h := range c.logic { // an empty screen, or a dead picture
			if h.Fault != nil && h.Fault.Kind == "blank-picture" && h.Like > dead {
				return false
			}
		}
	}
	return c.unread() == ""
}

// front brings the most probable fault of the verdict's class to the front.
func front(faults []patterns.Fault, class patterns.Class) {
	for i, f := range faults {
		if f.Class == class {
			copy(faults[1:i+1], faults[:i])
			faults[0] = f
			return
		}
	}
}

// classOf is the most probable class and its probability.
func classOf(list []patterns.Hypothesis) (patterns.Class, float64) {
	sums := map[patterns.Class]float64{}
	for _, h := range list {
		class := patterns.Clean
		switch {
		case h.Fault != nil:
			class = h.Fault.Class
		case h.Other:
			class = patterns.Undetermined
		}
		sums[class] += h.Like
	}
	out, top := patterns.Undetermined, 0.0
	for _, class := range []patterns.Class{patterns.Clean, patterns.RAMBit, patterns.VideoLogic, patterns.Signal, patterns.CPUSide} {
		if sums[class] > top {
			out, top = class, sums[class]
		}
	}
	return out, top
}

// faulty is the probability that something is wrong, whatever it is: where two faults make the same picture
// neither is sure by itself.
func faulty(list []patterns.Hypothesis) float64 {
	sum := 0.0
	for _, h := range list {
		if h.Fault != nil {
			sum += h.Like
		}
	}
	return sum
}

func cleanShare(list []patterns.Hypothesis) float64 {
	sum := 0.0
	for _, h := range list {
		if h.Fault == nil && !h.Other {
			sum += h.Like
		}
	}
	return sum
}
