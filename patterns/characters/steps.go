package characters

import (
	"fmt"
	"math"
	"math/bits"

	"backporch/analyse"
)

// Cells of a Text display that change once and stay so.

// forGood tells of a cell that goes from one picture to the next and never back, but for fields about the change that were misread.
func (c *changed) forGood() bool {
	if c.Of < enoughTime || c.Pictures > fewPictures {
		return false
	}
	if n := c.unsteady(); c.Pictures <= 2 && n*unsteadyPart <= c.Of && min(len(c.In), c.Of-len(c.In)) > n {
		return true
	}
	if len(c.In) > 1 && !c.alternates() { // each second field may show either picture in another way, by the subcarrier's step
		steps := true
		for turn := range 2 {
			half := c.every2nd(turn)
			n := half.unsteady()
			steps = steps && n*unsteadyPart <= half.Of && (len(half.In) == 0 || len(half.In) == half.Of || min(len(half.In), half.Of-len(half.In)) > n)
		}
		if steps {
			return true
		}
	}
	if c.Turns > c.Pictures+1 {
		return false
	}
	off := c.offStep()
	return c.Turns == c.Pictures-1 || off*misreadSteps <= c.Of && min(len(c.In), c.Of-len(c.In)) > 3*off
}

// every2nd is the same cell in each second field alone.
func (c *changed) every2nd(turn int) (out changed) {
	out.Of = (c.Of + 1 - turn) / 2
	for _, k := range c.In {
		if k%2 == turn {
			out.In = append(out.In, k/2)
		}
	}
	return out
}

// alternates tells of a cell that shows the one picture in each second field and the other in the rest: a machine makes all fields alike, and it is the
// subcarrier or the device that doesn't.
func (c *changed) alternates() bool {
	even, odd := c.every2nd(0), c.every2nd(1)
	return c.Of >= enoughTime && (len(even.In) == even.Of && len(odd.In) == 0 || len(even.In) == 0 && len(odd.In) == odd.Of)
}

// unsteady is how many fields there are from the first that shows the later picture to the last that shows the earlier one: a bit that turns is read both ways
// for a moment. Of fields that turn by chance few are at one end.
func (c *changed) unsteady() int {
	least := c.Of
	for _, late := range [2]bool{false, true} { // whether Other is the later picture
		first, last := c.Of, -1 // of the later, of the earlier
		k := 0
		for field := range c.Of {
			in := k < len(c.In) && c.In[k] == field
			if in {
				k++
			}
			if in == late {
				first = min(first, field)
			} else {
				last = field
			}
		}
		least = min(least, max(0, last-first+1))
	}
	return least
}

// unsteadyPart is how small a part of the fields a bit is read both ways in when it turns. Common practice, no source.
const unsteadyPart = 8

// offStep is how many fields go against the step at which they fit best.
func (c *changed) offStep() int {
	before := make([]int, c.Of+1) // fields of the other picture before each
	for _, k := range c.In {
		if k < c.Of {
			before[k+1]++
		}
	}
	for k := range c.Of {
		before[k+1] += before[k]
	}
	all, least := before[c.Of], c.Of
	for k, n := range before {
		late := n + (c.Of - k) - (all - n) // wrong where the other picture is the later one
		least = min(least, late, c.Of-late)
	}
	return least
}

// misreadSteps: of so many fields one may go against a step. Common practice, no source.
const misreadSteps = 16

// fewPictures are as many as the bits of a cell that decay one after the other make in a second or two.
const fewPictures = 5

// order gives the shapes of a cell that changes once, the earlier first; most is the commoner one.
func (c *changed) order(most int) (early, late int) {
	sum := 0
	for _, k := range c.In {
		sum += k
	}
	if 2*sum < c.Of*len(c.In) {
		return c.shows, most
	}
	return most, c.shows
}

// strangeDecay makes what shows after a change, where the codes are not known, as dear as a program's writing unless it follows from
// what stood there. Common practice, no source.
const strangeDecay = 2.0

// refresh is the log-likelihood of bits that decay: each changes once, to its lane's level. lane is -1 for all.
func (r *restless) refresh(lane int) (like float64, why string) {
	var to [8][2]int // by lane: changes to 0 and to 1
	cost, once := 0.0, 0
	became := map[int]*words{} // where the codes are not known: a few bits make few characters of each
	for i := range r.changes {
		c := &r.changes[i]
		if lane < 0 && !r.words.fits && c.forGood() {
			early, late := c.order(r.words.shape[c.At])
			if became[early] == nil {
				became[early] = &words{}
			}
			cost += laneAlone + strangeDecay*became[early].cost(late, 1.0/256)
			once++
			continue
		}
		if c.lane < 0 || lane >= 0 && c.alone>>lane&1 == 0 {
			cost += c.plainly() + 1
			continue
		}
		if c.forGood() {
			once++
		} else {
			cost += manyTurns
		}
		late := c.now
		if c.In[len(c.In)-1] != c.Of-1 { // the commoner picture is the later one
			late = c.was
		}
		for b := range 8 {
			if lane < 0 && c.lane>>b&1 == 1 || b == lane {
				to[b][late>>b&1]++
			}
		}
		cost += laneAlone
		if lane < 0 {
			cost += math.Ln2 * float64(bits.OnesCount(uint(c.lane)))
		}
	}
	for _, n := range to {
		cost += 3 * float64(min(n[0], n[1]))
	}
	if once < 2 {
		return math.Inf(-1), ""
	}
	like = r.bounded(-cost) + r.order
	if !r.words.fits { // what a program writes once stays as well
		like -= math.Max(0, r.order)
	}
	return like, fmt.Sprintf("%d cells change once and for good while one looks: their bits decay", once)
}

// manyForGood tells whether so many cells change once and for good as memory that decays in all lanes has.
func (r *restless) manyForGood() bool {
	n := 0
	for i := range r.changes {
		if r.changes[i].forGood() {
			n++
		}
	}
	return n*decayedPart >= r.n
}

// decayedPart: where memory decays in all lanes one cell in so many changes while one looks, at the least. Common practice, no source.
const decayedPart = 20

// inUnison is how cells move that all do so in the same fields, as with a lane that fails as a whole: so many cells turn no surer by chance
// than one. Where they do not it is how all move, as given.
func inUnison(list []analyse.Change, all *analyse.Motion) *analyse.Motion {
	if len(list) < leastMovingCells || all == nil {
		return all
	}
	first, n := list[len(list)/2], 0
	in := make([]bool, first.Of+1)
	for _, k := range first.In {
		in[min(k, first.Of)] = true
	}
	for i := range list {
		apart := len(first.In)
		for _, k := range list[i].In {
			if in[min(k, first.Of)] {
				apart--
			} else {
				apart++
			}
		}
		if apart = min(apart, first.Of-apart); apart*misreadSteps <= first.Of {
			n++
		}
	}
	if float64(n) < mostlyPaired*float64(len(list)) {
		return all
	}
	k, of := float64(len(first.In)), float64(first.Of)
	return &analyse.Motion{Flips: first.Turns, Chance: 2 * k * (of - k) / of}
}
