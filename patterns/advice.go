package patterns

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"backporch/video/display"
)

// A Rival is one of the causes that can hold the first fault.
type Rival struct {
	Cause Cause
	Name  string // in words, with the part's designator where the map has it
	Share float64
	Test  string // that splits it from the likeliest one, "" for that one itself
}

// leastShare is what a rival must have to be worth a word.
const leastShare = 0.04

// next is what to test, or what would settle an open question.
func (c *conclusion) next() []string {
	if c.v.Class == Clean {
		if c.against == nil {
			return []string{"give --reference with a capture of a good machine at the same screen to have every bit compared"}
		}
		return nil
	}
	var out []string
	if c.v.Class == Undetermined {
		out = append(out, c.settling())
	}
	sc := sceneOf(c.p, c.shifted(), c.paths, c.o.Known)
	steps := sc.choose(c.o.Known, mostSteps)
	if len(out) > 0 && out[0] == sameWay { // a bench test as well
		steps = slices.DeleteFunc(steps, func(s step) bool { return s.test.Name == goodMachine })
	}
	steps = steps[:min(len(steps), mostSteps-len(out))]
	if len(steps) == 0 && c.v.Class != Undetermined {
		if s := sc.remedy(c.o.Known); s != nil {
			steps = []step{*s}
		}
	}
	said := map[string]bool{} // cautions
	for i, s := range steps {
		text := c.words(s, s.test.Do)
		if i == 0 {
			text += c.reading(&sc, s)
		}
		var cautions []string
		for _, caution := range strings.Split(s.test.Caution, "; ") {
			if caution != "" && !said[caution] {
				said[caution] = true
				cautions = append(cautions, caution)
			}
		}
		if len(cautions) > 0 {
			text += " (" + strings.Join(cautions, "; ") + ")"
		}
		out = append(out, text)
	}
	return out
}

// sameWay is said where it is open whether the path has a fault.
const sameWay = "capture a good machine through the same cable and device: what shows there too is not this machine's"

// pathOpen: the picture can be read, and what is open is the path.
func (c *conclusion) pathOpen() bool {
	return c.e != nil && cleanShare(c.logic) >= cleared && cleanShare(c.paths) < cleared
}

// settling is the capture that would settle an open question.
func (c *conclusion) settling() string {
	blank := c.e != nil && c.e.blankSeen()
	top := best(c.logic)
	switch {
	case c.pathOpen():
		return sameWay
	case c.e == nil && c.s.Sync.Picture != "":
		return "capture again with a machine that is known to work on the same cable and input: a picture there clears the device"
	case c.e == nil:
		return "capture a screen with text or edges on it, for two seconds or more, or name the display with --display"
	case blank && c.against == nil:
		return "let the machine draw: type a key or start a test ROM, give the border another colour, and capture that"
	case c.o.Reference != nil && top != nil && top.other:
		return "bring both machines to the same screen, capture both, and give the good one's as --reference"
	case c.o.Reference == nil && c.o.Fill == nil && c.p.Kind == display.Attr:
		return "show the same screen on a good machine and give its capture as --reference; or fill display memory with a byte and say it with --fill"
	case c.o.Reference == nil:
		return "show the same screen on a good machine and give its capture as --reference"
	}
	return "capture a screen with text and several colours on both machines, for two seconds or more"
}

// words puts the parts' names into a text.
func (c *conclusion) words(s step, text string) string {
	b := c.o.Board
	if b == nil {
		b = &Board{}
	}
	part := func(designator, other string) string {
		if designator != "" {
			return designator
		}
		return other
	}
	chip, bit := "the lane's chip", "the lane"
	switch {
	case s.at == colourMemory:
		chip, bit = "the colour memory's chip", "the colour memory"
	case count(s.at) == 1:
		n := 0
		for s.at>>n&1 == 0 {
			n++
		}
		chip, bit = part(b.Bits[n], fmt.Sprintf("the chip of data bit %d", n)), fmt.Sprintf("bit %d", n)
	case s.at != 0:
		bit = "any bit"
	}
	return strings.NewReplacer("{chip}", chip, "{bit}", bit,
		"{video}", part(b.VideoLogic, "the video-logic chip"),
		"{generator}", part(b.CharacterGenerator, "the character generator"),
		"{multiplexer}", part(b.Multiplexer, "the multiplexer")).Replace(text)
}

// reading says what each outcome of a step would point at, where that differs.
func (c *conclusion) reading(sc *scene, s step) string {
	table := sc.table(s)
	// By fault where outcomes differ in it, else by cause.
	for _, byCause := range []bool{false, true} {
		var parts []string
		first := map[string]bool{}
		for o, outcome := range s.test.Outcomes {
			labels, total := sc.after(c, table, o, byCause)
			if total < 0.05 {
				continue // hardly to be expected
			}
			first[labels[0].name] = true
			said, sum := []string{}, 0.0
			for _, l := range labels {
				if sum >= 0.6 || len(said) == 3 || l.part < 0.1 && len(said) > 0 {
					break
				}
				sum += l.part
				said = append(said, fmt.Sprintf("%s (%s)", l.name, percent(l.part)))
			}
			parts = append(parts, fmt.Sprintf("if %s, %s", c.words(s, outcome.Seen), strings.Join(said, " or ")))
		}
		if len(first) > 1 {
			return ": " + strings.Join(parts, "; ")
		}
	}
	return ""
}

// A label is a fault or a cause in words, with its share.
type label struct {
	name string
	part float64
}

// after is what is suspected after an outcome, the likeliest first, and how probable the outcome is.
func (sc *scene) after(c *conclusion, table [][]float64, outcome int, byCause bool) (labels []label, total float64) {
	i := 0
	for _, l := range sc.logic {
		for _, p := range sc.path {
			w := l.weight * p.weight * table[i][outcome]
			i++
			total += w
			s := l
			if l.fault == nil { // then the path is what the test is about
				s = p
			}
			name := "nothing wrong"
			switch {
			case s.fault != nil && byCause:
				name = s.cause.say(s.fault, c.o.Board)
			case s.fault != nil:
				name = s.fault.Describe(c.p)
			}
			at := slices.IndexFunc(labels, func(l label) bool { return l.name == name })
			if at < 0 {
				at = len(labels)
				labels = append(labels, label{name, 0})
			}
			labels[at].part += w
		}
	}
	for i := range labels {
		labels[i].part /= total
	}
	slices.SortStableFunc(labels, func(a, b label) int { return cmp.Compare(b.part, a.part) })
	return labels, total
}

func percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// rivals lists what can hold the first fault, with the test that splits each from the likeliest.
func (c *conclusion) rivals() {
	if c.v.Class == Clean || c.v.Class == Undetermined || len(c.v.Faults) == 0 {
		return
	}
	f := &c.v.Faults[0]
	shares := causesGiven(f, c.o.Known)
	top := shares[0]
	if top.cause == Nothing {
		return
	}
	for i, s := range shares {
		if s.part < leastShare {
			break
		}
		r := Rival{Cause: s.cause, Name: s.cause.say(f, c.o.Board), Share: s.part}
		if i > 0 {
			r.Test = c.splitter(f, top, s)
		}
		c.v.Rivals = append(c.v.Rivals, r)
	}
}

// splitter is the test without soldering that best tells two causes of a fault apart for its cost.
func (c *conclusion) splitter(f *Fault, a, b share) string {
	total := a.part + b.part
	pair := []suspect{{f, a.cause, a.part / total}, {f, b.cause, b.part / total}}
	sc := scene{logic: pair, path: []suspect{{nil, Nothing, 1}}, codes: c.p.Kind == display.Text, socketed: socketed}
	if f.Class == Signal {
		sc.logic, sc.path = sc.path, sc.logic
	}
	name, worth := "", 0.0
	for _, s := range sc.steps(c.o.Known) {
		if s.test.Solder {
			continue
		}
		gain := information([][]float64{sc.weights()}, sc.table(s))
		if s.test.Socket {
			gain *= sc.socketed
		}
		if gain >= worthDoing && gain/s.cost() > worth {
			name, worth = s.test.Name, gain/s.cost()
		}
	}
	return name
}

// knownWhy says what each fact does to the causes of the first fault.
func (c *conclusion) knownWhy() {
	if len(c.v.Faults) == 0 {
		for _, fact := range c.o.Known {
			if fact.changed() {
				c.v.Why = append(c.v.Why, fact.said()+": something comes and goes while the picture is watched, though this capture shows nothing of it")
			}
		}
		return
	}
	f := &c.v.Faults[0]
	var little []string
	for i, fact := range c.o.Known {
		if fact.changed() && !fact.concerns(f) {
			c.v.Why = append(c.v.Why, fmt.Sprintf("%s: this points at another part than what holds %s: a second fault that comes and goes, or a hand that stirred something else", fact.said(), f.Describe(c.p)))
			continue
		}
		before, after := causesGiven(f, c.o.Known[:i]), causesGiven(f, c.o.Known[:i+1])
		was := map[Cause]float64{}
		for _, s := range before {
			was[s.cause] = s.part
		}
		slices.SortStableFunc(after, func(a, b share) int {
			return cmp.Compare(math.Abs(b.part-was[b.cause]), math.Abs(a.part-was[a.cause]))
		})
		var up, down []string
		for _, s := range after {
			change := s.part - was[s.cause]
			if math.Abs(change) < 0.03 {
				continue
			}
			text := fmt.Sprintf("%s (%.0f to %.0f %%)", s.cause.say(f, c.o.Board), 100*was[s.cause], 100*s.part)
			if change > 0 {
				up = append(up, text)
			} else {
				down = append(down, text)
			}
		}
		if len(up) == 0 || len(down) == 0 {
			little = append(little, fact.said())
			continue
		}
		c.v.Why = append(c.v.Why, fmt.Sprintf("%s: %sweight moves from %s to %s", fact.said(), fact.remark(f), strings.Join(down, ", "), strings.Join(up, ", ")))
	}
	if len(little) > 0 {
		c.v.Why = append(c.v.Why, strings.Join(little, ", ")+": tells little between the causes of this fault")
	}
}

// said is a fact as a reason names it.
func (f *Fact) said() string {
	if f.counted {
		return f.Text
	}
	return "known " + f.Text
}

// changed tells whether a stimulus did something, by what was counted.
func (f *Fact) changed() bool {
	return f.counted && f.saw[0].stirs()
}

// concerns tells whether the test of a stimulus has to do with a fault, whatever holds it.
func (f *Fact) concerns(fault *Fault) bool {
	o := f.saw[0]
	return slices.ContainsFunc(causesOf(fault), func(s share) bool {
		at := o.at
		if at == 0 && o.test.Lane {
			at = screenLanes | colourMemory
		}
		_, own := o.test.likely(fault, s.cause, at)
		return own
	})
}

// remark is what else is to be said of a fact.
func (f *Fact) remark(fault *Fault) string {
	for _, o := range f.saw {
		if o.test.Hand != reseats && o.stirs() {
			return "what changes with " + string(o.test.Hand) + " at one part comes and goes: a weak part or a contact, hardly a lasting short; "
		}
		if o.test.Locates && o.outcome == 0 && (fault.Class == RAMBit || fault.Class == VideoLogic) {
			return "the processor reads the memory right while the picture shows it wrong; a quick test proves no chip good, but suspicion shifts towards the video logic, its socket and its supply; "
		}
	}
	return ""
}
