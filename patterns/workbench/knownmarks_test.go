package workbench

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"backporch/analyse/rate"
	"backporch/patterns"
)

// watched is so many bad fields, evenly spread, in so many seconds.
func watched(bad int, seconds float64) rate.Watch {
	whole := int(seconds)
	return rate.Watch{Fields: 50 * whole, Bad: bad, Seconds: seconds, Errored: min(bad, whole), WholeSeconds: whole}
}

func testBoard() *Board {
	return &Board{
		Bits:       [8]string{"U10", "U11", "U12", "U13", "U14", "U15", "U16", "U16"},
		ColourBits: [4]string{"U20", "U20", "U20", "U20"}, VideoLogic: "U1", Multiplexer: "IC3",
	}
}

func TestReadMark(t *testing.T) {
	for _, tt := range []struct {
		mark, test string
		at         places
		wrong      string
	}{
		{mark: "cooled U14", test: "cool the chip", at: 1 << 4},
		{mark: "Cold spray on u14, 3 s", test: "cool the chip", at: 1 << 4},
		{mark: "warmed bit 3", test: "cool the chip", at: 1 << 3},
		{mark: "froze U10 and U11", test: "cool the chip", at: 1<<0 | 1<<1},
		{mark: "cooling U16", test: "cool the chip", at: 1<<6 | 1<<7}, // one chip of two bits
		{mark: "heated U20", test: "cool the chip", at: colourMemory},
		{mark: "cooled the video logic", test: "cool the video logic"},
		{mark: "cooled U1", test: "cool the video logic"},
		{mark: "sprayed IC3", test: "cool the multiplexer"},
		{mark: "warmed the output stage", test: "cool the output stage"},
		{mark: "pressed U12.", test: "press the chip", at: 1 << 2},
		{mark: "flexed by the connector", test: "flex and tap"},
		{mark: "tapped along the edge", test: "flex and tap"},
		{mark: "wiggled the processor", test: "press the processor"},
		{mark: "reseated U14", test: "reseat the chip", at: 1 << 4},
		{mark: "re-seated the generator", test: "reseat the generator"},
		{mark: "cooled U99", wrong: "no board map says what U99 is"},
		{mark: "cooled everything", wrong: "it names no part"},
		{mark: "cooled and pressed U14", wrong: "more than one thing"},
		{mark: "cooled U14 and U1", wrong: "parts of more than one kind"},
		{mark: "reseated IC3", wrong: "nothing is known of doing that to the multiplexer"},
		{mark: "switched the lamp off", wrong: "it tells of no cooling"},
		{mark: "", wrong: "it tells of no cooling"},
	} {
		o, err := readMark(tt.mark, testBoard())
		switch {
		case tt.wrong != "":
			if err == nil || !strings.Contains(err.Error(), tt.wrong) {
				t.Errorf("%q: %v, want %q", tt.mark, err, tt.wrong)
			}
		case err != nil || o.test.Name != tt.test || o.at != tt.at:
			t.Errorf("%q: %+v, %v", tt.mark, o, err)
		}
	}
	if _, err := readMark("cooled U14", nil); err == nil {
		t.Error("U14 was understood without a board map")
	}
}

// Each hand's tests: two outcomes, the second that something changed, and each part once.
func TestHands(t *testing.T) {
	seen := map[string]bool{}
	for i := range tests {
		test := &tests[i]
		if test.Hand == "" {
			continue
		}
		key := string(test.Hand) + test.At
		if test.Lane {
			key += "lane"
		}
		if seen[key] || len(test.Outcomes) != 2 || !strings.Contains(test.Outcomes[0].Known, "same") && test.Hand != reseats {
			t.Errorf("%s: %+v", test.Name, test.Outcomes)
		}
		seen[key] = true
	}
}

// The probability of the counts against gonum's binomial, and its Gauss-Hermite quadrature over the ratio.
func TestStimulusLikelihoods(t *testing.T) {
	for _, tt := range []struct {
		before, after int
		first, second float64
	}{{3, 1, 60, 60}, {0, 4, 60, 30}, {12, 11, 40, 60}, {20, 2, 60, 60}, {5, 0, 10, 100}} {
		s := Stimulus{"", watched(tt.before, tt.first), watched(tt.after, tt.second)}
		got, err := s.likelihoods()
		if err != nil {
			t.Fatal(err)
		}
		n := float64(tt.before + tt.after)
		at := func(logRatio float64) float64 {
			after := tt.second * math.Exp(logRatio)
			return distuv.Binomial{N: n, P: after / (tt.first + after)}.Prob(float64(tt.after))
		}
		changed := quad.Fixed(func(x float64) float64 { return at(math.Sqrt2 * stirred * x) },
			math.Inf(-1), math.Inf(1), 200, quad.Hermite{}, 0) / math.Sqrt(math.Pi)
		want := ((1-wanders)*at(0) + wanders*changed) / changed
		if ratio := got[0] / got[1]; math.Abs(ratio/want-1) > 0.01 {
			t.Errorf("%+v: same over changed %v, want %v", tt, ratio, want)
		}
	}
	// However many fields speak for a change, it may have come by itself; and none is no evidence.
	s := Stimulus{"", watched(2000, 600), watched(1, 600)}
	if got, err := s.likelihoods(); err != nil || math.Abs(got[0]/got[1]-wanders) > 1e-6 {
		t.Errorf("a great change: %v, %v", got, err)
	}
	for _, s := range []Stimulus{{"", watched(0, 60), watched(0, 60)}, {"", watched(3, 0), watched(3, 60)}, {"", watched(0, 60), rate.Watch{}}} {
		if got, err := s.likelihoods(); err == nil {
			t.Errorf("%+v: %v", s, got)
		}
	}
}

// A lane that comes and goes and minds the cooling of its chip is that chip's: against another lane, a lasting short, and
// its own socket. By hand: the likelihoods of the counts over the bench table.
func TestMarksMoveFaults(t *testing.T) {
	cooled := Stimulus{"cooled U14", watched(90, 60), watched(2, 60)}
	facts, left := MarkFacts([]Stimulus{cooled}, testBoard(), nil)
	if len(facts) != 1 || len(left) != 0 {
		t.Fatalf("%+v, %q", facts, left)
	}
	weak := func(bit int) *patterns.Fault {
		return &patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-weak", Bit: &bit}
	}
	weigh := func(facts []Fact, a, b *patterns.Fault) float64 {
		logic := []patterns.Hypothesis{{Like: .5, Fault: a}, {Like: .5, Fault: b}}
		Desk{Profile: profile(t, "attr-256x192-50"), Known: facts}.Weigh(logic, nil, nil)
		return logic[0].Like
	}
	like := func(changed float64) float64 {
		return floats.Dot([]float64{1 - changed, changed}, facts[0].saw[0].like)
	}
	here := .55*like(.6) + .18*like(.15) + .27*like(.04)
	if got, want := weigh(facts, weak(4), weak(3)), here/(here+like(.04)); math.Abs(got-want) > 1e-9 || got < .75 {
		t.Errorf("the lane that was cooled at %v, want %v", got, want)
	}
	if got := weigh(facts, weak(4), stuckLane(4)); got < .6 {
		t.Errorf("a weak lane beside a stuck one: %v", got)
	}
	if got := weigh(facts, weak(4), nil); got < .75 {
		t.Errorf("against nothing wrong: %v", got)
	}
	same, _ := MarkFacts([]Stimulus{{"cooled U14", watched(60, 60), watched(61, 60)}}, testBoard(), nil)
	if got := weigh(same, weak(4), weak(3)); got > .42 {
		t.Errorf("cooling it does nothing: %v", got)
	}
	few, _ := MarkFacts([]Stimulus{{"cooled U14", watched(1, 60), watched(1, 60)}}, testBoard(), nil)
	if got := weigh(few, weak(4), weak(3)); math.Abs(got-.5) > .1 {
		t.Errorf("two bad fields in all: %v", got)
	}
}

// What was marked is said with its counts, and what it did to the causes.
func TestMarksAreExplained(t *testing.T) {
	board := testBoard()
	list := []Stimulus{
		{"pressed U14", watched(40, 60), watched(3, 60)},
		{"let go of the lamp", watched(3, 60), watched(3, 60)},
		{"cooled U10", watched(3, 60), watched(44, 60)},
	}
	facts, left := MarkFacts(list, board, nil)
	if len(facts) != 2 || len(left) != 1 || !strings.Contains(left[0], "'let go of the lamp' is left out") {
		t.Fatalf("%+v, %q", facts, left)
	}
	why := func(f *patterns.Fault) string {
		d := Desk{Profile: profile(t, "attr-256x192-50"), Known: facts, Board: board}
		return strings.Join(d.Why(f), "\n")
	}
	got := why(&patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-weak", Bit: new(4)})
	for _, said := range []string{
		"mark 'pressed U14' (bad fields: 40 in 60 s before it, 3 in 60 s after): what changes with pressure at one part comes and goes",
		"to the chip's socket or joint (18 to ", "mark 'cooled U10' (bad fields: 3 in 60 s before it, 44 in 60 s after): this points at another part",
	} {
		if !strings.Contains(got, said) {
			t.Errorf("no %q in\n%s", said, got)
		}
	}
	if got := why(nil); strings.Count(got, "something comes and goes") != 2 {
		t.Errorf("of a picture that shows nothing: %s", got)
	}
}

// The same done twice is asked once; what was stated goes before what was counted.
func TestMarksTakenTogether(t *testing.T) {
	twice := []Stimulus{{"cooled U14", watched(9, 60), watched(3, 60)}, {"sprayed U14", watched(10, 60), watched(3, 60)}}
	facts, left := MarkFacts(twice, testBoard(), nil)
	one, _ := MarkFacts(twice[:1], testBoard(), nil)
	if len(facts) != 1 || len(left) != 0 || strings.Count(facts[0].Text, "mark '") != 2 {
		t.Fatalf("%+v, %q", facts, left)
	}
	if a, b := facts[0].saw[0].like, one[0].saw[0].like; slices.Max(a) != 1 || a[0] >= b[0] || math.Abs(a[0]/(b[0]*b[0])-1) > .5 {
		t.Errorf("twice %v, once %v", a, b)
	}
	stated, err := ParseFacts([]string{"cooled=same:U14"}, testBoard())
	if err != nil || stated[0].saw[0].at != 1<<4 {
		t.Fatalf("%+v, %v", stated, err)
	}
	if facts, left := MarkFacts(twice, testBoard(), stated); len(facts) != 0 || len(left) != 2 {
		t.Errorf("stated already: %+v, %q", facts, left)
	}
	for text, test := range map[string]string{"cooled=changed:U1": "cool the video logic", "cooled=changed:ic3": "cool the multiplexer", "pressed=changed:U10,U11": "press the chip"} {
		if f, err := ParseFacts([]string{text}, testBoard()); err != nil || f[0].saw[0].test.Name != test {
			t.Errorf("%s: %+v, %v", text, f, err)
		}
	}
	if _, err := ParseFacts([]string{"cooled=changed:U14"}, nil); err == nil || !strings.Contains(err.Error(), "designator of the board map") {
		t.Errorf("a designator without a map: %v", err)
	}
}

// A part takes its time to cool: that nothing has changed yet says nothing, that something has does.
func TestCoolingTakesTime(t *testing.T) {
	for _, tt := range []struct {
		mark    string
		after   rate.Watch
		counted bool
	}{
		{"cooled U14", watched(11, 3), false}, {"cooled U14", watched(44, 12), true}, {"cooled U14", watched(0, 8), true}, {"pressed U14", watched(11, 3), true},
	} {
		facts, left := MarkFacts([]Stimulus{{tt.mark, watched(40, 10), tt.after}}, testBoard(), nil)
		if got := len(facts) == 1; got != tt.counted || len(facts)+len(left) != 1 {
			t.Errorf("%s, %+v: %+v, %q", tt.mark, tt.after, facts, left)
		}
	}
}

// Whatever a mark says, it is read or left out in one line.
func FuzzReadMark(f *testing.F) {
	for _, mark := range []string{"cooled U14", "pressed bit 3", "reseated the video logic", "flexed", "U1-U2/cooled.", "bit"} {
		f.Add(mark)
	}
	f.Fuzz(func(t *testing.T, mark string) {
		facts, left := MarkFacts([]Stimulus{{mark, watched(9, 20), watched(1, 20)}}, testBoard(), nil)
		if len(facts)+len(left) != 1 {
			t.Errorf("%q: %+v, %q", mark, facts, left)
		}
		for _, fact := range facts {
			if p := fact.saw[0].probability(suspect{stuckLane(3), Chip, 1}, suspect{nil, Nothing, 1}); !(p > 0 && p <= 1) {
				t.Errorf("%q: probability %v", mark, p)
			}
		}
	})
}
