package change

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"backporch/analyse"
	"backporch/analyse/fingerprint"
	"backporch/patterns"
	"backporch/video/display"
)

// A Word is what a repair has come to.
type Word string

// The words, as in the JSON.
const (
	Fixed        Word = "fixed"
	Better       Word = "better"
	Same         Word = "same"
	Worse        Word = "worse"
	Another      Word = "another fault"
	Undetermined Word = "undetermined"
)

// A Side is one of the two captures.
type Side struct {
	Survey  *analyse.Survey
	Verdict *patterns.Verdict
	Print   *fingerprint.Print // nil: not taken
	profile *display.Profile
}

// A Judgement is what two captures say of a repair.
type Judgement struct {
	Word       Word
	Confidence *float64         // probability of Word; nil when undetermined
	Words      map[Word]float64 // each word's probability if it is one machine
	// Gone, Kept and New are the faults that only the one before has, that both have, that only the one
	// after has.
	Gone, Kept, New []string
	Why             []string
	Warnings        []string
	Measures        []Measure
	// SameScreen is whether both show the same screen; nil when it can't be told. Agreement is the
	// kappa behind it.
	SameScreen *bool
	Agreement  *float64
	// Differences are the cells that look different; nil when either picture was not placed.
	Differences []Cell
	Cells       int // compared
	// Lane is the pixel column of each cell that holds most of what differs, 0 the leftmost; nil
	// when none does.
	Lane    *int
	Machine *fingerprint.Comparison
}

// named is the probability from which a word is given, and sameScreen and otherScreen the kappas
// from which screens are the same or not.
const (
	named       = 0.6
	sameScreen  = 0.6
	otherScreen = 0.35
)

// Judge compares two captures of one display.
func Judge(before, after Side, p *display.Profile) *Judgement {
	before.profile, after.profile = p, p
	j := &Judgement{Measures: measure(&before, &after)}
	j.screens(&before, &after, p)
	if before.Print != nil && after.Print != nil {
		j.Machine = fingerprint.Compare(before.Print, after.Print)
	}
	j.weigh(&before, &after)
	j.warn(&before, &after)
	return j
}

func placed(s *Side) bool {
	return s.Survey.Registration.OK && len(s.Survey.Cells) > 0
}

func (j *Judgement) screens(before, after *Side, p *display.Profile) {
	if !placed(before) || !placed(after) || len(before.Survey.Cells) != len(after.Survey.Cells) {
		return
	}
	a, b := rasterOf(before.Survey, p), rasterOf(after.Survey, p)
	j.Cells = len(before.Survey.Cells)
	j.Differences = differences(a, b)
	if j.Differences == nil {
		j.Differences = []Cell{}
	}
	if l := lane(a, b); l >= 0 {
		j.Lane = &l
	}
	j.Agreement = agreement(a, b)
	same := false
	switch k := j.Agreement; {
	case k != nil && *k >= sameScreen:
		same = true
	case k != nil && *k <= otherScreen:
	case k == nil && 50*len(j.Differences) <= j.Cells: // both empty
		same = true
	default:
		return
	}
	j.SameScreen = &same
}

// faulty is the probability that something is wrong.
func faulty(v *patterns.Verdict) float64 {
	switch {
	case v.Class == patterns.Undetermined || v.Weighed == nil:
		return 0.5
	case v.Class == patterns.Clean:
		return 1 - *v.Weighed
	}
	return *v.Weighed
}

// likely is the probability from which a fault counts as one of a capture's.
const likely = 0.5

// identity is what a fault is, whatever part carries it.
func identity(f *patterns.Fault) string {
	s := []string{f.Kind, f.Component, f.Memory, f.Columns, fmt.Sprint(f.Lines, f.Lanes, f.Codes)}
	for _, v := range []*int{f.Bit, f.Level, f.Row, f.Column, f.CounterBit} {
		if v == nil {
			s = append(s, "-")
		} else {
			s = append(s, fmt.Sprint(*v))
		}
	}
	return strings.Join(s, "/")
}

// drowned is the ratio of signal to noise, dB, near which noise is what weakens sync: separators
// work down to 23 dB (EBU Tech. 3209, appendix 2).
const drowned = 26

func faults(s *Side) map[string]*patterns.Fault {
	out := map[string]*patterns.Fault{}
	v := s.Verdict
	if v.Class == patterns.Clean || v.Class == patterns.Undetermined {
		return out
	}
	for i := range v.Faults {
		f := &v.Faults[i]
		if f.Probability >= likely || i == 0 {
			if snr := s.Survey.Signal.SNRdB; f.Kind == "sync-weak" && snr != nil && *snr < drowned {
				noise := *f
				noise.Kind = "noise"
				f = &noise
			}
			out[identity(f)] = f
		}
	}
	return out
}

// weigh gives each word its probability.
func (j *Judgement) weigh(before, after *Side) {
	was, is := faulty(before.Verdict), faulty(after.Verdict)
	had, has := faults(before), faults(after)
	j.Words = map[Word]float64{}
	j.Words[Fixed] = was * (1 - is)
	j.Words[Worse] = (1 - was) * is
	// Nothing wrong in either: the signal may have changed all the same.
	j.split((1-was)*(1-is), j.trend(nil))
	both := was * is
	var kinds []string
	left, gone, new := 0, 0, 0
	kept := 1.0 // that what both have is the same thing
	for id, f := range had {
		if g := has[id]; g != nil {
			left++
			kinds = append(kinds, f.Kind)
			kept = math.Min(kept, math.Min(f.Weighed/math.Max(was, f.Weighed), g.Weighed/math.Max(is, g.Weighed)))
		} else {
			gone++
		}
	}
	new = len(has) - left
	switch {
	case len(had) == 0 || len(has) == 0: // undetermined on a side: which fault is not known
		j.unsettled(both, before, after)
	case left == 0:
		// Two kinds, or two rivals for one thing.
		same := overlap(before.Verdict, after.Verdict)
		j.Words[Another] += both * (1 - same)
		j.split(both*same, j.trend(ram))
	case gone > 0 && new > 0:
		j.Words[Another] += both * kept
		j.Words[Same] += both * (1 - kept)
	case gone > 0:
		j.Words[Better] += both * kept
		j.Words[Another] += both * (1 - kept)
	case new > 0:
		j.Words[Worse] += both * kept
		j.Words[Another] += both * (1 - kept)
	default:
		j.split(both*kept, j.trend(kinds))
		j.Words[Another] += both * (1 - kept)
	}
	// A screen that looks the same in every cell has not been repaired, whatever two verdicts on it
	// say apart; what the signal path did to it may be gone.
	if j.SameScreen != nil && *j.SameScreen && len(j.Differences) == 0 {
		if before.Verdict.Class == after.Verdict.Class && gone+new == 0 {
			j.split(0.5, j.trend(kinds))
		}
		logic, path := false, false
		for _, f := range had {
			logic, path = logic || f.Class != patterns.Signal, path || f.Class == patterns.Signal
		}
		if logic && path {
			j.Words[Better] += j.Words[Fixed]
		} else if logic {
			j.Words[Same] += j.Words[Fixed]
		}
		if logic {
			j.Words[Fixed] = 0
		}
	}
	j.settle(before, after)
}

// overlap is the probability that two verdicts without a likely fault in common mean the same one.
func overlap(a, b *patterns.Verdict) float64 {
	sum := 0.0
	for i := range a.Faults {
		for k := range b.Faults {
			if identity(&a.Faults[i]) == identity(&b.Faults[k]) {
				sum += a.Faults[i].Weighed * b.Faults[k].Weighed
			}
		}
	}
	return math.Min(sum, 1)
}

// unsettled spreads what is left when a capture does not say what is wrong.
func (j *Judgement) unsettled(both float64, before, after *Side) {
	if before.Verdict.Class == after.Verdict.Class {
		j.split(both, j.trend(nil))
		return
	}
	for _, w := range []Word{Better, Same, Worse, Another} {
		j.Words[w] += both / 4
	}
}

// trend says how measures of those kinds of fault have changed, in standard deviations: the greatest
// change, with its sign. Without kinds all measures of the signal count.
func (j *Judgement) trend(kinds []string) float64 {
	best := 0.0
	for _, m := range j.Measures {
		if m.Better == nil {
			continue
		}
		belongs := kinds == nil && m.Unit != ""
		for _, k := range m.kinds {
			for _, want := range kinds {
				belongs = belongs || k == want
			}
		}
		if belongs && math.Abs(*m.Better) > math.Abs(best) {
			best = *m.Better
		}
	}
	return best
}

// split shares a probability between better, same and worse by a change in standard deviations: a real
// change, that may be of any size up to some ten of them, against chance.
func (j *Judgement) split(share, change float64) {
	const size = 10
	chance := math.Exp(-change * change / 2)
	real := math.Exp(-change*change/2/(1+size*size)) / math.Sqrt(1+size*size)
	changed := real / (real + chance)
	j.Words[Same] += share * (1 - changed)
	if change > 0 {
		j.Words[Better] += share * changed
	} else {
		j.Words[Worse] += share * changed
	}
}

// settle norms the words and picks one.
func (j *Judgement) settle(before, after *Side) {
	total := 0.0
	for _, p := range j.Words {
		total += p
	}
	var order []Word
	for w := range j.Words {
		if total > 0 {
			j.Words[w] /= total
		}
		order = append(order, w)
	}
	// Another machine's picture says nothing of this one; a machine that was given as the same
	// mostly is.
	doubt := 0.0
	if j.Machine != nil {
		doubt = 1 - j.Machine.Probability(0.95)
	}
	sort.Slice(order, func(i, k int) bool {
		if j.Words[order[i]] != j.Words[order[k]] {
			return j.Words[order[i]] > j.Words[order[k]]
		}
		return order[i] < order[k]
	})
	j.Word = Undetermined
	if p := j.Words[order[0]] * (1 - doubt); p >= named {
		j.Word, j.Confidence = order[0], &p
	}
	j.explain(before, after, order)
}
