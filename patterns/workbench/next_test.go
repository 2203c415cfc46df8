package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"backporch/analyse/analysetest"
	"backporch/patterns"
	"backporch/video/display"
)

// The tables are probabilities, and name what there is.
func TestBenchTables(t *testing.T) {
	sums := func(what string, p []float64) {
		t.Helper()
		sum := 0.0
		for _, v := range p {
			if v <= 0 || v >= 1 {
				t.Errorf("%s: %v is certain or impossible: no fact could ever outweigh it", what, v)
			}
			sum += v
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s: adds up to %v", what, sum)
		}
	}
	known := map[string]bool{}
	for _, k := range patterns.Catalogue() {
		known[k.Name] = true
		if len(causeShares[k.Name]) == 0 {
			t.Errorf("%s: no causes", k.Name)
		}
	}
	for kind, list := range causeShares {
		if !known[strings.TrimSuffix(kind, "/lanes")] {
			t.Errorf("causes of %s, which is no kind", kind)
		}
		var p []float64
		for _, s := range list {
			p = append(p, s.part)
		}
		sums("causes of "+kind, p)
	}
	facts := map[string]string{}
	for _, b := range tests {
		if len(b.usual) != len(b.Outcomes) || b.Minutes <= 0 {
			t.Errorf("%s: %d outcomes, %d probabilities, %v minutes", b.Name, len(b.Outcomes), len(b.usual), b.Minutes)
		}
		sums(b.Name, b.usual)
		for i, r := range b.rows {
			sums(fmt.Sprint(b.Name, ", row ", i), r.p)
			if len(r.p) != len(b.usual) {
				t.Errorf("%s, row %d: %d outcomes", b.Name, i, len(r.p))
			}
			for _, kind := range r.kinds {
				if !known[kind] {
					t.Errorf("%s, row %d: no kind %s", b.Name, i, kind)
				}
			}
		}
		for _, o := range b.Outcomes {
			if o.Known != "" && facts[o.Known] != "" {
				t.Errorf("%s and %s: both are said %s", b.Name, facts[o.Known], o.Known)
			}
			facts[o.Known] = b.Name
		}
		if b.Solder && !strings.Contains(b.Caution, solderLast) {
			t.Errorf("%s: no caution", b.Name)
		}
	}
}

// Information is H(suspect) + H(outcome) - H(both) (Cover and Thomas, Elements of Information Theory, 2.45; from memory);
// the entropies are gonum's.
func TestInformation(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 50 {
		n, m := 2+rng.IntN(6), 2+rng.IntN(2)
		weights := dirichlet(rng, n)
		table := make([][]float64, n)
		outcome, joint := make([]float64, m), []float64{}
		for i := range table {
			table[i] = dirichlet(rng, m)
			for o, p := range table[i] {
				outcome[o] += weights[i] * p
				joint = append(joint, weights[i]*p)
			}
		}
		want := (stat.Entropy(weights) + stat.Entropy(outcome) - stat.Entropy(joint)) / math.Ln2
		if got := information([][]float64{weights}, table); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v of %v: %v bits, want %v", table, weights, got, want)
		}
		// After the same test twice the second tells no more than the first.
		if again := information(split([][]float64{weights}, table), table); again > want+1e-9 {
			t.Errorf("the second time %v bits, the first %v", again, want)
		}
	}
}

func dirichlet(rng *rand.Rand, n int) []float64 {
	out, sum := make([]float64, n), 0.0
	for i := range out {
		out[i] = rng.ExpFloat64()
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// randomFault is a fault of any kind, with particulars.
func randomFault(rng *rand.Rand, signal bool) *patterns.Fault {
	all := patterns.Catalogue()
	for {
		k := all[rng.IntN(len(all))]
		if (k.Class == patterns.Signal) != signal {
			continue
		}
		f := &patterns.Fault{Class: k.Class, Kind: k.Name}
		switch {
		case slices.Contains(laneKinds, k.Name):
			f.Bit, f.Level = new(rng.IntN(8)), new(rng.IntN(2))
			if rng.IntN(5) == 0 {
				f.Bit, f.Memory = new(rng.IntN(4)), "colour"
			}
		case k.Name == "address-line-stuck" || k.Name == "refresh-loss":
			if rng.IntN(2) == 0 {
				f.Lanes = []int{rng.IntN(8)}
			}
		}
		return f
	}
}

func randomPosterior(rng *rand.Rand, signal bool) []patterns.Hypothesis {
	shares := dirichlet(rng, 1+rng.IntN(6))
	list := []patterns.Hypothesis{{Like: shares[0]}}
	if !signal && rng.IntN(2) == 0 {
		list[0].Fault = randomFault(rng, signal)
	}
	for _, p := range shares[1:] {
		list = append(list, patterns.Hypothesis{Like: p, Fault: randomFault(rng, signal)})
	}
	return list
}

// Over random posteriors and random knowledge, nothing is unsoldered while a test that costs less would still tell
// something; and when everything cheaper was done it comes to that.
func TestNothingUnsolderedTooEarly(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	keys, bitmap := KnownKeys(), profile(t, "attr-256x192-50")
	soldered := 0
	for n := range 400 {
		logic, paths := randomPosterior(rng, false), randomPosterior(rng, true)
		done := map[string]bool{}
		var facts []Fact
		for _, i := range rng.Perm(len(keys))[:rng.IntN(len(keys))] {
			f, err := parseFact(strings.TrimSuffix(keys[i].Text, "[:BITS]"), nil)
			if err != nil {
				t.Fatal(err)
			}
			if test := f.saw[0].test.Name; !done[test] {
				done[test] = true
				facts = append(facts, f)
			}
		}
		sc := sceneOf(bitmap, logic, paths, facts)
		plan := sc.choose(facts, mostSteps)
		for at, s := range plan {
			if !s.test.Solder {
				continue
			}
			soldered++
			sets := [][]float64{sc.weights()}
			sorts := map[string]bool{}
			for _, f := range facts {
				for _, o := range f.saw {
					sorts[o.test.Sort] = true
				}
			}
			for _, before := range plan[:at] {
				sets = split(sets, sc.table(before))
				sorts[before.test.Sort] = true
			}
			for _, other := range sc.steps(facts) {
				if other.test.Solder || other.cost() >= s.cost() || slices.Contains(plan[:at], other) {
					continue
				}
				gain := information(sets, sc.table(other))
				if other.test.Socket {
					gain *= sc.socketed
				}
				if other.test.Sort != "" && sorts[other.test.Sort] {
					gain *= again
				}
				if gain >= worthDoing {
					t.Errorf("%d: %s is advised while %s would tell %.3f bits", n, s.test.Name, other.test.Name, gain)
				}
			}
		}
	}
	if soldered == 0 {
		t.Error("it never came to soldering: nothing was tried")
	}
	// A stuck lane of which all else is done.
	stuck := &patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: new(3), Level: new(1)}
	lists := []patterns.Hypothesis{{Like: 1, Fault: stuck}}
	facts, err := ParseFacts([]string{
		"ram-test=fail:3", "counting=lane", "sockets=none", "flex=same", "touch=like:3", "cooled=same:3", "piggyback=same:3", "continuity=good:3",
		"lane=chip:3", "supply=good", "power-up=same", "codes=exchanged", "swapped=video-logic", "pressed=same:3",
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := Desk{Profile: bitmap, Known: facts}
	if next := d.Next(lists, nil, ""); len(next) == 0 || !strings.HasPrefix(next[0], "unsolder the chip of data bit 3") || !strings.Contains(next[0], "ventilation") {
		t.Errorf("when all else is done: %q", next)
	}
	d.Known = nil
	if next := d.Next(lists, nil, ""); len(next) == 0 || len(next) > mostSteps || strings.Contains(strings.Join(next, " "), "unsolder") {
		t.Errorf("when nothing is done: %q", next)
	}
}

func profile(t *testing.T, name string) *display.Profile {
	t.Helper()
	return analysetest.Profile(t, name)
}

// Faults that give the same picture are split: the test is named, and the first says what would point at which.
func TestSamePictureIsSplit(t *testing.T) {
	level := new(0)
	for _, tt := range []struct {
		name, display string
		logic, paths  []patterns.Hypothesis
		said          []string
	}{
		{"A5 and counter bit 3", "attr-256x192-50",
			[]patterns.Hypothesis{
				{Like: .5, Fault: &patterns.Fault{Class: patterns.RAMBit, Kind: "address-line-stuck", Lines: []int{5}, Level: level}},
				{Like: .5, Fault: &patterns.Fault{Class: patterns.VideoLogic, Kind: "line-counter", CounterBit: new(3), Level: level}}},
			nil, []string{"counting pattern", "in pairs, address line 5", "right, line counter bit 3"}},
		{"latch and hue", "attr-256x192-50",
			[]patterns.Hypothesis{{Like: .5}, {Like: .5, Fault: &patterns.Fault{Class: patterns.VideoLogic, Kind: "border-latch", Expected: new(2), Seen: new(3)}}},
			[]patterns.Hypothesis{{Like: .5}, {Like: .5, Fault: &patterns.Fault{Class: patterns.Signal, Kind: "hue-shift", Degrees: new(50.0)}}},
			[]string{"write each border colour in turn"}},
		{"a code's lane and the generator", "text-40x25-50",
			[]patterns.Hypothesis{
				{Like: .5, Fault: &patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: new(2), Level: level, Memory: "screen"}},
				{Like: .5, Fault: &patterns.Fault{Class: patterns.VideoLogic, Kind: "character-generator"}}},
			nil, []string{"memory test", "passes, character generator", "at bit 2, data bit 2 lane", "write all codes"}},
	} {
		next := Desk{Profile: profile(t, tt.display)}.Next(tt.logic, tt.paths, "")
		if len(next) == 0 {
			t.Errorf("%s: nothing", tt.name)
			continue
		}
		for _, part := range tt.said {
			if !strings.Contains(strings.Join(next, "\n"), part) {
				t.Errorf("%s: %q has no %q", tt.name, next, part)
			}
		}
	}
}

// A list says a caution once.
func TestCautionsOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	p := profile(t, "attr-256x192-50")
	for range 100 {
		logic := randomPosterior(rng, false)
		all := strings.Join(Desk{Profile: p}.Next(logic, randomPosterior(rng, true), ""), "\n")
		for _, caution := range []string{swapCaution, heatCaution, patterns.MainsCaution, railsFirst, solderLast} {
			if strings.Count(all, caution) > 1 {
				t.Errorf("said twice: %s\n%s", caution, all)
			}
		}
	}
}
