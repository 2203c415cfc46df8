package workbench

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"backporch/patterns"
	"backporch/video/display"
)

// leastShare is what a rival must have to be worth a word.
const leastShare = 0.04

// A Desk is where a machine is tested: what is known of it beside its picture.
type Desk struct {
	Profile *display.Profile
	Board   *Board // names parts; nil: lanes only
	Known   []Fact // what came of tests
}

// Next is what to test with these probabilities of the faults, at most mostSteps lines, the test that tells the most for its cost first.
// settling, where it is not "", is the capture that would settle an open question, and comes before all tests.
func (d Desk) Next(logic, paths []patterns.Hypothesis, settling string) []string {
	var out []string
	if settling != "" {
		out = append(out, settling)
	}
	sc := sceneOf(d.Profile, logic, paths, d.Known)
	steps := sc.choose(d.Known, mostSteps)
	if settling == SameWay { // a bench test as well
		steps = slices.DeleteFunc(steps, func(s step) bool { return s.test.Name == goodMachine })
	}
	steps = steps[:min(len(steps), mostSteps-len(out))]
	if len(steps) == 0 && settling == "" {
		if s := sc.remedy(d.Known); s != nil {
			steps = []step{*s}
		}
	}
	said := map[string]bool{} // cautions
	for i, s := range steps {
		text := d.words(s, s.test.Do)
		if i == 0 {
			text += d.reading(&sc, s)
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

// SameWay is said where it is open whether the path has a fault.
const SameWay = "capture a good machine through the same cable and device: what shows there too is not this machine's"

// words puts the parts' names into a text.
func (d Desk) words(s step, text string) string {
	b := d.Board
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
func (d Desk) reading(sc *scene, s step) string {
	table := sc.table(s)
	// By fault where outcomes differ in it, else by cause.
	for _, byCause := range []bool{false, true} {
		var parts []string
		first := map[string]bool{}
		for o, outcome := range s.test.Outcomes {
			labels, total := sc.after(d, table, o, byCause)
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
			parts = append(parts, fmt.Sprintf("if %s, %s", d.words(s, outcome.Seen), strings.Join(said, " or ")))
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
func (sc *scene) after(d Desk, table [][]float64, outcome int, byCause bool) (labels []label, total float64) {
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
				name = say(s.cause, s.fault, d.Board)
			case s.fault != nil:
				name = s.fault.Describe(d.Profile)
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

// Rivals lists what can hold a fault, the likeliest first, with the test that splits each from that one; none where nothing may be wrong.
func (d Desk) Rivals(f *patterns.Fault) (out []patterns.Rival) {
	shares := causesGiven(f, d.Known)
	top := shares[0]
	if top.cause == Nothing {
		return nil
	}
	for i, s := range shares {
		if s.part < leastShare {
			break
		}
		r := patterns.Rival{Cause: s.cause, Name: say(s.cause, f, d.Board), Share: s.part}
		if i > 0 {
			r.Test = d.splitter(f, top, s)
		}
		out = append(out, r)
	}
	return out
}

// splitter is the test without soldering that best tells two causes of a fault apart for its cost.
func (d Desk) splitter(f *patterns.Fault, a, b share) string {
	total := a.part + b.part
	pair := []suspect{{f, a.cause, a.part / total}, {f, b.cause, b.part / total}}
	sc := scene{logic: pair, path: []suspect{{nil, Nothing, 1}}, codes: d.Profile.Kind == display.Text, socketed: socketed}
	if f.Class == patterns.Signal {
		sc.logic, sc.path = sc.path, sc.logic
	}
	name, worth := "", 0.0
	for _, s := range sc.steps(d.Known) {
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

// Why says, a line each, what every fact does to the causes of a fault, the first of the verdict's; nil: there is none.
func (d Desk) Why(f *patterns.Fault) (why []string) {
	if f == nil {
		for _, fact := range d.Known {
			if fact.changed() {
				why = append(why, fact.said()+": something comes and goes while the picture is watched, though this capture shows nothing of it")
			}
		}
		return why
	}
	var little []string
	for i, fact := range d.Known {
		if fact.changed() && !fact.concerns(f) {
			why = append(why, fmt.Sprintf("%s: this points at another part than what holds %s: a second fault that comes and goes, or a hand that stirred something else", fact.said(), f.Describe(d.Profile)))
			continue
		}
		before, after := causesGiven(f, d.Known[:i]), causesGiven(f, d.Known[:i+1])
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
			text := fmt.Sprintf("%s (%.0f to %.0f %%)", say(s.cause, f, d.Board), 100*was[s.cause], 100*s.part)
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
		why = append(why, fmt.Sprintf("%s: %sweight moves from %s to %s", fact.said(), fact.remark(f), strings.Join(down, ", "), strings.Join(up, ", ")))
	}
	if len(little) > 0 {
		why = append(why, strings.Join(little, ", ")+": tells little between the causes of this fault")
	}
	return why
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
func (f *Fact) concerns(fault *patterns.Fault) bool {
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
func (f *Fact) remark(fault *patterns.Fault) string {
	for _, o := range f.saw {
		if o.test.Hand != reseats && o.stirs() {
			return "what changes with " + string(o.test.Hand) + " at one part comes and goes: a weak part or a contact, hardly a lasting short; "
		}
		if o.test.Locates && o.outcome == 0 && (fault.Class == patterns.RAMBit || fault.Class == patterns.VideoLogic) {
			return "the processor reads the memory right while the picture shows it wrong; a quick test proves no chip good, but suspicion shifts towards the video logic, its socket and its supply; "
		}
	}
	return ""
}
