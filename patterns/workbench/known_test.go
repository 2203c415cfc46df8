package workbench

import (
	"math"
	"strings"
	"testing"

	"backporch/patterns"
)

func TestParseFacts(t *testing.T) {
	for _, tt := range []struct {
		text  string
		tests int // that it bears on
		at    places
		wrong string
	}{
		{text: "ram-test=pass", tests: 1},
		{text: "ram-test=fail", tests: 1},
		{text: "ram-test=fail:3", tests: 1, at: 1 << 3},
		{text: "ram-test=fail:0,3", tests: 1, at: 1<<0 | 1<<3},
		{text: "ram-test=fail:colour", tests: 1, at: colourMemory},
		{text: "swapped=video-logic", tests: 1},
		{text: "swapped=ram:3", tests: 1, at: 1 << 3},
		{text: "swapped=ram", tests: 1, at: screenLanes},
		{text: "swapped=colour-ram", tests: 1, at: colourMemory},
		{text: "socket=reseated", tests: 4, at: screenLanes | colourMemory},
		{text: "socket=reseated:3", tests: 1, at: 1 << 3},
		{text: "socket=reseated:video-logic", tests: 1},
		{text: "supply=good", tests: 1},
		{text: "cable=swapped", tests: 1},
		{text: "monitor=good", tests: 1},
		{text: "cooled=changed:video-logic", tests: 1},
		{text: "ramtest=pass", wrong: `there is no key "ramtest"; the keys are`},
		{text: "ram-test=maybe", wrong: "ram-test is one of pass, fail"},
		{text: "ram-test=fail:8", wrong: `"8" is no data bit`},
		{text: "ram-test=fail:", wrong: `"" is no data bit`},
		{text: "supply=good:3", wrong: "takes nothing after it"},
		{text: "socket=reseated:modulator", wrong: `"modulator" is no data bit`},
		{text: "supply", wrong: "is not KEY=VALUE"},
		{text: "=good", wrong: "is not KEY=VALUE"},
	} {
		facts, err := ParseFacts([]string{tt.text}, nil)
		if tt.wrong != "" {
			if err == nil || !strings.Contains(err.Error(), tt.wrong) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%s: %v, want %q", tt.text, err, tt.wrong)
			}
			continue
		}
		if err != nil || len(facts[0].saw) != tt.tests || facts[0].saw[0].at != tt.at {
			t.Errorf("%s: %+v, %v", tt.text, facts, err)
		}
	}
	if _, err := ParseFacts([]string{"ram-test=pass", "ram-test=fail:3"}, nil); err == nil || !strings.Contains(err.Error(), "memory test") {
		t.Errorf("both outcomes of one test: %v", err)
	}
	if facts, err := ParseFacts([]string{"touch=like:2", "touch=odd:3", "touch=odd:3"}, nil); err != nil || len(facts) != 2 {
		t.Errorf("two chips, one said twice: %v, %v", facts, err)
	}
}

// Every key that help lists is understood.
func TestKnownKeysAreUnderstood(t *testing.T) {
	for _, k := range KnownKeys() {
		text := strings.Replace(k.Text, "[:BITS]", ":1", 1)
		if _, err := ParseFacts([]string{text}, nil); err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if k.Help == "" {
			t.Errorf("%s: no help", k.Text)
		}
	}
}

// judge weighs two hypotheses of the logic, as probable as given, with facts.
func judge(t *testing.T, facts string, list ...patterns.Hypothesis) []patterns.Hypothesis {
	t.Helper()
	known, err := ParseFacts(strings.Fields(facts), nil)
	if err != nil {
		t.Fatal(err)
	}
	Desk{Profile: profile(t, "attr-256x192-50"), Known: known}.Weigh(list, nil, nil)
	return list
}

func stuckLane(bit int) *patterns.Fault {
	return &patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: &bit, Level: new(1)}
}

// What is known moves the posterior by its likelihood ratio, by hand: Bayes' theorem.
func TestKnownMovesFaults(t *testing.T) {
	fetch := &patterns.Fault{Class: patterns.VideoLogic, Kind: "cell-fetch", Columns: "odd"}
	even := func(a, b *patterns.Fault) []patterns.Hypothesis {
		return []patterns.Hypothesis{{Like: .5, Fault: a}, {Like: .5, Fault: b}}
	}
	// A fetch's fault leaves the memory test alone: it passes at 0.97. A stuck lane's passes by its cause.
	pass := .58*.05 + .12*.12 + (.10+.10)*.55 + (.05+.03)*.97 + .02*.6
	got := judge(t, "ram-test=pass", even(stuckLane(3), fetch)...)
	if want := pass / (pass + .97); math.Abs(got[0].Like-want) > 1e-12 {
		t.Errorf("a test that passes: the lane at %v, want %v", got[0].Like, want)
	}
	if got := judge(t, "ram-test=fail:3", even(stuckLane(3), stuckLane(4))...); got[0].Like < .98 {
		t.Errorf("it fails at bit 3: bit 3 at %v", got[0].Like)
	}
	if got := judge(t, "ram-test=fail:3,4", even(stuckLane(3), stuckLane(4))...); math.Abs(got[0].Like-.5) > 1e-12 {
		t.Errorf("it fails at both: bit 3 at %v", got[0].Like)
	}
	if got := judge(t, "swapped=video-logic", even(stuckLane(3), fetch)...); got[0].Like < .65 {
		t.Errorf("another video-logic chip shows the same: the lane at %v", got[0].Like)
	}
	if got := judge(t, "swapped=ram:3", even(stuckLane(3), stuckLane(4))...); got[0].Like > .35 {
		t.Errorf("another chip at bit 3 shows the same: bit 3 at %v", got[0].Like)
	}
	if got := judge(t, "cable=swapped", even(stuckLane(3), fetch)...); math.Abs(got[0].Like-.5) > 1e-12 {
		t.Errorf("a cable says nothing of the logic: %v", got[0].Like)
	}
	if got := judge(t, "ram-test=fail:3", patterns.Hypothesis{Like: .99}, patterns.Hypothesis{Like: .01, Fault: stuckLane(3)}); got[1].Like < .5 {
		t.Errorf("a picture that shows little, and a test that fails at bit 3: %v", got[1].Like)
	}
}

// A supply that is off may be the logic's or the path's; what is known of one bears on the other.
func TestKnownOfBothLists(t *testing.T) {
	known, err := ParseFacts([]string{"supply=bad"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := Desk{Profile: profile(t, "attr-256x192-50"), Known: known}
	logic := []patterns.Hypothesis{{Like: .5}, {Like: .5, Fault: &patterns.Fault{Class: patterns.RAMBit, Kind: "supply-or-all-lanes"}}}
	paths := []patterns.Hypothesis{{Like: .5}, {Like: .5, Fault: &patterns.Fault{Class: patterns.Signal, Kind: "hum"}}}
	d.Weigh(logic, paths, nil)
	alone := []patterns.Hypothesis{{Like: .5}, {Like: .5, Fault: &patterns.Fault{Class: patterns.Signal, Kind: "hum"}}}
	d.Weigh(nil, alone, nil)
	if logic[1].Like < .6 || paths[1].Like < .55 {
		t.Errorf("a rail is off: %v, %v", logic[1].Like, paths[1].Like)
	}
	if paths[1].Like >= alone[1].Like {
		t.Errorf("hum at %v where the memory may explain the rail, at %v where nothing else does", paths[1].Like, alone[1].Like)
	}
}

// A memory test that passes moves a lane's weight from the chip to the video logic, its socket and its supply, and the
// verdict says so.
func TestPassingMemoryTestIsExplained(t *testing.T) {
	known, err := ParseFacts([]string{"ram-test=pass"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	part := func(facts []Fact, causes ...Cause) float64 {
		sum := 0.0
		for _, s := range causesGiven(stuckLane(3), facts) {
			for _, c := range causes {
				if s.cause == c {
					sum += s.part
				}
			}
		}
		return sum
	}
	if was, is := part(nil, VideoChip, VideoSocket, Rails), part(known, VideoChip, VideoSocket, Rails); is < 2*was {
		t.Errorf("video logic, socket and supply: %v, then %v", was, is)
	}
	if was, is := part(nil, Chip), part(known, Chip); is > was/3 {
		t.Errorf("the chip: %v, then %v", was, is)
	}
	d := Desk{Profile: profile(t, "attr-256x192-50"), Known: known}
	if why := strings.Join(d.Why(stuckLane(3)), "\n"); !strings.Contains(why, "known ram-test=pass") || !strings.Contains(why, "the video logic, its socket and its supply") || !strings.Contains(why, "memory chip (58 to ") {
		t.Errorf("why: %s", why)
	}
	if r := d.Rivals(stuckLane(3)); len(r) < 4 || r[0].Test != "" || r[1].Test == "" {
		t.Errorf("rivals: %+v", r)
	}
}

// What a user types is understood or refused in one line.
func FuzzParseFacts(f *testing.F) {
	for _, k := range KnownKeys() {
		f.Add(strings.Replace(k.Text, "[:BITS]", ":0,7", 1))
	}
	f.Add("ram-test=fail:,")
	f.Add("=:")
	f.Fuzz(func(t *testing.T, text string) {
		facts, err := ParseFacts([]string{text}, nil)
		if err != nil {
			return
		}
		for _, o := range facts[0].saw {
			p := o.probability(suspect{stuckLane(3), Chip, 1}, suspect{nil, Nothing, 1})
			if !(p > 0 && p <= 1) {
				t.Errorf("%q: probability %v", text, p)
			}
		}
		if again, err := ParseFacts([]string{facts[0].Text}, nil); err != nil || len(again[0].saw) != len(facts[0].saw) {
			t.Errorf("%q: kept as %q: %v", text, facts[0].Text, err)
		}
	})
}
