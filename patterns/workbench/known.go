package workbench

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backporch/analyse"
	"backporch/patterns"

	"gonum.org/v1/gonum/floats"
)

// A Fact is something known beside the picture: what came of a bench test.
type Fact struct {
	Text    string // as it was said: KEY=VALUE; of a mark, what was counted before and after it
	counted bool   // it is of a mark
	saw     []observation
}

// An observation is one outcome of one test.
type observation struct {
	test    *Test
	outcome int    // of a mark, the likelier one
	at      places // 0: no lane was named
	// like is how probable what was counted is under each outcome, the likeliest 1; nil: the outcome was stated.
	like []float64
}

// stirs tells whether what the hand did at a part changed the picture: as it was stated, or five to one by what was counted.
func (o observation) stirs() bool {
	return o.test.Hand != "" && o.outcome == 1 && (o.like == nil || o.like[0] <= 0.2)
}

// A KnownKey is a fact that can be stated.
type KnownKey struct {
	Text string // KEY=VALUE; [:BITS] where data bits may follow
	Help string
}

// KnownKeys lists the facts that ParseFacts understands, in the order of the bench tests.
func KnownKeys() []KnownKey {
	var out []KnownKey
	for i := range tests {
		for _, o := range tests[i].Outcomes {
			if o.Known == "" {
				continue
			}
			k := KnownKey{o.Known, o.Help}
			if tests[i].Lane && strings.Contains(o.Help, ":BITS") {
				k.Text += "[:BITS]"
			}
			out = append(out, k)
		}
	}
	slices.SortStableFunc(out, func(a, b KnownKey) int {
		return strings.Compare(strings.SplitN(a.Text, "=", 2)[0], strings.SplitN(b.Text, "=", 2)[0])
	})
	return out
}

// ParseFacts reads what is known, each as KEY=VALUE or KEY=VALUE:BITS; in the place of bits there may be
// designators of a board map, which may be nil.
func ParseFacts(texts []string, b *Board) ([]Fact, error) {
	var out []Fact
	for _, text := range texts {
		f, err := parseFact(strings.TrimSpace(text), b)
		if err != nil {
			return nil, err
		}
		repeated := false
		for _, g := range out {
			repeated = repeated || g.Text == f.Text
			if a, ok := opposed(f, g); ok {
				return nil, fmt.Errorf("%s and %s are two outcomes of one test: %s", g.Text, f.Text, a)
			}
		}
		if !repeated { // the same thing said twice is one observation
			out = append(out, f)
		}
	}
	return out, nil
}

// opposed tells whether two facts are different outcomes of a test at one place.
func opposed(f, g Fact) (string, bool) {
	for _, a := range f.saw {
		for _, b := range g.saw {
			if a.test == b.test && a.outcome != b.outcome && (a.at&b.at != 0 || a.at == 0 || b.at == 0) {
				return a.test.Name, true
			}
		}
	}
	return "", false
}

func parseFact(text string, b *Board) (Fact, error) {
	key, value, ok := strings.Cut(text, "=")
	if !ok || key == "" || value == "" {
		return Fact{}, fmt.Errorf("%q is not KEY=VALUE, as in ram-test=pass", text)
	}
	value, where, placed := strings.Cut(value, ":")
	f := Fact{Text: text}
	where = b.bitsFor(where)
	plain := key + "=" + value + ":" + where // as the tables have it
	keys, values := map[string]bool{}, []string{}
	for i := range tests {
		t := &tests[i]
		for n, o := range t.Outcomes {
			if o.Known == "" {
				continue
			}
			k, v, _ := strings.Cut(o.Known, "=")
			keys[k] = true
			if k != key {
				continue
			}
			if !slices.Contains(values, v) {
				values = append(values, v)
			}
			v, part, _ := strings.Cut(v, ":")
			if v != value || part != where && part != "" && placed {
				continue
			}
			see := observation{test: t, outcome: n}
			switch {
			case part == where && part != "", !placed:
				// Said of this part, or of all.
				if t.Lane && !t.Locates {
					see.at = laneOf(value)
				}
			case !t.Lane:
				continue
			default:
				at, err := parsePlaces(where)
				if err != nil && slices.ContainsFunc(tests, func(t Test) bool { return t.known(plain) }) {
					continue // a part's name, of another test
				}
				if err != nil {
					return Fact{}, fmt.Errorf("%s: %w", text, err)
				}
				see.at = at
			}
			f.saw = append(f.saw, see)
		}
	}
	switch {
	case !keys[key]:
		return Fact{}, fmt.Errorf("%q: there is no key %q; the keys are %s", text, key, strings.Join(sortedKeys(keys), ", "))
	case len(f.saw) == 0 && !slices.Contains(values, value):
		return Fact{}, fmt.Errorf("%q: %s is one of %s", text, key, strings.Join(values, ", "))
	case len(f.saw) == 0:
		return Fact{}, fmt.Errorf("%q: %s=%s takes nothing after it", text, key, value)
	}
	return f, nil
}

// laneOf is where a fact of a lane test holds that names no bits.
func laneOf(value string) places {
	switch value {
	case "ram":
		return screenLanes
	case "colour-ram":
		return colourMemory
	}
	return screenLanes | colourMemory
}

func (t *Test) known(text string) bool {
	return slices.ContainsFunc(t.Outcomes, func(o Outcome) bool { return o.Known == text })
}

func sortedKeys(set map[string]bool) []string {
	var out []string
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// parsePlaces reads data bits with commas between; "colour" is the colour memory.
func parsePlaces(text string) (places, error) {
	var at places
	for _, word := range strings.Split(text, ",") {
		if word == "colour" {
			at |= colourMemory
			continue
		}
		bit, err := strconv.Atoi(word)
		if err != nil || bit < 0 || bit > 7 {
			return 0, fmt.Errorf("%q is no data bit; write 0 to 7 with commas between, colour for the colour memory, or a designator of the board map", word)
		}
		at |= 1 << bit
	}
	return at, nil
}

// probability of what was seen when the logic has one fault and the path another.
func (o observation) probability(logic, path suspect) float64 {
	at := o.at
	if at == 0 && o.test.Lane {
		at = screenLanes | colourMemory
	}
	a, ownA := o.test.likely(logic.fault, logic.cause, at)
	b, ownB := o.test.likely(path.fault, path.cause, at)
	p := both(a, ownA, b, ownB)
	if o.like != nil {
		return floats.Dot(p, o.like)
	}
	if !o.test.Locates || o.outcome == 0 {
		return p[o.outcome]
	}
	if o.at == 0 { // it fails, no more is known
		return 1 - p[0]
	}
	// It fails at exactly these lanes. One more than the fault strikes is rare; one that it strikes may be missed.
	here := struck(logic.fault)
	if here&o.at == 0 {
		return p[1] * math.Pow(0.3, float64(count(o.at)-1))
	}
	return p[1] * math.Pow(0.1, float64(count(o.at&^here))) * math.Pow(0.3, math.Min(3, float64(count(here&^o.at))))
}

func count(p places) int {
	n := 0
	for ; p != 0; p &= p - 1 {
		n++
	}
	return n
}

// A suspect is a fault with the cause that holds it.
type suspect struct {
	fault  *patterns.Fault
	cause  Cause
	weight float64
}

// suspectsOf spreads hypotheses over their causes; those that no bench test tells apart are added up. Nothing known
// of them is one suspect without a fault.
func suspectsOf(list []patterns.Hypothesis) []suspect {
	return spread(list, nil, func(h *patterns.Hypothesis) bool { return h.Like >= 1e-9 })
}

// spread gives the suspects of the hypotheses that keep lets through, with what is known.
func spread(list []patterns.Hypothesis, facts []Fact, keep func(h *patterns.Hypothesis) bool) []suspect {
	index := map[string]int{}
	var out []suspect
	for n := range list {
		h := &list[n]
		if !keep(h) {
			continue
		}
		for _, s := range causesGiven(h.Fault, facts) {
			k := "none"
			if h.Fault != nil {
				k = fmt.Sprint(h.Fault.Kind, struck(h.Fault), s.cause)
			}
			i, ok := index[k]
			if !ok {
				i = len(out)
				index[k] = i
				out = append(out, suspect{h.Fault, s.cause, 0})
			}
			out[i].weight += h.Like * s.part
		}
	}
	if len(out) == 0 {
		return []suspect{{nil, Nothing, 1}}
	}
	return out
}

// factLikelihood is the probability of all facts given a fault, whatever holds it, with the other list's faults as probable
// as they are. path says which list the fault is of.
func factLikelihood(facts []Fact, f *patterns.Fault, path bool, others []suspect) float64 {
	sum := 0.0
	for _, s := range causesOf(f) {
		one := suspect{f, s.cause, s.part}
		for _, other := range others {
			p := s.part * other.weight
			for _, fact := range facts {
				for _, o := range fact.saw {
					if path {
						p *= o.probability(other, one)
					} else {
						p *= o.probability(one, other)
					}
				}
			}
			sum += p
		}
	}
	return sum
}

// causesGiven are a fault's causes, the likeliest first, with what is known.
func causesGiven(f *patterns.Fault, facts []Fact) []share {
	out := slices.Clone(causesOf(f))
	total := 0.0
	for i := range out {
		one, none := suspect{f, out[i].cause, 1}, suspect{nil, Nothing, 1}
		for _, fact := range facts {
			for _, o := range fact.saw {
				if f != nil && f.Class == patterns.Signal {
					out[i].part *= o.probability(none, one)
				} else {
					out[i].part *= o.probability(one, none)
				}
			}
		}
		total += out[i].part
	}
	for i := range out {
		out[i].part /= total
	}
	slices.SortStableFunc(out, func(a, b share) int { return cmp.Compare(b.part, a.part) })
	return out
}

// Weigh weighs both lists of hypotheses, whose posterior is known, with what is known, so that each adds up to one again; shifts are the
// places that the picture may have where several are open. fact is the likelihood of what is known under a fault of the logic.
func (d Desk) Weigh(logic, paths []patterns.Hypothesis, shifts []analyse.Shift) (fact func(f *patterns.Fault) float64) {
	ofLogic, ofPaths := suspectsOf(logic), suspectsOf(paths)
	known := map[string]float64{} // what was worked out
	fact = func(f *patterns.Fault) float64 {
		k := fmt.Sprint(f != nil, struck(f))
		if f != nil {
			k += f.Kind
		}
		w, ok := known[k]
		if !ok {
			w = factLikelihood(d.Known, f, false, ofPaths)
			known[k] = w
		}
		return w
	}
	for i := range paths {
		paths[i].Like *= factLikelihood(d.Known, paths[i].Fault, true, ofLogic)
	}
	for i := range logic {
		logic[i].Like *= overBits(fact, logic[i].Fault, shifts)
	}
	scale(paths)
	scale(logic)
	return fact
}

// overBits is the facts' likelihood over the bits that a fault may be of.
func overBits(fact func(f *patterns.Fault) float64, f *patterns.Fault, shifts []analyse.Shift) float64 {
	if f == nil || f.Bit == nil || len(shifts) == 0 {
		return fact(f)
	}
	sum, total := 0.0, 0.0
	for _, s := range shifts {
		moved := *f
		moved.Bit = new(((*f.Bit+s.Pixels)%8 + 8) % 8)
		sum += s.Probability * fact(&moved)
		total += s.Probability
	}
	return sum / total
}

// scale makes posterior probabilities add up to one.
func scale(list []patterns.Hypothesis) {
	sum := 0.0
	for _, h := range list {
		sum += h.Like
	}
	for i := range list {
		if sum > 0 {
			list[i].Like /= sum
		}
	}
}
