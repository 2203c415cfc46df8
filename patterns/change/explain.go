package change

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"backporch/analyse"
	"backporch/patterns"
)

// explain gives the reasons, the weightiest first.
func (j *Judgement) explain(before, after *Side, order []Word) {
	say := func(format string, args ...any) { j.Why = append(j.Why, fmt.Sprintf(format, args...)) }
	say("before: %s", said(before))
	say("after: %s", said(after))
	had, has := faults(before), faults(after)
	for _, id := range inOrder(had) {
		if has[id] != nil {
			j.Kept = append(j.Kept, had[id].Describe(before.profile))
		} else {
			j.Gone = append(j.Gone, had[id].Describe(before.profile))
		}
	}
	for _, id := range inOrder(has) {
		if had[id] == nil {
			j.New = append(j.New, has[id].Describe(after.profile))
		}
	}
	for _, m := range j.Measures {
		if w := m.Word(); w == "better" || w == "worse" {
			say("%s: %s to %s, %s by %.1f times what an unchanged machine differs by", m.Name, Figure(m.Before, m.Unit), Figure(m.After, m.Unit), w, math.Abs(*m.Better))
		}
	}
	switch n := len(j.Differences); {
	case j.Cells == 0:
		say("the pictures could not be laid over each other: %s", unplaced(before, after))
	case n == 0:
		say("every one of %d cells looks as before", j.Cells)
	default:
		say("%d of %d cells look different", n, j.Cells)
	}
	if j.Word == Undetermined && j.Words[order[0]] >= named {
		say("%s (%.0f %%), if it were the same machine, which is in doubt", order[0], 100*j.Words[order[0]])
	} else if j.Word == Undetermined && len(order) > 1 {
		say("%s (%.0f %%) and %s (%.0f %%) are too near each other", order[0], 100*j.Words[order[0]], order[1], 100*j.Words[order[1]])
	}
}

// inOrder lists faults, the most probable first.
func inOrder(m map[string]*patterns.Fault) []string {
	ids := make([]string, 0, len(m))
	for id := range m {
		ids = append(ids, id)
	}
	sort.Slice(ids, func(i, k int) bool {
		if p, q := m[ids[i]].Probability, m[ids[k]].Probability; p != q {
			return p > q
		}
		return ids[i] < ids[k]
	})
	return ids
}

// said is a verdict in a few words.
func said(s *Side) string {
	v := s.Verdict
	switch v.Class {
	case patterns.Clean:
		return "nothing wrong" + sure(v)
	case patterns.Undetermined:
		return "the capture does not settle what is wrong"
	}
	var all []string
	for i := range v.Faults {
		if f := &v.Faults[i]; f.Probability >= likely || i == 0 {
			all = append(all, f.Describe(s.profile))
		}
	}
	if len(all) == 0 {
		all = []string{string(v.Class)}
	}
	return strings.Join(all, ", and ") + sure(v)
}

func sure(v *patterns.Verdict) string {
	if v.Confidence == nil {
		return ""
	}
	return fmt.Sprintf(" (%.0f %%)", math.Floor(100**v.Confidence))
}

func unplaced(before, after *Side) string {
	for _, s := range []struct {
		name string
		side *Side
	}{{"before", before}, {"after", after}} {
		if r := s.side.Survey.Registration; !r.OK {
			return s.name + ": " + r.Reason
		}
	}
	return "they have different cells"
}

// Figure writes a value with its unit, or a dash.
func Figure(v *float64, unit string) string {
	if v == nil {
		return "-"
	}
	x := *v
	if math.Abs(x) < 0.05 {
		x = 0 // never -0.0
	}
	switch {
	case unit == "":
		return fmt.Sprintf("%.0f", x)
	case math.Abs(x) >= 1000:
		return fmt.Sprintf("%.0f %s", x, unit)
	}
	return fmt.Sprintf("%.1f %s", x, unit)
}

// warn says what may make the comparison worthless.
func (j *Judgement) warn(before, after *Side) {
	say := func(format string, args ...any) { j.Warnings = append(j.Warnings, fmt.Sprintf(format, args...)) }
	if m := j.Machine; m != nil && m.Another() {
		say("these do not look like the same machine, by odds of %s: %s", Odds(-m.Log10), m.Strongest())
	}
	switch {
	case j.Cells == 0:
	case j.SameScreen == nil:
		say("it can't be told whether both show the same screen: capture the same one, best a test screen")
	case !*j.SameScreen:
		say("these do not show the same screen: a fault that this screen can't show is no fault gone; capture the same one, best a test screen")
	}
	if before.Survey.Sync.State == analyse.NoSignal && after.Survey.Sync.State == analyse.NoSignal {
		say("there is no signal in either")
	}
}

// Odds writes a power of ten as odds.
func Odds(log float64) string {
	if log > 6 {
		return "more than a million to one"
	}
	n := math.Pow(10, log)
	if n < 100 {
		return fmt.Sprintf("%.0f to one", n)
	}
	step := math.Pow(10, math.Floor(log)-1)
	return fmt.Sprintf("%.0f to one", math.Floor(n/step)*step)
}
