package characters

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// A Screen is what was read of a Text display's screen, as its hypotheses are weighed by it.
type Screen struct {
	Survey          *analyse.Survey
	Profile         *display.Profile
	Reference       *analyse.Survey // a good machine's, of the same screen; nil: none
	ReferenceBorder int             // palette index of its border; -1: not known
	Blank           bool            // the whole picture area shows one colour
	Colour          int             // which then, by palette index
	Edgeless        bool            // it goes over into the border without an edge
}

// Hypotheses weighs what can be wrong with a Text display.
func Hypotheses(e *Screen) []patterns.Hypothesis {
	t := newScreenText(e)
	free := t.free()
	if e.Reference == nil {
		return joined(unseen(free, !t.page.fits))
	}
	// Another screen than the reference's, as on a display of bitmaps: judge/classify.go has the same.
	for i := range free {
		if k := free[i].Fault; k == nil || k.Kind != "power-up-pattern" && k.Kind != "blank-picture" {
			free[i].Like += math.Log(patterns.OtherScreen)
			free[i].Other = true
		}
	}
	return joined(append(free, unseen(t.against(), false)...))
}

// invisible is how much rarer, in nats, a fault of which nothing shows is on a bench: it is what shows
// that brings a machine there. Common practice, no source.
const invisible = 3.0

// unseen makes faults rarer that explain the screen no better than none; the first hypothesis is that nothing is wrong.
// Where the codes are not known, what is wrong with them may show to whoever brought the machine, and not here.
func unseen(list []patterns.Hypothesis, codeless bool) []patterns.Hypothesis {
	for i := range list {
		if h := &list[i]; h.Fault != nil && h.Like < list[0].Like+1 && !(codeless && h.Fault.Memory == "screen" && h.Fault.Class == patterns.RAMBit) {
			h.Like -= invisible
		}
	}
	return list
}

// joined adds up hypotheses that name the same fault; the likeliest one's reason is kept.
func joined(list []patterns.Hypothesis) []patterns.Hypothesis {
	index := map[string]int{}
	var out []patterns.Hypothesis
	best := map[string]float64{}
	for _, h := range list {
		k := "nothing"
		if h.Fault != nil {
			k = identity(h.Fault)
		} else if h.Other {
			k = "another screen"
		}
		sum := h.Prior + h.Like
		i, ok := index[k]
		if !ok {
			index[k], best[k] = len(out), sum
			out = append(out, h)
			continue
		}
		o := &out[i]
		if sum > best[k] {
			best[k], o.Why, o.Other = sum, h.Why, h.Other
		}
		o.Like = nats.LogSum(o.Prior+o.Like, sum) - o.Prior
	}
	return out
}

// identity tells faults of Text displays apart.
func identity(f *patterns.Fault) string {
	n := func(v *int) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprint(*v)
	}
	level := n(f.Level)
	if f.Kind == "address-line-stuck" { // the same picture but for the parts of the screen that are lost
		level = "-"
	}
	return fmt.Sprint(f.Kind, " ", n(f.Bit), n(f.CounterBit), level, f.Component, n(f.Expected), n(f.Seen), f.Memory, f.Lines, f.Lanes, n(f.Row), n(f.Column), f.Columns, f.Codes)
}
