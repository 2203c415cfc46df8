package patterns

// A likelihood holds as far as its model does, and what nobody thought of is in none. So what a verdict states is no more than
// what verdicts like it have been worth: of those whose first fault was of a kind, the part whose class was right, measured by
// cmd/accuracy on captures that nobody had looked at (DEVELOPERS.md says which). That is a predictive value, and as any other it
// goes with how common each fault is among those measured: all kinds alike, faint ones too.

// worth is the class right of the verdicts counted, without a reference (or a stated fill) and with one.
type worth struct{ right, of [2]int }

// Two verdicts right of three stand for what was not counted: common practice, no source.
const (
	worthRight = 2.0
	worthOf    = 3.0
)

var worths = map[string]worth{}

// trust is the most that is said of a verdict that a kind, or clean, leads.
func trust(kind string, beside bool) float64 {
	side := 0
	if beside {
		side = 1
	}
	w := worths[kind]
	return (float64(w.right[side]) + worthRight) / (float64(w.of[side]) + worthOf)
}

// state turns the verdict's probabilities into those that are stated; the weighed ones stay beside them.
func (v *Verdict) state(beside bool) {
	for i := range v.Faults {
		f := &v.Faults[i]
		f.Weighed = f.Probability
		f.Probability = min(f.Probability, trust(f.Kind, beside))
	}
	if v.Confidence == nil {
		return
	}
	weighed, kind := *v.Confidence, string(Clean)
	if v.Class != Clean && len(v.Faults) > 0 {
		kind = v.Faults[0].Kind
	}
	now := min(weighed, trust(kind, beside))
	v.Weighed, v.Confidence = &weighed, &now
}
