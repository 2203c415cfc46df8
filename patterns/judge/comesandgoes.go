package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video/display"
)

// Pictures that a capture goes back and forth between.

// leastGain is what a fault must explain of the difference between two pictures to be weighed, nats.
const leastGain = 5.0

// comesAndGoes weighs what is wrong with the one of two pictures that a capture goes back and forth between, by putting
// every fault to the other: a fault that turns one into the other is one that comes and goes. The best of each kind is
// given, with the odds over a change that no fault makes.
func (e *evidence) comesAndGoes() []patterns.Hypothesis {
	other := e.s.Other
	if other == nil || e.p.Kind != display.Attr || len(other.Cells) != len(e.s.Cells) {
		return nil
	}
	most := *e.s
	most.Other, most.Motion = nil, nil
	fewer := most
	fewer.Cells, fewer.Memory = e.surely(other), other.Memory
	best := map[string]patterns.Hypothesis{}
	for _, pair := range [2][2]*analyse.Survey{{&most, &fewer}, {&fewer, &most}} {
		good, seen := pair[0], gather(pair[1], e.p)
		c := compareWith(seen, good)
		if c == nil {
			continue
		}
		c.what = "the other picture"
		list := c.hypotheses(seen)
		// A change that no fault makes is written down anew where the cells differ.
		anew := seen.drawn()
		differ := make([]float64, 0, len(anew))
		for i := range seen.s.Cells {
			if _, n := c.differ(tileOf(&good.Cells[i]), &seen.s.Cells[i]); n > 2 {
				differ = append(differ, anew[i]+2)
			} else {
				differ = append(differ, 0)
			}
		}
		nothing := misreadCells(differ)
		if like, ok := seen.nearlyBlank(); ok {
			blank := patterns.KindOf("blank-picture")
			list = append(list, patterns.Hypothesis{
				Fault: &patterns.Fault{Class: blank.Class, Kind: blank.Name}, Prior: math.Log(blank.Prior), Like: like,
			})
		}
		for _, h := range list {
			if h.Fault == nil {
				continue
			}
			h.Like += nothing + h.Prior - math.Log(patterns.KindOf(h.Fault.Kind).Prior)
			k := intermittent(h.Fault)
			h.Fault = k
			if k == nil || h.Like <= leastGain {
				continue
			}
			h.Why = append([]string{fmt.Sprintf("the picture goes back and forth: it is another in %d of %d fields", other.Fields, e.s.Used)}, h.Why...)
			if old, ok := best[identity(k)]; !ok || h.Like > old.Like {
				best[identity(k)] = h
			}
		}
	}
	// However much a picture that comes and goes says that something is wrong, what else is known of the screen may speak
	// for other faults; which of these it is stays as sure as the pictures make it.
	top := 0.0
	for _, h := range best {
		top = math.Max(top, h.Like)
	}
	var out []patterns.Hypothesis
	for _, k := range slices.Sorted(maps.Keys(best)) { // in one order, whatever ties there are
		h := best[k]
		if h.Like -= math.Max(0, top-movedLimit); h.Like > leastGain {
			out = append(out, h)
		}
	}
	return out
}

// surely gives the cells of the other picture, those that are no more surely another as the most fields have them: the
// subcarrier's crawl, too, makes two pictures of one where colours are near each other or patterns narrow.
func (e *evidence) surely(other *analyse.State) []analyse.Cell {
	out := append([]analyse.Cell(nil), e.s.Cells...)
	for i := range out {
		a, b := &e.s.Cells[i], &other.Cells[i]
		if apart := max(a.Apart, b.Apart); min(a.Sure, b.Sure) < sureColours || (a.Apart != 0 || b.Apart != 0) && apart < patterns.PlainlyApart {
			continue // beside a good machine's one of the two must plainly be another
		}
		differ, sure := 0, 0
		for y := range a.Bits {
			at := e.p.BitmapAddress(a.Row*8+y, a.Column) * 8
			for bit := range 8 {
				if (a.Bits[y]^b.Bits[y])>>bit&1 == 1 {
					if differ++; e.s.Memory.Odds[at+bit] >= sureBit && other.Memory.Odds[at+bit] >= sureBit {
						sure++
					}
				}
			}
		}
		if a.Single || b.Single || 2*sure >= differ {
			out[i] = *b
		}
	}
	return out
}

// sureColours is the log-odds from which on a cell of a picture that comes and goes counts as read.
const sureColours = 9

// intermittent is what a fault is called that comes and goes; nil where that tells nothing.
func intermittent(f *patterns.Fault) *patterns.Fault {
	g := *f
	switch f.Kind {
	case "data-bit-stuck", "row-dead", "column-dead":
		weak := patterns.KindOf("data-bit-weak")
		return &patterns.Fault{Class: weak.Class, Kind: weak.Name, Bit: f.Bit, Memory: f.Memory}
	case "data-bit-weak", "cell-fetch", "address-line-stuck", "line-counter", "shift-register", "supply-or-all-lanes", "blank-picture":
		return &g
	}
	return nil
}
