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

// worths were measured by cmd/accuracy ("class right where said first") on 1,200 simulated captures that nobody had looked at, of all
// displays and kinds alike, faint faults and pairs too (seeds 5,300,000 and 5,350,000 and 7,600,000 with earlier states, 8,400,000), and on 180 of
// two other hands (testdata/second from 42000, testdata/third from 5001).
var worths = map[string]worth{
	"address-line-stuck":  {right: [2]int{13, 14}, of: [2]int{14, 20}},
	"blank-picture":       {right: [2]int{12, 18}, of: [2]int{40, 20}},
	"border-latch":        {right: [2]int{0, 9}, of: [2]int{0, 10}},
	"cell-fetch":          {right: [2]int{12, 8}, of: [2]int{19, 9}},
	"cell-snow":           {right: [2]int{19, 10}, of: [2]int{20, 10}},
	"character-generator": {right: [2]int{2, 2}, of: [2]int{2, 3}},
	"clipping":            {right: [2]int{5, 1}, of: [2]int{5, 1}},
	"colour-lost":         {right: [2]int{6, 10}, of: [2]int{7, 10}},
	"colour-path":         {right: [2]int{11, 12}, of: [2]int{12, 15}},
	"column-dead":         {right: [2]int{7, 8}, of: [2]int{7, 8}},
	"data-bit-stuck":      {right: [2]int{24, 27}, of: [2]int{31, 39}},
	"data-bit-weak":       {right: [2]int{27, 21}, of: [2]int{35, 27}},
	"fixed-bars":          {right: [2]int{22, 12}, of: [2]int{24, 13}},
	"ghost":               {right: [2]int{19, 12}, of: [2]int{25, 13}},
	"hue-shift":           {right: [2]int{3, 7}, of: [2]int{3, 8}},
	"hum":                 {right: [2]int{24, 12}, of: [2]int{28, 12}},
	"interference":        {right: [2]int{23, 19}, of: [2]int{27, 23}},
	"level-high":          {right: [2]int{5, 9}, of: [2]int{5, 9}},
	"level-low":           {right: [2]int{10, 15}, of: [2]int{14, 16}},
	"line-counter":        {right: [2]int{14, 15}, of: [2]int{16, 17}},
	"low-bandwidth":       {right: [2]int{12, 7}, of: [2]int{16, 8}},
	"no-signal":           {right: [2]int{17, 14}, of: [2]int{17, 15}},
	"noise":               {right: [2]int{28, 12}, of: [2]int{34, 12}},
	"power-up-pattern":    {right: [2]int{25, 19}, of: [2]int{25, 19}},
	"refresh-loss":        {right: [2]int{11, 6}, of: [2]int{13, 6}},
	"ringing":             {right: [2]int{6, 11}, of: [2]int{11, 11}},
	"row-dead":            {right: [2]int{13, 7}, of: [2]int{14, 7}},
	"shift-register":      {right: [2]int{5, 4}, of: [2]int{7, 6}},
	"supply-or-all-lanes": {right: [2]int{15, 10}, of: [2]int{20, 12}},
	"sync-weak":           {right: [2]int{19, 12}, of: [2]int{21, 14}},
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
