package swap

import (
	"fmt"
	"maps"
	"slices"
)

// An observation is one thing that a test says of some causes together.
type observation struct {
	test     int
	place    string // "" for the test as a whole
	bad      bool
	hard     mask // parts, positions, board and path that took part
	contacts mask
	board    int // the board's number, where the picture accused a place and not the board; else -1
	places   int // positions fitted
}

// A bench is every cause that the tests speak of, and what they say. Cause 2k is hard or a
// contact, 2k+1 the same one as an intermittent.
type bench struct {
	tests   []Test
	options Options
	number  map[Cause]int
	list    []Cause
	seen    []observation
	cleared mask // hard causes and contacts that a good observation rules out
}

func newBench(tests []Test, o Options) (*bench, error) {
	b := &bench{tests: tests, options: o, number: map[Cause]int{}}
	for i := range tests {
		if tests[i].Outcome != Unknown {
			b.observe(i)
		}
		if len(b.list) > most {
			return nil, fmt.Errorf("%s: more than %d parts, positions and contacts are too many to reason over", nameOf(tests, i), most/2)
		}
	}
	for _, s := range b.seen {
		if !s.bad {
			b.cleared = b.cleared.with(s.hard).with(s.contacts)
		}
	}
	return b, nil
}

// cause numbers a cause; -1 is none: there are too many, which newBench reports.
func (b *bench) cause(c Cause) int {
	n, ok := b.number[c]
	if !ok {
		n = len(b.list)
		soft := c
		soft.Intermittent = true
		b.number[c] = n
		b.list = append(b.list, c, soft)
	}
	return n
}

func (b *bench) put(m *mask, c Cause) {
	if n := b.cause(c); n < most {
		m.add(n)
	}
}

// involved adds what sits at a position.
func (b *bench) involved(o *observation, t *Test, position string) {
	part := t.Fitted[position]
	b.put(&o.hard, Cause{Kind: Part, Part: part})
	b.put(&o.hard, Cause{Kind: Position, Board: t.Board, Position: position})
	b.put(&o.contacts, Cause{Kind: Contact, Part: part, Board: t.Board, Position: position})
}

// observe takes a test apart.
func (b *bench) observe(i int) {
	t := &b.tests[i]
	for _, position := range t.GoodAt {
		o := observation{test: i, place: position, board: -1, places: len(t.Fitted)}
		b.involved(&o, t, position)
		b.seen = append(b.seen, o)
	}
	board := Cause{Kind: Board, Board: t.Board}
	for _, position := range t.BadAt {
		// A path touches the whole picture and accuses no lane.
		o := observation{test: i, place: position, bad: true, board: b.cause(board), places: len(t.Fitted)}
		b.involved(&o, t, position)
		b.put(&o.hard, board)
		b.seen = append(b.seen, o)
	}
	if len(t.BadAt) > 0 {
		return
	}
	o := observation{test: i, bad: t.Outcome == Bad, board: -1, places: len(t.Fitted)}
	for _, position := range sorted(t.Fitted) {
		if !slices.Contains(t.GoodAt, position) {
			b.involved(&o, t, position)
		}
	}
	b.put(&o.hard, board)
	b.put(&o.hard, Cause{Kind: Path, Path: t.Path})
	b.seen = append(b.seen, o)
}

func (b *bench) causes(m mask) []Cause {
	var out []Cause
	for _, i := range m.list() {
		out = append(out, b.list[i])
	}
	return out
}

// soft is the causes of an observation that no single good test clears: contacts not seen good,
// and as intermittents what was.
func (b *bench) soft(o *observation) mask {
	m := o.contacts.without(b.cleared)
	for _, i := range o.hard.with(o.contacts).and(b.cleared).list() {
		m.add(i + 1)
	}
	return m
}

// contradictions lists the bad observations that have no hard cause left.
func (b *bench) contradictions() []Contradiction {
	var out []Contradiction
	for i := range b.seen {
		o := &b.seen[i]
		if !o.bad || !o.hard.within(b.cleared) {
			continue
		}
		c := Contradiction{Test: nameOf(b.tests, o.test), Place: o.place}
		for k := range b.seen {
			g := &b.seen[k]
			if !g.bad && o.hard.within(g.hard) && b.alike(o.test, g.test, o.place) {
				c.Same = nameOf(b.tests, g.test)
				break
			}
		}
		out = append(out, c)
	}
	return out
}

// alike says whether two tests had the same part in that place, or with place "" in every place.
func (b *bench) alike(i, k int, place string) bool {
	s, t := &b.tests[i], &b.tests[k]
	if place != "" {
		return s.Board == t.Board && s.Fitted[place] == t.Fitted[place]
	}
	return s.Board == t.Board && s.Path == t.Path && maps.Equal(s.Fitted, t.Fitted)
}

// explain gives the minimal sets, of at most limit causes. Without contradictions they are sets of hard
// causes, and each soft cause that explains all by itself.
// With them soft causes take part, and only the smallest sets are given.
func (b *bench) explain(limit int) []mask {
	var hard, all []mask
	common := mask{}
	for i := range common {
		common[i] = ^uint64(0)
	}
	contradictory := false
	for i := range b.seen {
		o := &b.seen[i]
		if !o.bad {
			continue
		}
		open := o.hard.without(b.cleared)
		soft := b.soft(o)
		contradictory = contradictory || open == mask{}
		hard, all, common = append(hard, open), append(all, open.with(soft)), common.and(soft)
	}
	if contradictory {
		for most := 1; most <= limit; most++ {
			sets, whole := hit(all, most)
			if len(sets) > 0 || !whole {
				return sets
			}
		}
		return nil
	}
	var sets []mask
	for most := 1; most <= limit; most++ {
		more, whole := hit(hard, most)
		if !whole {
			break
		}
		sets = more
	}
	for _, i := range common.list() {
		var one mask
		one.add(i)
		sets = append(sets, one)
	}
	return sets
}
