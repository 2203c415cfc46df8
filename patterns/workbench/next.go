package workbench

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"backporch/patterns"
	"backporch/video/display"
)

// A step is a bench test at a place.
type step struct {
	test *Test
	at   places // 0 unless the test is of a lane
}

const (
	worthDoing  = 0.02 // bits; a test that is expected to tell less is not worth getting up for
	mostSteps   = 3
	leastFault  = 0.05 // a fault less probable is none to choose a test by, unless it is the likeliest
	mostWeighed = 24   // suspects of one list; the others are too improbable to choose a test by
)

func (s step) cost() float64 { return s.test.Minutes + s.test.Risk }

// A scene is what is suspected of the logic and of the path: the test to choose is to tell them apart.
type scene struct {
	logic, path []suspect
	codes       bool    // of a character display
	socketed    float64 // how probable it is that a part can be taken out
}

// sceneOf takes the likeliest suspects of both lists, with what is known.
func sceneOf(p *display.Profile, logic, paths []patterns.Hypothesis, facts []Fact) scene {
	s := scene{leading(logic, facts), leading(paths, facts), p.Kind == display.Text, socketed}
	for _, f := range facts {
		for _, o := range f.saw {
			if o.test.Name == socketsTest {
				s.socketed = float64(1 - o.outcome)
			}
		}
	}
	return s
}

func leading(list []patterns.Hypothesis, facts []Fact) []suspect {
	top := patterns.Best(list)
	out := spread(list, facts, func(h *patterns.Hypothesis) bool { return h.Like >= leastFault || h == top })
	slices.SortStableFunc(out, func(a, b suspect) int { return cmp.Compare(b.weight, a.weight) })
	out = out[:min(len(out), mostWeighed)]
	total := 0.0
	for _, s := range out {
		total += s.weight
	}
	for i := range out {
		out[i].weight /= total
	}
	return out
}

// likely is the probability of each outcome of a step with a pair of suspects.
func (sc *scene) likely(s step, logic, path suspect) []float64 {
	a, ownA := s.test.likely(logic.fault, logic.cause, s.at)
	b, ownB := s.test.likely(path.fault, path.cause, s.at)
	return both(a, ownA, b, ownB)
}

// table is the probability of each outcome of a step, by pair of suspects.
func (sc *scene) table(s step) [][]float64 {
	out := make([][]float64, 0, len(sc.logic)*len(sc.path))
	for _, l := range sc.logic {
		for _, p := range sc.path {
			out = append(out, sc.likely(s, l, p))
		}
	}
	return out
}

func (sc *scene) weights() []float64 {
	out := make([]float64, 0, len(sc.logic)*len(sc.path))
	for _, l := range sc.logic {
		for _, p := range sc.path {
			out = append(out, l.weight*p.weight)
		}
	}
	return out
}

// split divides the weights by the outcome of a test: one set for each, the weights that remain.
func split(sets [][]float64, table [][]float64) [][]float64 {
	var out [][]float64
	for _, weights := range sets {
		for o := range table[0] {
			left := make([]float64, len(weights))
			for i, w := range weights {
				left[i] = w * table[i][o]
			}
			out = append(out, left)
		}
	}
	return out
}

// information is the expected number of bits that a test tells of the suspects, after those tests whose
// outcomes have divided the weights into sets: the entropy of its outcome less what would remain if the suspect were known.
func information(sets [][]float64, table [][]float64) float64 {
	gain := 0.0
	outcomes := make([]float64, len(table[0]))
	for _, weights := range sets {
		total := 0.0
		clear(outcomes)
		for i, w := range weights {
			total += w
			for o, p := range table[i] {
				outcomes[o] += w * p
				gain += w * p * log2(p)
			}
		}
		for _, p := range outcomes {
			if total > 0 {
				gain -= p * log2(p/total)
			}
		}
	}
	return gain
}

func log2(p float64) float64 {
	if p <= 0 {
		return 0 // times p, which is 0
	}
	return math.Log2(p)
}

// steps lists what can be done: each test, at each lane that is suspected, but for what was done already.
func (sc *scene) steps(facts []Fact) []step {
	var places []places
	for _, s := range sc.logic {
		if p := struck(s.fault); p != 0 && (count(p) == 1 || p == screenLanes) && !slices.Contains(places, p) {
			places = append(places, p)
		}
	}
	done := func(s step) bool {
		return slices.ContainsFunc(facts, func(f Fact) bool {
			return slices.ContainsFunc(f.saw, func(o observation) bool {
				return o.test == s.test && (s.at == 0 || o.at == 0 || o.at&s.at == s.at)
			})
		})
	}
	var out []step
	for i := range tests {
		t := &tests[i]
		if t.Name == socketsTest || t.Socket && sc.socketed == 0 || t.Codes && !sc.codes {
			continue
		}
		if !t.Lane {
			if s := (step{t, 0}); !done(s) {
				out = append(out, s)
			}
			continue
		}
		for _, p := range places {
			// All lanes at once are for the test that finds out which.
			s := step{t, p}
			if (count(p) == 1 || t.Locates) && (t.Of == 0 || t.Of&p == p) && !done(s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// again is what a test is still worth after another of its sort. Common practice, no source.
const again = 0.3

// sortsKnown are the sorts of tests of which one was done.
func sortsKnown(facts []Fact) map[string]bool {
	out := map[string]bool{}
	for _, f := range facts {
		for _, o := range f.saw {
			if o.test.Sort != "" {
				out[o.test.Sort] = true
			}
		}
	}
	return out
}

// choose gives the tests to do, the one that is expected to tell the most for its cost first, each of the next with what
// the ones before it leave open. Nothing is unsoldered while a cheaper test would still tell something.
func (sc *scene) choose(facts []Fact, most int) []step {
	candidates := sc.steps(facts)
	tables := make([][][]float64, len(candidates))
	for i, s := range candidates {
		tables[i] = sc.table(s)
	}
	sets := [][]float64{sc.weights()}
	sorts := sortsKnown(facts)
	var out []step
	for len(out) < most {
		best, worth := -1, 0.0
		gains := make([]float64, len(candidates))
		cheapest := math.Inf(1) // of those that still tell something without soldering
		for i, s := range candidates {
			if tables[i] == nil {
				continue
			}
			gains[i] = information(sets, tables[i])
			if s.test.Socket {
				gains[i] *= sc.socketed
			}
			if sorts[s.test.Sort] {
				gains[i] *= again
			}
			if gains[i] >= worthDoing && !s.test.Solder {
				cheapest = math.Min(cheapest, s.cost())
			}
		}
		for i, s := range candidates {
			if tables[i] == nil || gains[i] < worthDoing || s.test.Solder && cheapest < s.cost() {
				continue
			}
			if v := gains[i] / s.cost(); v > worth {
				best, worth = i, v
			}
		}
		if best < 0 {
			break
		}
		out = append(out, candidates[best])
		sets = split(sets, tables[best])
		tables[best] = nil
		if sort := candidates[best].test.Sort; sort != "" {
			sorts[sort] = true
		}
	}
	return out
}

// remedy is the test that changes the likeliest suspect's part, when nothing is left to tell; nil when there is none.
func (sc *scene) remedy(facts []Fact) *step {
	top := sc.logic[0]
	if top.fault == nil || sc.path[0].fault != nil && sc.path[0].weight > top.weight {
		top = sc.path[0]
	}
	for _, s := range sc.steps(facts) {
		if !strings.HasPrefix(s.test.Name, "change the ") || !slices.Contains(s.test.rows[0].causes, top.cause) {
			continue
		}
		if !s.test.Lane || s.at == struck(top.fault) {
			return &s
		}
	}
	return nil
}
