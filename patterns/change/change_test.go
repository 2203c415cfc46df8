package change

import (
	"math"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/fingerprint"
	"backporch/analyse/survey"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
)

// captured is a simulated machine as survey and classifier see it.
func captured(t testing.TB, p *display.Profile, seed uint64, screen simulator.Screen, faults ...string) Side {
	t.Helper()
	fields := simulatortest.Fields(t, simulator.Scenario{Display: p, Seed: seed, Screen: screen, Fields: 16}, faults...)
	s, _, err := survey.Run(fields, video.Info{Kind: video.KindFile, Standard: p.Standard, Rate: 25}, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	return Side{Survey: s, Verdict: judge.Classify(s, p, judge.Options{})}
}

// Simulated repairs come to the word that their faults ask for.
func TestWordsOfRepairs(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	stuck, noise := "data-bit-stuck:bit=3,level=1", "noise"
	made := map[string]Side{}
	take := func(faults []string) Side {
		key := strings.Join(faults, "+")
		if _, ok := made[key]; !ok {
			made[key] = captured(t, p, 11, "listing", faults...)
		}
		return made[key]
	}
	for _, v := range []struct {
		before, after []string
		want          Word
	}{
		{[]string{stuck}, nil, Fixed},
		{[]string{noise}, nil, Fixed},
		{[]string{stuck}, []string{stuck}, Same},
		{nil, nil, Same},
		{nil, []string{stuck}, Worse},
		{[]string{stuck}, []string{stuck, noise}, Worse},
		{[]string{stuck, noise}, []string{stuck}, Better},
		{[]string{stuck}, []string{noise}, Another},
		{[]string{stuck}, []string{"data-bit-stuck:bit=5,level=1"}, Another},
		{[]string{"noise:mv=60"}, []string{noise}, Better},
		{[]string{noise}, []string{"noise:mv=60"}, Worse},
	} {
		j := Judge(take(v.before), take(v.after), p)
		if j.Word != v.want {
			t.Errorf("%v to %v: %s, want %s: %v, %v", v.before, v.after, j.Word, v.want, j.Words, j.Why)
		}
		if j.SameScreen == nil || !*j.SameScreen || len(j.Warnings) > 0 {
			t.Errorf("%v to %v: same screen %v (kappa %v), warnings %v", v.before, v.after, j.SameScreen, *j.Agreement, j.Warnings)
		}
		total := 0.0
		for _, w := range j.Words {
			total += w
		}
		if math.Abs(total-1) > 1e-9 {
			t.Errorf("%v to %v: the words' probabilities add up to %v", v.before, v.after, total)
		}
	}
}

// Other screens are not taken for the same, nor the same one for another, whatever is wrong with it.
func TestSameScreen(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	good := map[simulator.Screen]Side{}
	screens := []simulator.Screen{"listing", "text", "bars", "busy", "boot"}
	for _, s := range screens {
		good[s] = captured(t, p, 7, s)
	}
	for i, a := range screens {
		for _, b := range screens[i+1:] {
			if SameScreen(good[a].Survey, good[b].Survey, p) {
				t.Errorf("%s and %s are one screen", a, b)
			}
		}
		if bad := captured(t, p, 7, a, "data-bit-stuck:bit=3,level=1"); !SameScreen(good[a].Survey, bad.Survey, p) && a != "boot" {
			t.Errorf("%s is another screen with a bad bit", a)
		}
	}
	other := captured(t, p, 8, "listing")
	if SameScreen(good["listing"].Survey, other.Survey, p) {
		t.Error("two listings are one screen")
	}
}

// side is a made-up capture with a verdict.
func side(class patterns.Class, confidence float64, faults ...patterns.Fault) Side {
	v := &patterns.Verdict{Class: class, Faults: faults}
	if class != patterns.Undetermined {
		v.Confidence, v.Weighed = &confidence, &confidence
	}
	for i := range v.Faults {
		v.Faults[i].Weighed = v.Faults[i].Probability
	}
	return Side{Survey: &analyse.Survey{}, Verdict: v}
}

func TestDoubtTakesFromTheWord(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	bit, level := 3, 1
	bad := side(patterns.RAMBit, 0.99, patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: &bit, Level: &level, Probability: 0.99})
	good := side(patterns.Clean, 0.95)
	if j := Judge(bad, good, p); j.Word != Fixed || j.Confidence == nil || *j.Confidence > 0.96 || *j.Confidence < 0.9 {
		t.Errorf("%s %v", j.Word, j.Words)
	}
	if j := Judge(bad, side(patterns.Undetermined, 0), p); j.Word != Undetermined || j.Confidence != nil {
		t.Errorf("undetermined: %s %v", j.Word, j.Words)
	}
	bad.Print = &fingerprint.Print{Display: p.Name, Ratio: []fingerprint.Ratio{{PPM: 80, SD: 0.01, Probability: 1}}}
	good.Print = &fingerprint.Print{Display: p.Name, Ratio: []fingerprint.Ratio{{PPM: -40, SD: 0.01, Probability: 1}}}
	j := Judge(bad, good, p)
	if j.Word != Undetermined || len(j.Warnings) != 1 || !strings.Contains(j.Warnings[0], "same machine") {
		t.Errorf("another machine: %s %v", j.Word, j.Warnings)
	}
	good.Print.Ratio[0].PPM = 81
	if j := Judge(bad, good, p); j.Word != Fixed || len(j.Warnings) > 0 {
		t.Errorf("the same machine: %s %v", j.Word, j.Warnings)
	}
}

// A memory fault is not gone from a screen that has not changed in a single cell, even where a second
// capture leaves it unseen.
func TestUnchangedCellsAreNotFixed(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	bit, level := 3, 1
	bad := side(patterns.RAMBit, 0.9, patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: &bit, Level: &level, Probability: 0.9})
	noisy := side(patterns.Signal, 0.9, patterns.Fault{Class: patterns.Signal, Kind: "noise", Probability: 0.9})
	good := side(patterns.Clean, 0.9)
	for _, s := range []*Side{&bad, &noisy, &good} {
		s.Survey.Registration.OK = true
		for i := range p.Columns() * p.Rows() {
			s.Survey.Cells = append(s.Survey.Cells, analyse.Cell{Column: i % p.Columns(), Row: i / p.Columns(), Paper: 7, Single: true})
		}
	}
	if j := Judge(bad, good, p); j.Word != Same {
		t.Errorf("a memory bit: %s %v", j.Word, j.Words)
	}
	if j := Judge(noisy, good, p); j.Word != Fixed {
		t.Errorf("noise: %s %v", j.Word, j.Words)
	}
}

// Kappa by its definition, from the four counts of a made-up pair of pictures.
func TestAgreementIsKappa(t *testing.T) {
	// Eight pixels wide, of 101 lines that are all of one colour: edges between lines alone.
	a, b := &raster{width: 8, height: 101}, &raster{width: 8, height: 101}
	for _, r := range []*raster{a, b} {
		r.luma, r.colour = make([]float32, 8*101), make([]uint8, 8*101)
	}
	step := func(r *raster, y int, edge bool) {
		for x := range 8 {
			r.luma[y*8+x] = r.luma[(y-1)*8+x]
			if edge {
				r.luma[y*8+x] = 1 - r.luma[(y-1)*8+x]
			}
		}
	}
	for y := 1; y <= 100; y++ {
		step(a, y, y <= 50)           // 40 in both, 10 alone
		step(b, y, y <= 40 || y > 80) // 40 in both, 20 alone
	}
	got := agreement(a, b)
	// Each pixel is asked for its left edge too, and there is none in either: 100 more.
	const both, one, other, n = 40, 10, 20, 200
	pa, pb := (both+one)/float64(n), (both+other)/float64(n)
	expected := pa*pb + (1-pa)*(1-pb)
	want := (1 - (one+other)/float64(n) - expected) / (1 - expected)
	if got == nil || math.Abs(*got-want) > 1e-6 {
		t.Errorf("kappa %v, want %v", got, want)
	}
}

func TestRegionsOfNeighboursAreOne(t *testing.T) {
	r := analyse.Registration{PitchX: 2, PitchY: 1, OriginX: 100, OriginY: 40}
	got := Regions([]Cell{{0, 0, 9}, {1, 0, 9}, {3, 0, 9}, {0, 1, 9}}, r, "x")
	if len(got) != 3 || got[0] != (patterns.Region{X: 100, Y: 40, W: 32, H: 8, Label: "x"}) || got[1].X != 148 {
		t.Errorf("%+v", got)
	}
	all := Around([]Cell{{1, 0, 9}, {3, 2, 9}}, r)
	if len(all) != 1 || all[0] != (patterns.Region{X: 116, Y: 40, W: 48, H: 24}) || Around(nil, r) != nil {
		t.Errorf("around: %+v", all)
	}
}
