package swap

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"
)

// A Do is a sort of next step.
type Do int

const (
	Reseat   Do = iota // take a part out and put it back in its place, then look again
	Soak               // look at the same configuration for longer
	Rewire             // another cable, supply or device
	Fit                // put a part from elsewhere in this place
	Move               // put this part in the same place of another board and look there
	Exchange           // let two parts of one board change places
	MoveHalf           // as Move, several parts at once
)

// costs in steps of one chip taken out and put back.
var costs = map[Do]float64{Reseat: 1, Soak: 1, Rewire: 1, Fit: 2, Move: 2, Exchange: 2}

// worth is the bits that a step must promise to be proposed.
const worth = 0.1

// Spare names a part or a path that is not among those tried.
const Spare = "a known good one"

// A Swap is a next step with what it would tell.
type Swap struct {
	Do    Do
	Board string   // on which to look afterwards
	From  string   // Move: the board that the parts come from
	Parts []string // that are handled
	At    []string // their positions afterwards
	Path  string   // Rewire: the one to use
	Gain  float64  // bits, expected
	// Expect is what may be seen and how probable it is; the likelier first.
	Expect []Expectation
	cost   float64
	setup  Test
}

// An Expectation is something that a next test may show.
type Expectation struct {
	Seen        string
	Probability float64
	Leaves      []int // indices of the diagnosis's sets that would stay likely, the likeliest first
}

func (s Swap) String() string {
	where := ""
	if s.Board != "" {
		where = " of " + s.Board
	}
	at := strings.Join(s.At, ", ") + where
	switch s.Do {
	case Reseat:
		return fmt.Sprintf("reseat %s in %s, then look again", strings.Join(s.Parts, ", "), at)
	case Soak:
		return "leave everything in its place" + where + " and soak"
	case Rewire:
		return "change nothing but the signal path: use " + s.Path
	case Fit:
		return fmt.Sprintf("fit %s in %s and look there", s.Parts[0], at)
	case Exchange:
		return fmt.Sprintf("let %s and %s change places in %s", s.Parts[0], s.Parts[1], at)
	}
	return fmt.Sprintf("put %s in %s and look there", strings.Join(s.Parts, ", "), at)
}

// next ranks what could be done by the bits it is expected to give for its cost. After a contradiction
// reseating and soaking come first: what moves meanwhile would be judged by chance.
func (b *bench) next(sets []mask, weights []float64, contradictory bool) []Swap {
	order := make([]int, len(sets)) // as Isolate sorts them
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, k int) bool { return weights[order[i]] > weights[order[k]] })
	rank := make([]int, len(sets))
	for r, i := range order {
		rank[i] = r
	}
	still := func(s Swap) bool { return contradictory && (s.Do == Reseat || s.Do == Soak) }
	all := b.steps(sets, weights)
	var out []Swap
	for _, s := range all {
		b.foresee(&s, sets, weights, rank)
		if s.Gain > worth || still(s) {
			out = append(out, s)
		}
	}
	sort.SliceStable(out, func(i, k int) bool {
		if still(out[i]) != still(out[k]) {
			return still(out[i])
		}
		return out[i].Gain/out[i].cost > out[k].Gain/out[k].cost
	})
	return out[:min(len(out), 5)]
}

// steps lists what could be done next with what was on the bench.
func (b *bench) steps(sets []mask, weights []float64) []Swap {
	base, boards := b.standing()
	suspects := b.suspects(sets, weights, base)
	add := []Swap{{Do: Soak, Board: base.Board, setup: base}}
	paths := []string{Spare}
	for _, t := range b.tests {
		if t.Path != "" && t.Path != base.Path && !slices.Contains(paths, t.Path) {
			paths = append(paths, t.Path)
		}
	}
	for _, path := range paths {
		other := base
		other.Path = path
		add = append(add, Swap{Do: Rewire, Board: base.Board, Path: path, setup: other})
	}
	if len(suspects) > 1 {
		reseat := Swap{Do: Reseat, Board: base.Board, At: suspects, setup: base}
		for _, position := range suspects {
			reseat.Parts = append(reseat.Parts, base.Fitted[position])
		}
		add = append(add, reseat)
	}
	for n, position := range suspects {
		part := base.Fitted[position]
		one := Swap{Board: base.Board, Parts: []string{part}, At: []string{position}}
		reseat := one
		reseat.Do, reseat.setup = Reseat, base
		add = append(add, reseat)
		spare := one
		spare.Do, spare.Parts, spare.setup = Fit, []string{Spare}, with(base, position, Spare)
		add = append(add, spare)
		for _, loose := range b.loose(boards) {
			fit := one
			fit.Do, fit.Parts, fit.setup = Fit, []string{loose}, with(base, position, loose)
			add = append(add, fit)
		}
		for _, name := range sorted(boards) {
			there := boards[name]
			if name == base.Board || there.Fitted[position] == "" {
				continue
			}
			move := one
			move.Do, move.Board, move.From, move.setup = Move, name, base.Board, with(there, position, part)
			fit := one
			fit.Do, fit.Parts, fit.setup = Fit, []string{there.Fitted[position]}, with(base, position, there.Fitted[position])
			add = append(add, move, fit)
			if half := suspects[:n+1]; n+1 == (len(suspects)+1)/2 && n > 0 {
				if m, ok := moveAll(base, there, half); ok {
					add = append(add, m)
				}
			}
		}
		if b.placed() {
			for _, other := range sorted(base.Fitted) {
				if other != position {
					s := with(with(base, position, base.Fitted[other]), other, part)
					add = append(add, Swap{Do: Exchange, Board: base.Board, Parts: []string{part, base.Fitted[other]}, At: []string{position, other}, setup: s})
				}
			}
		}
	}
	for i := range add {
		add[i].cost = costs[add[i].Do]
		switch more := float64(len(add[i].Parts) - 1); add[i].Do {
		case MoveHalf:
			add[i].cost += more
		case Reseat:
			add[i].cost += more / 2 // no part changes its place
		}
		for _, part := range add[i].Parts {
			if part == Spare { // has to be found first
				add[i].cost += 0.5
			}
		}
	}
	return add
}

func with(t Test, position, part string) Test {
	t.Fitted = maps.Clone(t.Fitted)
	t.Fitted[position] = part
	t.BadAt, t.GoodAt = nil, nil
	return t
}

func moveAll(base, there Test, positions []string) (Swap, bool) {
	s := Swap{Do: MoveHalf, Board: there.Board, From: base.Board, setup: there}
	for _, p := range positions {
		if there.Fitted[p] == "" {
			return s, false
		}
		s.Parts, s.At = append(s.Parts, base.Fitted[p]), append(s.At, p)
		s.setup = with(s.setup, p, base.Fitted[p])
	}
	return s, true
}

// standing is the last configuration that was bad, and the last one of every board.
func (b *bench) standing() (base Test, boards map[string]Test) {
	boards = map[string]Test{}
	for _, t := range b.tests {
		boards[t.Board] = t
		if t.Outcome == Bad {
			base = t
		}
	}
	return base, boards
}

// placed says whether pictures named places, so that a fault can be seen to move on one board.
func (b *bench) placed() bool {
	for _, t := range b.tests {
		if len(t.BadAt) > 0 {
			return true
		}
	}
	return false
}

// loose are parts that were tried and sit in no board now.
func (b *bench) loose(boards map[string]Test) []string {
	in := map[string]bool{}
	for _, t := range boards {
		for _, part := range t.Fitted {
			in[part] = true
		}
	}
	var out []string
	for _, t := range b.tests {
		for _, position := range sorted(t.Fitted) {
			if part := t.Fitted[position]; !in[part] {
				in[part] = true
				out = append(out, part)
			}
		}
	}
	return out
}

// suspects are the positions of a test where a part, position or contact of some set sits, the
// likeliest first, eight at most.
func (b *bench) suspects(sets []mask, weights []float64, t Test) []string {
	share := map[string]float64{}
	for n, s := range sets {
		for _, i := range s.list() {
			c := b.list[i]
			for position, part := range t.Fitted {
				if (c.Kind == Part || c.Kind == Contact) && c.Part == part || c.Kind == Position && c.Board == t.Board && c.Position == position {
					share[position] += weights[n]
				}
			}
		}
	}
	out := sorted(share)
	sort.SliceStable(out, func(i, k int) bool { return share[out[i]] > share[out[k]] })
	return out[:min(len(out), 8)]
}

// remade is how often a contact that is taken apart and made again is good afterwards.
// Common practice, no source.
const remade = 0.8

// chance is one thing that a set may show in a test.
type chance struct {
	seen string
	p    float64
}

// shown is what a set would show in a configuration.
func (b *bench) shown(set mask, s *Swap) []chance {
	t := &s.setup
	places, whole, missed := map[string]bool{}, false, 1.0
	var maybe string
	for _, i := range set.list() {
		c := b.list[i]
		place, there := b.takesPart(c, t)
		if !there {
			continue
		}
		p := 1.0
		if c.Intermittent {
			bad, good := b.shows(set, i)
			p = float64(bad+1) / float64(bad+good+2)
			if s.Do == Soak {
				p = 1 - (1-p)*(1-p) // a soak looks for longer than a test
			}
		}
		if c.Kind == Contact && s.Do == Reseat && slices.Contains(s.At, c.Position) {
			p *= 1 - remade
		}
		switch {
		case p < 1:
			missed *= 1 - p
			maybe = place
		case place == "":
			whole = true
		default:
			places[place] = true
		}
	}
	name := func() string {
		switch {
		case !whole && len(places) == 0:
			return "good"
		case whole || !b.placed():
			return "bad"
		}
		return "bad at " + strings.Join(sorted(places), ", ")
	}
	out := []chance{{name(), missed}}
	if missed < 1 {
		if maybe == "" {
			whole = true
		} else {
			places[maybe] = true
		}
		out = append(out, chance{name(), 1 - missed})
	}
	return out
}

// takesPart says whether a cause is in a configuration, and at which place it shows.
func (b *bench) takesPart(c Cause, t *Test) (place string, ok bool) {
	switch c.Kind {
	case Part, Contact:
		for position, part := range t.Fitted {
			if part == c.Part && (c.Kind == Part || c.Board == t.Board && c.Position == position) {
				return position, true
			}
		}
		return "", false
	case Position:
		return c.Position, c.Board == t.Board && t.Fitted[c.Position] != ""
	case Board:
		if c.Board != t.Board {
			return "", false
		}
		for i := len(b.tests) - 1; i >= 0; i-- { // it shows where it showed
			if last := &b.tests[i]; last.Board == t.Board && len(last.BadAt) > 0 {
				return last.BadAt[0], true
			}
		}
		return "", true
	}
	return "", c.Path == t.Path
}

// foresee works out what a step may show, and the bits to expect: the entropy of what is seen less
// that which would remain if the causes were known.
func (b *bench) foresee(s *Swap, sets []mask, weights []float64, rank []int) {
	total := map[string]float64{}
	leaves := map[string][]int{}
	share := map[string]map[int]float64{}
	within := 0.0
	for n, set := range sets {
		for _, c := range b.shown(set, s) {
			total[c.seen] += weights[n] * c.p
			if c.p > 0 {
				within -= weights[n] * c.p * math.Log2(c.p)
			}
			if share[c.seen] == nil {
				share[c.seen] = map[int]float64{}
			}
			share[c.seen][rank[n]] += weights[n] * c.p
			leaves[c.seen] = append(leaves[c.seen], rank[n])
		}
	}
	for _, seen := range sorted(total) {
		p := total[seen]
		if p <= 1e-9 {
			continue
		}
		s.Gain -= p * math.Log2(p)
		sort.Slice(leaves[seen], func(i, k int) bool {
			return share[seen][leaves[seen][i]] > share[seen][leaves[seen][k]]
		})
		var kept []int
		for _, r := range leaves[seen] {
			if share[seen][r] >= 0.05*p {
				kept = append(kept, r)
			}
		}
		s.Expect = append(s.Expect, Expectation{Seen: seen, Probability: p, Leaves: kept})
	}
	s.Gain -= within
	sort.SliceStable(s.Expect, func(i, k int) bool { return s.Expect[i].Probability > s.Expect[k].Probability })
}

// Test is the configuration that a step leads to, its outcome open.
func (s Swap) Test() Test { return s.setup }
