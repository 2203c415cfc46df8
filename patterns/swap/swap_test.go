package swap

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

func isolate(t *testing.T, tests ...Test) *Diagnosis {
	t.Helper()
	d, err := Isolate(tests, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func names(sets []Set) string {
	var out []string
	for _, s := range sets {
		out = append(out, s.String())
	}
	return strings.Join(out, "; ")
}

// The bench's everyday: the chip goes to the good board and takes the fault with it.
func TestTheFaultFollowsThePart(t *testing.T) {
	a := map[string]string{"U14": "m1", "U15": "m2"}
	b := map[string]string{"U14": "m3", "U15": "m4"}
	d := isolate(t,
		Test{Board: "A", Fitted: a, Outcome: Bad},
		Test{Board: "B", Fitted: b, Outcome: Good},
		Test{Board: "B", Fitted: map[string]string{"U14": "m1", "U15": "m4"}, Outcome: Bad},
		Test{Board: "A", Fitted: map[string]string{"U14": "m3", "U15": "m2"}, Outcome: Good},
	)
	if len(d.Sets) == 0 || d.Sets[0].String() != "part m1" || d.Sets[0].Probability < 0.8 || d.Contradictory() {
		t.Errorf("got %s", names(d.Sets))
	}
	for _, s := range d.Sets[1:] {
		if s.Hard() {
			t.Errorf("%s is a hard cause too", s)
		}
	}
}

// On one board two chips change places: the bad lane goes with one of them.
func TestTheLaneMoves(t *testing.T) {
	before := Test{Fitted: map[string]string{"U14": "m1", "U15": "m2", "U16": "m3"}, Outcome: Bad, BadAt: []string{"U14"}, GoodAt: []string{"U15", "U16"}}
	d := isolate(t, before)
	if got := d.Next[0]; got.Do != Exchange && got.Do != Reseat {
		t.Errorf("first %s", got)
	}
	moved := Test{Fitted: map[string]string{"U14": "m2", "U15": "m1", "U16": "m3"}, Outcome: Bad, BadAt: []string{"U15"}, GoodAt: []string{"U14", "U16"}}
	if d = isolate(t, before, moved); d.Sets[0].String() != "part m1" || d.Sets[0].Probability < 0.8 {
		t.Errorf("it went with the chip: %s", names(d.Sets))
	}
	stayed := moved
	stayed.BadAt, stayed.GoodAt = []string{"U14"}, []string{"U15", "U16"}
	if d = isolate(t, before, stayed); d.Sets[0].String() != "position U14" || d.Sets[0].Probability < 0.8 {
		t.Errorf("it stayed: %s", names(d.Sets))
	}
}

func TestContradictions(t *testing.T) {
	a := map[string]string{"U14": "m1", "U15": "m2"}
	same := isolate(t, Test{Name: "morning", Board: "A", Fitted: a, Outcome: Good}, Test{Name: "noon", Board: "A", Fitted: a, Outcome: Bad})
	if !same.Contradictory() || same.Contradictions[0].Same != "morning" {
		t.Errorf("same configuration: %v", same.Contradictions)
	}
	elsewhere := isolate(t,
		Test{Board: "A", Fitted: map[string]string{"U14": "m1"}, Outcome: Bad},
		Test{Board: "A", Fitted: map[string]string{"U14": "m3"}, Outcome: Good},
		Test{Board: "B", Fitted: map[string]string{"U14": "m1"}, Outcome: Good},
	)
	if !elsewhere.Contradictory() || elsewhere.Contradictions[0].Same != "" {
		t.Errorf("all good elsewhere: %v", elsewhere.Contradictions)
	}
	if got := elsewhere.Sets[0].String(); got != "contact of m1 in U14 of A" {
		t.Errorf("all good elsewhere: %s", names(elsewhere.Sets))
	}
	for _, d := range []*Diagnosis{same, elsewhere} {
		for _, s := range d.Sets {
			if s.Hard() {
				t.Errorf("%s cannot explain it", s)
			}
		}
		if len(d.Next) == 0 || d.Next[0].Do != Reseat && d.Next[0].Do != Soak {
			t.Errorf("first %v", d.Next)
		}
	}
}

// Two bad chips that were never good apart: each alone is not enough.
func TestTwoCauses(t *testing.T) {
	fit := func(a, b string) map[string]string { return map[string]string{"U14": a, "U15": b} }
	d := isolate(t,
		Test{Board: "A", Fitted: fit("m1", "m2"), Outcome: Bad},
		Test{Board: "A", Fitted: fit("m3", "m2"), Outcome: Bad},
		Test{Board: "A", Fitted: fit("m1", "m4"), Outcome: Bad},
		Test{Board: "A", Fitted: fit("m3", "m4"), Outcome: Good},
	)
	if d.Sets[0].String() != "part m1 and part m2" && d.Sets[0].String() != "part m2 and part m1" {
		t.Errorf("got %s", names(d.Sets))
	}
}

func TestTheLedgerSpeaks(t *testing.T) {
	one := Test{Board: "A", Fitted: map[string]string{"U14": "m1", "U15": "m2"}, Outcome: Bad}
	d, err := Isolate([]Test{one}, Options{Parts: map[string]Known{"m1": ThoughtGood, "m2": Suspect}})
	if err != nil || d.Sets[0].String() != "part m2" {
		t.Errorf("%v %v", d, err)
	}
}

func TestRefusals(t *testing.T) {
	for want, test := range map[string]Test{
		"test 1: part m1 is in U1 and in U2":             {Outcome: Bad, Fitted: map[string]string{"U1": "m1", "U2": "m1"}},
		"test 1: nothing is fitted at U3":                {Outcome: Bad, BadAt: []string{"U3"}},
		"test 1: it is good, but bad at U1":              {Outcome: Good, Fitted: map[string]string{"U1": "m1"}, BadAt: []string{"U1"}},
		"test 1: U1 is said to be good and bad":          {Outcome: Bad, Fitted: map[string]string{"U1": "m1"}, BadAt: []string{"U1"}, GoodAt: []string{"U1"}},
		"test 1: a position or part without a name":      {Outcome: Bad, Fitted: map[string]string{"U1": ""}},
		"no test says good or bad":                       {Fitted: map[string]string{"U1": "m1"}},
		"test 1: more than 256 parts, positions and con": {Outcome: Bad, Fitted: many(200)},
	} {
		if _, err := Isolate([]Test{test}, Options{}); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}

func many(n int) map[string]string {
	m := map[string]string{}
	for i := range n {
		m[fmt.Sprint("U", i)] = fmt.Sprint("m", i)
	}
	return m
}

// A bench of the property test: up to 12 parts, two boards, two paths, 20 tests.
type scenario struct {
	tests  []Test
	truth  []string
	placed bool
}

// hard are the names of the hard causes in a test, each with the place it shows at.
func hard(t *Test) map[string]string {
	m := map[string]string{"board " + t.Board: "", "signal path " + t.Path: ""}
	for position, part := range t.Fitted {
		m["part "+part] = position
		m["position "+position+" of "+t.Board] = position
	}
	return m
}

func random(rng *rand.Rand, seldom float64) scenario {
	s := scenario{placed: rng.IntN(2) == 0}
	boards := []string{"A", "B"}[:1+rng.IntN(2)]
	positions := 1 + rng.IntN(6)
	parts := rng.Perm(12)[:min(12, positions*len(boards)+rng.IntN(4))]
	paths := []string{"p", "q"}[:1+rng.IntN(2)]
	draw := func() Test {
		t := Test{Board: boards[rng.IntN(len(boards))], Path: paths[rng.IntN(len(paths))], Fitted: map[string]string{}}
		for i, k := range rng.Perm(len(parts))[:positions] {
			t.Fitted[fmt.Sprint("U", i)] = fmt.Sprint("m", parts[k])
		}
		return t
	}
	first := draw()
	var all []string
	for name := range hard(&first) {
		all = append(all, name)
	}
	slices.Sort(all)
	for range 1 + rng.IntN(3)*rng.IntN(2) {
		s.truth = append(s.truth, all[rng.IntN(len(all))])
	}
	slices.Sort(s.truth)
	s.truth = slices.Compact(s.truth)
	for n := 1 + rng.IntN(20); len(s.tests) < n; {
		t := first
		if len(s.tests) > 0 {
			t = draw()
		}
		t.Outcome = Good
		whole := false
		for _, name := range s.truth {
			if place, in := hard(&t)[name]; in && rng.Float64() >= seldom {
				t.Outcome = Bad
				if whole = whole || place == ""; s.placed && place != "" {
					t.BadAt = append(t.BadAt, place)
				}
			}
		}
		slices.Sort(t.BadAt)
		t.BadAt = slices.Compact(t.BadAt)
		if whole {
			t.BadAt = nil
		}
		if len(t.BadAt) > 0 {
			for _, position := range sorted(t.Fitted) {
				if !slices.Contains(t.BadAt, position) {
					t.GoodAt = append(t.GoodAt, position)
				}
			}
		}
		s.tests = append(s.tests, t)
	}
	return s
}

// rules are a scenario's conflicts and what is cleared, worked out from the definition and with
// nothing of the package: each as a set of names.
func (s *scenario) rules() (conflicts [][]string, cleared map[string]bool) {
	cleared = map[string]bool{}
	for i := range s.tests {
		t := &s.tests[i]
		for name, place := range hard(t) {
			if t.Outcome == Good || place != "" && slices.Contains(t.GoodAt, place) {
				cleared[name] = true
			}
		}
		if t.Outcome != Bad {
			continue
		}
		for _, at := range append([]string{""}, t.BadAt...) {
			if (at == "") != (len(t.BadAt) == 0) {
				continue
			}
			var c []string
			for name, place := range hard(t) {
				if at == "" || place == at || strings.HasPrefix(name, "board") {
					c = append(c, name)
				}
			}
			conflicts = append(conflicts, c)
		}
	}
	return conflicts, cleared
}

// brute tries every set of at most four names that were not cleared, the small ones first.
func (s *scenario) brute() []string {
	conflicts, cleared := s.rules()
	var open []string
	for _, c := range conflicts {
		for _, name := range c {
			if !cleared[name] && !slices.Contains(open, name) {
				open = append(open, name)
			}
		}
	}
	slices.Sort(open)
	var want []uint64
	for _, c := range conflicts {
		var m uint64
		for i, name := range open {
			if slices.Contains(c, name) {
				m |= 1 << i
			}
		}
		want = append(want, m)
	}
	explains := func(m uint64) bool {
		for _, c := range want {
			if c&m == 0 {
				return false
			}
		}
		return true
	}
	var found []uint64
	var grow func(m uint64, from, left int)
	grow = func(m uint64, from, left int) {
		if left == 0 {
			for _, f := range found {
				if f&^m == 0 {
					return
				}
			}
			if explains(m) {
				found = append(found, m)
			}
			return
		}
		for i := from; i < len(open); i++ {
			grow(m|1<<i, i+1, left-1)
		}
	}
	for size := 1; size <= 4; size++ {
		grow(0, 0, size)
	}
	var out []string
	for _, f := range found {
		var set []string
		for i, name := range open {
			if f>>i&1 == 1 {
				set = append(set, name)
			}
		}
		out = append(out, strings.Join(set, " and "))
	}
	slices.Sort(out)
	return out
}

func setName(s Set) string {
	var all []string
	for _, c := range s.Causes {
		all = append(all, c.String())
	}
	slices.Sort(all)
	return strings.Join(all, " and ")
}

// The minimal sets of 1,000 random benches are those that trying every set gives, and the true cause
// is among them.
func TestMinimalSetsByBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2026))
	compared, single, double := 0, 0, 0
	for compared < 1000 {
		s := random(rng, 0)
		d, err := Isolate(s.tests, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if d.Bad == 0 {
			t.Fatalf("the first test holds every true cause, yet none is bad")
		}
		compared++
		var got []string
		total := 0.0
		for _, set := range d.Sets {
			total += set.Probability
			if set.Hard() {
				got = append(got, setName(set))
			}
		}
		slices.Sort(got)
		want := s.brute()
		if !slices.Equal(got, want) {
			t.Fatalf("tests %+v:\ngot  %v\nwant %v", s.tests, got, want)
		}
		if math.Abs(total-1) > 1e-9 {
			t.Fatalf("the probabilities add up to %v", total)
		}
		if d.Contradictory() {
			t.Fatalf("hard causes contradict nothing: %v", d.Contradictions)
		}
		if len(s.truth) == 1 {
			single++
			if !slices.Contains(got, s.truth[0]) {
				t.Fatalf("%s is not among %v", s.truth[0], got)
			}
			continue
		}
		double++
		if !slices.ContainsFunc(got, func(name string) bool { // what the tests show of the truth
			for _, c := range strings.Split(name, " and ") {
				if !slices.Contains(s.truth, c) {
					return false
				}
			}
			return true
		}) {
			t.Fatalf("no part of %v among %v", s.truth, got)
		}
	}
	t.Logf("%d benches, %d with one cause, %d with several", compared, single, double)
}

// A fault that shows half of the time: where tests contradict, no hard set is named, and the true
// cause is named as an intermittent.
func TestIntermittentsAreNamed(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 2026))
	contradictions := 0
	for range 1000 {
		s := random(rng, 0.5)
		if len(s.truth) > 1 {
			continue
		}
		d, err := Isolate(s.tests, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !d.Contradictory() {
			continue
		}
		contradictions++
		found := false
		for _, set := range d.Sets {
			if set.Hard() {
				t.Fatalf("%v: %s cannot explain it", s.tests, set)
			}
			found = found || setName(set) == s.truth[0]+", intermittent"
		}
		if !found {
			t.Fatalf("tests %+v: %s, intermittent, is not among %s", s.tests, s.truth[0], names(d.Sets))
		}
	}
	if contradictions < 200 {
		t.Errorf("only %d contradictions", contradictions)
	}
}

// Following the advice finds a single cause in few steps.
func TestNextSplits(t *testing.T) {
	fitted := func(from int) map[string]string {
		m := map[string]string{}
		for i := range 8 {
			m[fmt.Sprint("U", 6+i)] = fmt.Sprint("m", from+i)
		}
		return m
	}
	for i := range 8 {
		bad := fmt.Sprint("part m", i)
		tests := []Test{{Board: "A", Path: "p", Fitted: fitted(0), Outcome: Bad}, {Board: "B", Path: "p", Fitted: fitted(10), Outcome: Good}}
		steps := 0
		for ; steps < 12; steps++ {
			d := isolate(t, tests...)
			if d.Sets[0].Probability > 0.7 || len(d.Next) == 0 {
				break
			}
			next := d.Next[0].Test()
			next.Outcome = Good
			if _, in := hard(&next)[bad]; in {
				next.Outcome = Bad
			}
			tests = append(tests, next)
		}
		d := isolate(t, tests...)
		if d.Sets[0].String() != bad {
			t.Errorf("%s: after %d steps %s", bad, steps, names(d.Sets))
		}
		t.Logf("%s: %d steps, %.2f", bad, steps, d.Sets[0].Probability)
	}
}

// Tests that share nothing would need a cause each; it says so at once.
func TestManyTestsThatShareNothing(t *testing.T) {
	var tests []Test
	for n := range 6 {
		x := Test{Board: fmt.Sprint("B", n), Path: fmt.Sprint("p", n), Outcome: Bad, Fitted: map[string]string{}}
		for i := range 10 {
			x.Fitted[fmt.Sprint("U", i)] = fmt.Sprint("m", n*10+i)
		}
		tests = append(tests, x)
	}
	if d, err := Isolate(tests, Options{}); err == nil || !strings.Contains(err.Error(), "share") {
		t.Errorf("got %v, %v", d, err)
	}
}

func BenchmarkIsolate(b *testing.B) {
	rng := rand.New(rand.NewPCG(7, 2026))
	s := random(rng, 0)
	for len(s.tests) < 18 || s.placed {
		s = random(rng, 0)
	}
	for b.Loop() {
		if _, err := Isolate(s.tests, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	perRun := b.Elapsed().Seconds() / float64(b.N)
	start := time.Now()
	s.brute()
	b.ReportMetric(perRun/time.Since(start).Seconds(), "x-brute")
}
