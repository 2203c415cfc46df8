package patterns

// A likelihood holds as far as its model does, and what nobody thought of is in none. So what a verdict states is no more than
// verdicts like it have been worth: of those whose first fault was of a kind, the part whose class was right. That is a predictive
// value, and as any other it goes with how common each fault is among those measured.

// worth is the class right of the verdicts counted, without a reference (or a stated fill) and with one.
type worth struct{ right, of [2]int }

// Two verdicts right of three stand for what was not counted: common practice, no source.
const (
	worthRight = 2.0
	worthOf    = 3.0
)

// worths were measured by cmd/accuracy ("class right where said first") on 900 simulated captures that nobody had looked at, of all
// displays and kinds alike, faint faults and pairs too (seeds 5,300,000 and 5,350,000 with an earlier state, 7,600,000).
var worths = map[string]worth{
	"address-line-stuck":  {right: [2]int{9, 7}, of: [2]int{10, 12}},
	"blank-picture":       {right: [2]int{5, 11}, of: [2]int{25, 12}},
	"border-latch":        {right: [2]int{0, 3}, of: [2]int{0, 4}},
	"cell-fetch":          {right: [2]int{7, 4}, of: [2]int{11, 5}},
	"cell-snow":           {right: [2]int{13, 7}, of: [2]int{13, 7}},
	"character-generator": {right: [2]int{0, 1}, of: [2]int{0, 2}},
	"clipping":            {right: [2]int{3, 1}, of: [2]int{3, 1}},
	"colour-lost":         {right: [2]int{4, 6}, of: [2]int{4, 6}},
	"colour-path":         {right: [2]int{7, 10}, of: [2]int{8, 13}},
	"column-dead":         {right: [2]int{5, 4}, of: [2]int{5, 4}},
	"data-bit-stuck":      {right: [2]int{21, 21}, of: [2]int{24, 31}},
	"data-bit-weak":       {right: [2]int{15, 13}, of: [2]int{21, 16}},
	"fixed-bars":          {right: [2]int{19, 9}, of: [2]int{21, 10}},
	"ghost":               {right: [2]int{14, 8}, of: [2]int{18, 9}},
	"hue-shift":           {right: [2]int{1, 3}, of: [2]int{1, 3}},
	"hum":                 {right: [2]int{17, 7}, of: [2]int{20, 7}},
	"interference":        {right: [2]int{12, 16}, of: [2]int{16, 19}},
	"level-high":          {right: [2]int{4, 3}, of: [2]int{4, 3}},
	"level-low":           {right: [2]int{8, 11}, of: [2]int{11, 11}},
	"line-counter":        {right: [2]int{10, 10}, of: [2]int{12, 11}},
	"low-bandwidth":       {right: [2]int{9, 4}, of: [2]int{12, 4}},
	"no-signal":           {right: [2]int{12, 10}, of: [2]int{12, 11}},
	"noise":               {right: [2]int{20, 8}, of: [2]int{25, 8}},
	"power-up-pattern":    {right: [2]int{17, 13}, of: [2]int{17, 13}},
	"refresh-loss":        {right: [2]int{3, 4}, of: [2]int{4, 4}},
	"ringing":             {right: [2]int{5, 7}, of: [2]int{8, 7}},
	"row-dead":            {right: [2]int{11, 2}, of: [2]int{12, 2}},
	"shift-register":      {right: [2]int{3, 2}, of: [2]int{5, 3}},
	"supply-or-all-lanes": {right: [2]int{8, 7}, of: [2]int{11, 8}},
	"sync-weak":           {right: [2]int{7, 11}, of: [2]int{8, 13}},
}

// cleanSaid is how often the same captures were called clean, without a reference and with one: of those that show nothing wrong, and
// of the others. How many of the first 115 that show nothing had a reference was not counted; four in ten of all have one.
var cleanSaid = struct{ good, ofGood, bad, ofBad [2]float64 }{
	good: [2]float64{86, 57}, ofGood: [2]float64{106, 70},
	bad: [2]float64{64, 23}, ofBad: [2]float64{433, 291},
}

// cleanWorth is the predictive value of clean where as many machines are good as cleanPrior has it; among the captures, two of ten are.
func cleanWorth(side int) float64 {
	good := cleanPrior * cleanSaid.good[side] / cleanSaid.ofGood[side]
	bad := (1 - cleanPrior) * cleanSaid.bad[side] / cleanSaid.ofBad[side]
	return good / (good + bad)
}

// trust is the most that is said of a verdict that a kind, or clean, leads; no less than what a class is named from.
func trust(kind string, beside bool) float64 {
	side := 0
	if beside {
		side = 1
	}
	if kind == string(Clean) {
		return cleanWorth(side)
	}
	w := worths[kind]
	return max(leastClass, (float64(w.right[side])+worthRight)/(float64(w.of[side])+worthOf))
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
