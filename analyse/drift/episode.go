package drift

import "time"

// An Episode is a run of fields that are not as learned, with at most a quarter of a second of
// good ones between them.
type Episode struct {
	Kind        Kind // the gravest; Changed when the picture stayed another one
	First, Last int  // numbers of the fields, as counted by the caller
	Start, End  time.Duration
	Fields      int // bad ones
	Worst       int // number of the worst field
	Blocks      int // places that differ in it
	Where       Rect
	Shift       int // LostLock: lines
	Excess      int // of it, see Reading
}

// quietFields good fields end an episode.
const quietFields = 12

// grave orders the kinds.
var grave = map[Kind]int{BadField: 1, Border: 1, Changed: 2, Frozen: 3, LostLock: 4, NoSignal: 5}

// A Tracker joins readings to episodes; the zero value is ready.
type Tracker struct {
	now  *Episode
	good int
}

// Now is the episode that goes on, nil when there is none.
func (t *Tracker) Now() *Episode { return t.now }

// Add takes the reading of field number n. It tells whether an episode begins with it, whether it is the
// worst of its episode so far, and gives the episode that ends with it.
func (t *Tracker) Add(r Reading, n int, at time.Duration) (begins, worst bool, ended *Episode) {
	if r.Kind == Good || r.Kind == Learning {
		if t.now == nil {
			return false, false, nil
		}
		if t.good++; t.good < quietFields {
			return false, false, nil
		}
		return false, false, t.End()
	}
	t.good = 0
	if t.now == nil {
		begins = true
		t.now = &Episode{Kind: r.Kind, First: n, Start: at}
	}
	e := t.now
	e.Fields++
	e.Last, e.End = n, at
	switch {
	case e.Kind == r.Kind:
	case grave[r.Kind] > grave[e.Kind]:
		e.Kind = r.Kind
	case e.Kind == Border && r.Kind == BadField:
		e.Kind = BadField // more than the border
	}
	if begins || r.Excess > e.Excess {
		worst = true
		e.Worst, e.Blocks, e.Where, e.Shift, e.Excess = n, r.Blocks, r.Where, r.Shift, r.Excess
	}
	if r.Relearn > 0 && grave[e.Kind] <= grave[Changed] {
		if e.Kind != Border {
			e.Kind = Changed
		}
		return begins, worst, t.End()
	}
	return begins, worst, nil
}

// End ends the episode that goes on, at the end of the capture; nil when there is none.
func (t *Tracker) End() *Episode {
	e := t.now
	t.now, t.good = nil, 0
	return e
}
