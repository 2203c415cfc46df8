package judge

import (
	"cmp"
	"maps"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
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

// worths were measured by cmd/accuracy on 3,200 simulated captures that nobody had looked at, of all displays and kinds alike, faint faults and pairs
// too (seeds 9,000,000, 2,000 of an earlier state, of which a fill was taken for even and all else for varied, and 9,200,000), and on 160 of two other
// hands (testdata/second from 43000, testdata/third from 7001). Of every nine simulated screens four are fills that nobody states, where FillScreen has one in
// twenty: the 75 of these that were taken for a blank picture count as eight or nine.
var worths = map[string]worth{
	"address-line-stuck":  {right: [2][2]int{{1, 0}, {18, 20}}, of: [2][2]int{{2, 2}, {19, 23}}},
	"blank-picture":       {right: [2][2]int{{26, 22}, {14, 6}}, of: [2][2]int{{35, 27}, {18, 6}}},
	"border-latch":        {right: [2][2]int{{0, 8}, {0, 15}}, of: [2][2]int{{0, 9}, {0, 19}}},
	"cell-fetch":          {right: [2][2]int{{4, 0}, {29, 14}}, of: [2][2]int{{18, 4}, {38, 18}}},
	"cell-snow":           {right: [2][2]int{{15, 0}, {35, 18}}, of: [2][2]int{{18, 1}, {35, 19}}},
	"character-generator": {right: [2][2]int{{1, 1}, {5, 2}}, of: [2][2]int{{1, 1}, {6, 3}}},
	"clipping":            {right: [2][2]int{{1, 0}, {9, 2}}, of: [2][2]int{{2, 0}, {10, 3}}},
	"colour-lost":         {right: [2][2]int{{3, 5}, {16, 8}}, of: [2][2]int{{3, 5}, {16, 8}}},
	"colour-path":         {right: [2][2]int{{4, 9}, {13, 13}}, of: [2][2]int{{5, 10}, {13, 14}}},
	"column-dead":         {right: [2][2]int{{2, 1}, {17, 3}}, of: [2][2]int{{3, 3}, {17, 3}}},
	"data-bit-stuck":      {right: [2][2]int{{14, 15}, {57, 37}}, of: [2][2]int{{25, 22}, {64, 49}}},
	"data-bit-weak":       {right: [2][2]int{{12, 5}, {46, 34}}, of: [2][2]int{{18, 10}, {56, 41}}},
	"fixed-bars":          {right: [2][2]int{{20, 12}, {49, 11}}, of: [2][2]int{{23, 13}, {59, 12}}},
	"flash-dead":          {right: [2][2]int{{0, 0}, {0, 3}}, of: [2][2]int{{0, 0}, {0, 3}}},
	"ghost":               {right: [2][2]int{{17, 12}, {28, 11}}, of: [2][2]int{{30, 13}, {38, 11}}},
	"hue-shift":           {right: [2][2]int{{1, 4}, {8, 6}}, of: [2][2]int{{2, 4}, {8, 6}}},
	"hum":                 {right: [2][2]int{{24, 9}, {29, 11}}, of: [2][2]int{{30, 10}, {35, 11}}},
	"interference":        {right: [2][2]int{{28, 10}, {39, 15}}, of: [2][2]int{{30, 10}, {48, 16}}},
	"level-high":          {right: [2][2]int{{3, 9}, {16, 7}}, of: [2][2]int{{4, 9}, {16, 8}}},
	"level-low":           {right: [2][2]int{{11, 15}, {24, 16}}, of: [2][2]int{{15, 19}, {30, 19}}},
	"line-counter":        {right: [2][2]int{{0, 1}, {50, 17}}, of: [2][2]int{{4, 2}, {52, 18}}},
	"low-bandwidth":       {right: [2][2]int{{17, 5}, {32, 12}}, of: [2][2]int{{18, 5}, {36, 14}}},
	"no-signal":           {right: [2][2]int{{31, 19}, {16, 9}}, of: [2][2]int{{32, 20}, {17, 9}}},
	"noise":               {right: [2][2]int{{35, 25}, {39, 10}}, of: [2][2]int{{41, 27}, {47, 13}}},
	"power-up-pattern":    {right: [2][2]int{{15, 5}, {44, 20}}, of: [2][2]int{{16, 6}, {44, 20}}},
	"refresh-loss":        {right: [2][2]int{{14, 3}, {32, 17}}, of: [2][2]int{{15, 3}, {35, 20}}},
	"ringing":             {right: [2][2]int{{11, 5}, {22, 8}}, of: [2][2]int{{18, 9}, {29, 9}}},
	"row-dead":            {right: [2][2]int{{8, 2}, {19, 16}}, of: [2][2]int{{8, 2}, {19, 16}}},
	"shift-register":      {right: [2][2]int{{0, 1}, {9, 8}}, of: [2][2]int{{1, 1}, {13, 12}}},
	"supply-or-all-lanes": {right: [2][2]int{{15, 6}, {35, 20}}, of: [2][2]int{{18, 7}, {38, 20}}},
	"sync-weak":           {right: [2][2]int{{25, 5}, {26, 11}}, of: [2][2]int{{33, 6}, {31, 13}}},
}

// cleanSaid is how often the same captures were called clean, of even and of varied screens, without a reference and with one: of those that show
// nothing wrong, and of the others.
var cleanSaid = struct{ good, ofGood, bad, ofBad [2][2]float64 }{
	good: [2][2]float64{{189, 98}, {241, 121}}, ofGood: [2][2]float64{{285, 115}, {259, 124}},
	bad: [2][2]float64{{119, 20}, {163, 33}}, ofBad: [2][2]float64{{678, 305}, {1085, 509}},
}

// cleanWorth is the predictive value of clean where as many captures are of good machines as GoodShown has it; of those measured, two of ten were.
func cleanWorth(varied, side int) float64 {
	good := patterns.GoodShown * cleanSaid.good[varied][side] / cleanSaid.ofGood[varied][side]
	bad := (1 - patterns.GoodShown) * cleanSaid.bad[varied][side] / cleanSaid.ofBad[varied][side]
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
	if kind == string(patterns.Clean) {
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
	return max(patterns.LeastClass, (float64(w.right[screen][side])+worthPooled*right/of)/(float64(w.of[screen][side])+worthPooled))
}

// state turns the verdict's probabilities into those that are stated; the weighed ones stay beside them.
func state(v *patterns.Verdict, varied, beside bool) {
	for i := range v.Faults {
		f := &v.Faults[i]
		f.Weighed = f.Probability
		f.Probability = min(f.Probability, trust(f.Kind, varied, beside))
	}
	if v.Confidence == nil {
		return
	}
	weighed, kind := *v.Confidence, string(patterns.Clean)
	if v.Class != patterns.Clean && len(v.Faults) > 0 {
		kind = v.Faults[0].Kind
	}
	now := min(weighed, trust(kind, varied, beside))
	v.Weighed, v.Confidence = &weighed, &now
}
