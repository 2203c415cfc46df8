package swap

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"
)

// An Outcome is what a configuration showed.
type Outcome int

const (
	Unknown Outcome = iota // undetermined, or not looked at: it says nothing
	Good                   // no fault
	Bad                    // the fault was there
)

func (o Outcome) String() string { return [...]string{"unknown", "good", "bad"}[o] }

// A Test is one configuration and what it showed.
type Test struct {
	Name    string            // for messages; "" gives its number
	Board   string            // "" where there is only one
	Path    string            // cable, supply, device; "" where it was never changed
	Fitted  map[string]string // position to part; a position that is empty is left out
	Outcome Outcome
	// BadAt are the positions that the picture accuses, GoodAt those that it proves good though
	// the whole is bad. Both empty: the fault may be anywhere.
	BadAt, GoodAt []string
}

// Known is what is thought of a part before any test.
type Known int

const (
	NotKnown    Known = iota
	ThoughtGood       // by a tester, or by its past: weak evidence
	Suspect
	ThoughtBad
)

// Options for Isolate; the zero value is the usual run.
type Options struct {
	Parts map[string]Known // the ledger's opinion of parts
	Most  int              // causes in one set; 0 means 4
}

// A Kind is what sort of thing can be at fault.
type Kind int

const (
	Part Kind = iota
	Position
	Board
	Path
	Contact // a part in a position: a hard fault of their meeting, such as a bad contact
)

// A Cause is one thing that may be at fault.
type Cause struct {
	Kind         Kind
	Part         string // Part, Contact
	Board        string // Position, Board, Contact
	Position     string // Position, Contact
	Path         string
	Intermittent bool // shows only some of the time
}

func (c Cause) String() string {
	place := c.Position
	if c.Board != "" {
		place += " of " + c.Board
	}
	var s string
	switch c.Kind {
	case Part:
		s = "part " + c.Part
	case Position:
		s = "position " + place
	case Board:
		s = strings.TrimSpace("board " + c.Board)
	case Path:
		s = strings.TrimSpace("signal path " + c.Path)
	case Contact:
		s = "contact of " + c.Part + " in " + place
	}
	if c.Intermittent {
		s += ", intermittent"
	}
	return s
}

// Hard says whether a cause shows in every test that it takes part in.
func (c Cause) Hard() bool { return c.Kind != Contact && !c.Intermittent }

// A Set is causes that together explain every test, none of which could be left out.
type Set struct {
	Causes      []Cause
	Probability float64 // among the sets listed
}

// Hard says whether all its causes are hard.
func (s Set) Hard() bool {
	for _, c := range s.Causes {
		if !c.Hard() {
			return false
		}
	}
	return true
}

func (s Set) String() string {
	names := make([]string, len(s.Causes))
	for i, c := range s.Causes {
		names[i] = c.String()
	}
	return strings.Join(names, " and ")
}

// A Contradiction is a bad test in which everything was seen good elsewhere.
type Contradiction struct {
	Test  string // that showed the fault
	Place string // where, "" when the test did not say
	// Same is a test of the same configuration that was good; "" when the things were cleared by
	// several others.
	Same string
}

func (c Contradiction) String() string {
	bad := c.Test + " is bad"
	if c.Place != "" {
		bad += " at " + c.Place
	}
	if c.Same != "" {
		return bad + ", " + c.Same + " was good with the same things in the same places"
	}
	return bad + ", though everything in it was good elsewhere"
}

// Advice is what contradictions come to.
const Advice = "contact or intermittent: reseat, soak"

// A Diagnosis is what tests come to.
type Diagnosis struct {
	Sets           []Set // most probable first; empty when no test was bad
	Contradictions []Contradiction
	Cleared        []Cause // hard causes that the tests rule out
	Next           []Swap  // what to try next, the best first
	Tests, Bad     int     // tests that say something, and those that were bad
}

// Contradictory says that no set of hard causes explains the tests.
func (d *Diagnosis) Contradictory() bool { return len(d.Contradictions) > 0 }

// ErrNoTests: there is nothing to reason over.
var ErrNoTests = errors.New("no test says good or bad")

// check refuses tests that cannot be.
func check(tests []Test) error {
	said := false
	for i := range tests {
		t := &tests[i]
		at := map[string]string{}
		for _, position := range sorted(t.Fitted) {
			part := t.Fitted[position]
			if position == "" || part == "" {
				return fmt.Errorf("%s: a position or part without a name", nameOf(tests, i))
			}
			if other := at[part]; other != "" {
				return fmt.Errorf("%s: part %s is in %s and in %s", nameOf(tests, i), part, other, position)
			}
			at[part] = position
		}
		for _, p := range slices.Concat(t.BadAt, t.GoodAt) {
			if _, ok := t.Fitted[p]; !ok {
				return fmt.Errorf("%s: nothing is fitted at %s", nameOf(tests, i), p)
			}
		}
		for _, p := range t.BadAt {
			if slices.Contains(t.GoodAt, p) {
				return fmt.Errorf("%s: %s is said to be good and bad", nameOf(tests, i), p)
			}
		}
		if t.Outcome != Bad && len(t.BadAt) > 0 {
			return fmt.Errorf("%s: it is %s, but bad at %s", nameOf(tests, i), t.Outcome, t.BadAt[0])
		}
		said = said || t.Outcome != Unknown
	}
	if !said {
		return ErrNoTests
	}
	return nil
}

func nameOf(tests []Test, i int) string {
	if tests[i].Name != "" {
		return tests[i].Name
	}
	return fmt.Sprintf("test %d", i+1)
}

func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// Isolate reasons over tests in the order in which they were made.
func Isolate(tests []Test, o Options) (*Diagnosis, error) {
	if err := check(tests); err != nil {
		return nil, err
	}
	if o.Most <= 0 {
		o.Most = 4
	}
	b, err := newBench(tests, o)
	if err != nil {
		return nil, err
	}
	d := &Diagnosis{Contradictions: b.contradictions()}
	for _, c := range b.causes(b.cleared) {
		if c.Hard() {
			d.Cleared = append(d.Cleared, c)
		}
	}
	for _, t := range tests {
		if t.Outcome != Unknown {
			d.Tests++
		}
		if t.Outcome == Bad {
			d.Bad++
		}
	}
	if d.Bad == 0 {
		return d, nil
	}
	sets := b.explain(o.Most)
	if len(sets) == 0 {
		return nil, fmt.Errorf("it would take more than %d causes at once, or more combinations than can be weighed: look for what the tests share, such as a supply", o.Most)
	}
	weights := b.weigh(sets)
	for i, s := range sets {
		d.Sets = append(d.Sets, Set{Causes: b.causes(s), Probability: weights[i]})
	}
	d.Next = b.next(sets, weights, d.Contradictory())
	sort.SliceStable(d.Sets, func(i, j int) bool { return d.Sets[i].Probability > d.Sets[j].Probability })
	return d, nil
}
