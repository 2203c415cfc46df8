package main

import (
	"encoding/json"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"backporch/patterns"
	"backporch/video/simulator"
)

// Newcombe, Statistics in Medicine 17 (1998) 857, Table I, method 3 (the score interval
// without continuity correction), 95 %, the first four; all of them to six places by scipy 1.10.1,
// stats.binomtest(k, n).proportion_ci(0.95, 'wilson').
func TestWilson(t *testing.T) {
	for _, tt := range []struct {
		k, n      int
		low, high float64
	}{
		{81, 263, 0.255289, 0.366210},
		{15, 148, 0.062386, 0.160487},
		{0, 20, 0, 0.161125},
		{1, 29, 0.006113, 0.171755},
		{4, 20, 0.080658, 0.416017},
		{199, 200, 0.972226, 0.999117},
		{1996, 2000, 0.994869, 0.999222},
	} {
		low, high := wilson(tt.k, tt.n)
		if math.Abs(low-tt.low) > 1e-6 || math.Abs(high-tt.high) > 1e-6 {
			t.Errorf("%d of %d: %.6f to %.6f, want %.6f to %.6f", tt.k, tt.n, low, high, tt.low, tt.high)
		}
	}
}

// scipy 1.10.1, stats.chi2.sf(max(0, |b-c|-1)**2/(b+c), 1); and the critical values of NIST/SEMATECH e-Handbook,
// table 1.3.6.7.4, one degree of freedom, that the distribution rests on.
func TestMcNemar(t *testing.T) {
	for _, tt := range []struct {
		worse, better int
		p             float64
	}{
		{10, 2, 0.04330814281079206}, {5, 25, 0.0005225753951242464}, {30, 30, 1}, {121, 59, 5.450094825427117e-06}, {0, 0, 1},
	} {
		if got := mcnemar(tt.worse, tt.better); math.Abs(got-tt.p) > 1e-9*math.Max(tt.p, 1e-3) {
			t.Errorf("%d against %d: %v, want %v", tt.worse, tt.better, got, tt.p)
		}
	}
	for critical, p := range map[float64]float64{2.706: .1, 3.841: .05, 5.024: .025, 6.635: .01, 10.828: .001} {
		if got := (distuv.ChiSquared{K: 1}).Survival(critical); math.Abs(got-p) > 2e-4*p/.05+2e-5 {
			t.Errorf("beyond %v: %v, want %v", critical, got, p)
		}
	}
}

// Claims that mean what they say are off by no more than chance; sure claims that are wrong half the time are off by a half.
func TestCalibrate(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	var honest, boastful []claim
	for range 20000 {
		p := rng.Float64()
		honest = append(honest, claim{p, rng.Float64() < p})
		boastful = append(boastful, claim{1, rng.IntN(2) == 0})
	}
	c := calibrate(honest)
	if *c.Error > 2**c.Beyond || *c.Error < *c.Beyond/3 {
		t.Errorf("honest claims are off by %.4f, by chance %.4f", *c.Error, *c.Beyond)
	}
	if math.Abs(*c.Brier-1.0/6) > 0.005 { // the mean of p(1-p) over evenly spread p
		t.Errorf("Brier %.4f, want 1/6", *c.Brier)
	}
	if b := calibrate(boastful); math.Abs(*b.Error-0.5) > 0.02 || math.Abs(*b.Brier-0.5) > 0.02 {
		t.Errorf("boastful claims: %.3f, Brier %.3f", *b.Error, *b.Brier)
	}
	if e := calibrate(nil); e.Brier != nil || e.Error != nil {
		t.Errorf("of no claims: %+v", e)
	}
}

func ptr[T any](v T) *T { return &v }

// A verdict is held to the truth, particulars and twins too.
func TestJudge(t *testing.T) {
	stuck := simulator.Fault{Kind: "data-bit-stuck", Bit: 3, Level: 1}
	noise := simulator.Fault{Kind: "noise", MV: 20}
	a5 := simulator.Fault{Kind: "address-line-stuck", Lines: 1 << 5, Lanes: 0xff}
	verdict := func(class patterns.Class, faults ...patterns.Fault) *patterns.Verdict {
		v := &patterns.Verdict{Class: class, Faults: faults}
		if class != patterns.Undetermined {
			v.Confidence = ptr(0.9)
		}
		return v
	}
	bit3 := patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: ptr(3), Level: ptr(1), Probability: .9}
	bit4 := bit3
	bit4.Bit = ptr(4)
	grain := patterns.Fault{Class: patterns.Signal, Kind: "noise", Probability: .9}
	line := patterns.Fault{Class: patterns.RAMBit, Kind: "address-line-stuck", Lines: []int{5}, Probability: .6}
	counter := patterns.Fault{Class: patterns.VideoLogic, Kind: "line-counter", CounterBit: ptr(3), Probability: .4}
	for _, tt := range []struct {
		name        string
		truth       simulator.Truth
		v           *patterns.Verdict
		class, kind bool
		particulars map[string]bool // that are right
	}{
		{"right", simulator.Truth{Faults: []simulator.Fault{stuck}, Visible: true, Shows: []bool{true}}, verdict(patterns.RAMBit, bit3), true, true,
			map[string]bool{"bit of data-bit-stuck": true, "level of data-bit-stuck": true}},
		{"another bit", simulator.Truth{Faults: []simulator.Fault{stuck}, Visible: true, Shows: []bool{true}}, verdict(patterns.RAMBit, bit4), true, true,
			map[string]bool{"bit of data-bit-stuck": false, "level of data-bit-stuck": true}},
		{"half a pair", simulator.Truth{Faults: []simulator.Fault{stuck, noise}, Visible: true, Shows: []bool{true, true}}, verdict(patterns.RAMBit, bit3), true, false, nil},
		{"a pair", simulator.Truth{Faults: []simulator.Fault{noise, stuck}, Visible: true, Shows: []bool{true, true}}, verdict(patterns.RAMBit, bit3, grain), true, true, nil},
		{"missed", simulator.Truth{Faults: []simulator.Fault{stuck}, Visible: true, Shows: []bool{true}}, verdict(patterns.Clean), false, false,
			map[string]bool{"bit of data-bit-stuck": false}},
		{"nothing shows", simulator.Truth{Faults: []simulator.Fault{stuck}, Shows: []bool{false}}, verdict(patterns.Undetermined), true, true, nil},
		{"a guess at what does not show", simulator.Truth{Faults: []simulator.Fault{stuck}, Shows: []bool{false}}, verdict(patterns.RAMBit, bit3), false, false, nil},
		{"false alarm", simulator.Truth{Faults: []simulator.Fault{{Kind: "clean"}}}, verdict(patterns.RAMBit, bit3), false, false, nil},
		{"the twin listed", simulator.Truth{Faults: []simulator.Fault{a5}, Visible: true, Shows: []bool{true}}, verdict(patterns.RAMBit, line, counter), true, true, nil},
		{"the twin first", simulator.Truth{Faults: []simulator.Fault{{Kind: "line-counter", Number: 3}}, Visible: true, Shows: []bool{true}}, verdict(patterns.VideoLogic, line, counter), true, true, nil},
		{"the twin alone", simulator.Truth{Faults: []simulator.Fault{{Kind: "line-counter", Number: 3}}, Visible: true, Shows: []bool{true}}, verdict(patterns.RAMBit, line), false, false, nil},
	} {
		j := heldTo(&tt.truth, tt.v)
		if j.ClassRight != tt.class || j.KindRight != tt.kind {
			t.Errorf("%s: class %v, kind %v", tt.name, j.ClassRight, j.KindRight)
		}
		for what, want := range tt.particulars {
			if j.particulars[what].right != want {
				t.Errorf("%s: %s %v", tt.name, what, j.particulars[what])
			}
		}
	}
}

// What does not exist ends the run before anything is simulated.
func TestPlanRefuses(t *testing.T) {
	for _, tt := range []struct{ display, kind, screen, quality, ablate, want string }{
		{"attr-256x192-50", "no-such-kind", "", "85", "", "no-such-kind"},
		{"no-such-display", "clean", "", "85", "", "no-such-display"},
		{"attr-256x192-50", "", "no-such-screen", "85", "", "no-such-screen"},
		{"attr-256x192-50", "", "", "85,101", "", "101"},
		{"attr-256x192-50", "", "", "85", "no-such-term", "no-such-term"},
	} {
		_, err := newPlan(tt.display, tt.kind, tt.screen, tt.quality, tt.ablate)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v", tt, err)
		}
	}
}

// Seeded captures, the same every time: the lower end of the class's interval is above the floor, and the results can be
// written and read again.
func TestFloor(t *testing.T) {
	if testing.Short() {
		t.Skip("examines two dozen captures")
	}
	p, err := newPlan("attr-256x192-50,attr-256x192-60", "clean,data-bit-stuck,noise,no-signal", "bars,listing,text", "85", "reference")
	if err != nil {
		t.Fatal(err)
	}
	p.n, p.seed, p.fields, p.references = 24, 400, 16, 0.5
	runs, err := p.measure()
	if err != nil {
		t.Fatal(err)
	}
	s := summarise(runs, p)
	const floor = 0.5 // a guard against breakage, far below what is aimed at: 24 captures can prove no more than 0.86
	if low, _ := wilson(s.class.good, s.class.of); low < floor {
		t.Errorf("class right in %s: below %v", s.class, floor)
		missed(os.Stderr, runs)
	}
	if s.ablations[0].class.of != len(runs) {
		t.Errorf("without the reference %v were judged", s.ablations[0].class)
	}
	dir := filepath.Join(t.TempDir(), "out")
	if err := s.write(dir, runs); err != nil {
		t.Fatal(err)
	}
	var back struct {
		Captures   int         `json:"captures"`
		Judgements []Judgement `json:"judgements"`
	}
	data, err := os.ReadFile(filepath.Join(dir, "results.json"))
	if err == nil {
		err = json.Unmarshal(data, &back)
	}
	if err != nil || back.Captures != 24 || len(back.Judgements) != 24 || back.Judgements[3].Said != runs[3].Said {
		t.Errorf("results.json: %d captures, %v", back.Captures, err)
	}
	f, err := os.Open(filepath.Join(dir, "confusion.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if c, err := png.DecodeConfig(f); err != nil || c.Width < 200 || c.Height < 100 {
		t.Errorf("confusion.png: %+v, %v", c, err)
	}
}
