package patterns

import (
	"cmp"
	"maps"
	"slices"

	"backporch/analyse"
)

// A likelihood holds as far as its model does, and what nobody thought of is in none. So what a verdict states is no more than
// verdicts like it have been worth: of those whose first fault was of a kind, the part whose class was right. That is a predictive
// value, and as any other it goes with how common each fault is among those measured.

// worth is the class right of the verdicts counted: of screens that are even, and of varied ones (Varied); without a reference (or a stated fill), and with one.
type worth struct{ right, of [2][2]int }

// Two verdicts right of three stand for a kind that was not counted, and what all of a kind are worth for four of it that were not. Common practice, no
// source.
const (
	worthRight  = 2.0
	worthOf     = 3.0
	worthPooled = 4.0
)

// worths were measured by cmd/accuracy ("class right where said first") on 1,200 simulated captures that nobody had looked at, of all
// displays and kinds alike, faint faults and pairs too (seeds 5,300,000 and 5,350,000 and 7,600,000 with earlier states, 8,400,000), and on 180 of
// two other hands (testdata/second from 42000, testdata/third from 5001).
var worths = map[string]worth{
	"address-line-stuck":  {right: [2][2]int{{1, 0}, {13, 12}}, of: [2][2]int{{2, 1}, {13, 13}}},
	"blank-picture":       {right: [2][2]int{{17, 5}, {13, 3}}, of: [2][2]int{{74, 5}, {17, 3}}},
	"border-latch":        {right: [2][2]int{{0, 5}, {0, 7}}, of: [2][2]int{{0, 6}, {0, 9}}},
	"cell-fetch":          {right: [2][2]int{{1, 0}, {17, 5}}, of: [2][2]int{{9, 3}, {20, 7}}},
	"cell-snow":           {right: [2][2]int{{12, 0}, {24, 7}}, of: [2][2]int{{15, 0}, {24, 8}}},
	"character-generator": {right: [2][2]int{{1, 0}, {3, 0}}, of: [2][2]int{{1, 0}, {4, 1}}},
	"clipping":            {right: [2][2]int{{1, 0}, {6, 2}}, of: [2][2]int{{1, 0}, {7, 2}}},
	"colour-lost":         {right: [2][2]int{{1, 2}, {11, 3}}, of: [2][2]int{{1, 2}, {11, 3}}},
	"colour-path":         {right: [2][2]int{{1, 5}, {8, 8}}, of: [2][2]int{{2, 6}, {8, 9}}},
	"column-dead":         {right: [2][2]int{{1, 0}, {11, 0}}, of: [2][2]int{{2, 1}, {11, 0}}},
	"data-bit-stuck":      {right: [2][2]int{{12, 7}, {36, 19}}, of: [2][2]int{{20, 11}, {38, 21}}},
	"data-bit-weak":       {right: [2][2]int{{12, 2}, {28, 17}}, of: [2][2]int{{15, 4}, {34, 21}}},
	"fixed-bars":          {right: [2][2]int{{16, 10}, {41, 5}}, of: [2][2]int{{16, 10}, {50, 6}}},
	"ghost":               {right: [2][2]int{{11, 6}, {15, 5}}, of: [2][2]int{{20, 7}, {24, 5}}},
	"hue-shift":           {right: [2][2]int{{0, 0}, {4, 2}}, of: [2][2]int{{1, 0}, {4, 2}}},
	"hum":                 {right: [2][2]int{{15, 7}, {21, 5}}, of: [2][2]int{{18, 8}, {26, 5}}},
	"interference":        {right: [2][2]int{{23, 5}, {28, 8}}, of: [2][2]int{{24, 5}, {35, 9}}},
	"level-high":          {right: [2][2]int{{2, 4}, {9, 2}}, of: [2][2]int{{3, 4}, {9, 2}}},
	"level-low":           {right: [2][2]int{{7, 8}, {13, 4}}, of: [2][2]int{{9, 10}, {17, 7}}},
	"line-counter":        {right: [2][2]int{{0, 0}, {19, 8}}, of: [2][2]int{{3, 0}, {21, 8}}},
	"low-bandwidth":       {right: [2][2]int{{11, 4}, {17, 7}}, of: [2][2]int{{12, 4}, {18, 8}}},
	"no-signal":           {right: [2][2]int{{17, 7}, {14, 9}}, of: [2][2]int{{18, 7}, {15, 9}}},
	"noise":               {right: [2][2]int{{25, 19}, {30, 7}}, of: [2][2]int{{31, 21}, {36, 10}}},
	"power-up-pattern":    {right: [2][2]int{{15, 4}, {19, 5}}, of: [2][2]int{{15, 4}, {19, 5}}},
	"refresh-loss":        {right: [2][2]int{{12, 3}, {23, 2}}, of: [2][2]int{{12, 3}, {25, 4}}},
	"ringing":             {right: [2][2]int{{8, 3}, {11, 2}}, of: [2][2]int{{13, 5}, {14, 2}}},
	"row-dead":            {right: [2][2]int{{4, 1}, {12, 5}}, of: [2][2]int{{4, 1}, {12, 5}}},
	"shift-register":      {right: [2][2]int{{0, 0}, {6, 5}}, of: [2][2]int{{0, 0}, {8, 5}}},
	"supply-or-all-lanes": {right: [2][2]int{{13, 2}, {22, 10}}, of: [2][2]int{{16, 2}, {24, 10}}},
	"sync-weak":           {right: [2][2]int{{17, 1}, {18, 3}}, of: [2][2]int{{25, 2}, {18, 3}}},
}

// cleanSaid is how often the same captures were called clean, without a reference and with one: of those that show nothing wrong, and
// of the others. How many of the first 115 that show nothing had a reference was not counted; four in ten of all have one.
var cleanSaid = struct{ good, ofGood, bad, ofBad [2][2]float64 }{
	good: [2][2]float64{{122, 53}, {146, 59}}, ofGood: [2][2]float64{{188, 61}, {157, 60}},
	bad: [2][2]float64{{81, 8}, {99, 19}}, ofBad: [2][2]float64{{466, 151}, {690, 227}},
}

// cleanWorth is the predictive value of clean where as many machines are good as cleanPrior has it; among the captures, two of ten are.
func cleanWorth(varied, side int) float64 {
	good := cleanPrior * cleanSaid.good[varied][side] / cleanSaid.ofGood[varied][side]
	bad := (1 - cleanPrior) * cleanSaid.bad[varied][side] / cleanSaid.ofBad[varied][side]
	return good / (good + bad)
}

// Varied tells whether different things stand on a screen: patterns of both colours of which no two are one but for a line or two that
// were misread, or with ink and paper changed round. On an even one, as a memory test leaves it, less can be told.
func Varied(s *analyse.Survey) bool {
	count := map[[8]uint8]int{}
	for i := range s.Cells {
		if !s.Cells[i].Single {
			count[s.Cells[i].Bits]++
		}
	}
	// The commonest first, for it is hardly misread.
	looks := slices.SortedFunc(maps.Keys(count), func(a, b [8]uint8) int {
		return cmp.Or(count[b]-count[a], slices.Compare(a[:], b[:]))
	})
	var sorts [][8]uint8
next:
	for _, rows := range looks {
		var turned [8]uint8
		for y, b := range rows {
			turned[y] = ^b
		}
		for _, known := range sorts {
			if nearly(rows, known) || nearly(turned, known) {
				continue next
			}
		}
		if sorts = append(sorts, rows); len(sorts) >= leastSorts {
			return true
		}
	}
	return false
}

// leastSorts is how many such patterns a varied screen has. Common practice, no source.
const leastSorts = 6

// trust is the most that is said of a verdict that a kind, or clean, leads; no less than what a class is named from.
func trust(kind string, varied, beside bool) float64 {
	screen, side := truth(varied), truth(beside)
	if kind == string(Clean) {
		return cleanWorth(screen, side)
	}
	w := worths[kind]
	right, of := worthRight, worthOf
	for i := range 2 {
		for k := range 2 {
			right += float64(w.right[i][k])
			of += float64(w.of[i][k])
		}
	}
	return max(leastClass, (float64(w.right[screen][side])+worthPooled*right/of)/(float64(w.of[screen][side])+worthPooled))
}

// state turns the verdict's probabilities into those that are stated; the weighed ones stay beside them.
func (v *Verdict) state(varied, beside bool) {
	for i := range v.Faults {
		f := &v.Faults[i]
		f.Weighed = f.Probability
		f.Probability = min(f.Probability, trust(f.Kind, varied, beside))
	}
	if v.Confidence == nil {
		return
	}
	weighed, kind := *v.Confidence, string(Clean)
	if v.Class != Clean && len(v.Faults) > 0 {
		kind = v.Faults[0].Kind
	}
	now := min(weighed, trust(kind, varied, beside))
	v.Weighed, v.Confidence = &weighed, &now
}
