package workbench

import (
	"slices"

	"backporch/patterns"
)

// A Test is a bench test: what is done, what it costs and what may come of it. Tests are data; the same rows serve to
// weigh what the user knows already (known.go) and to choose what to do next (next.go).
type Test struct {
	Name string // in two or three words
	// Do says what to do. {chip}, {bit}, {video}, {generator}, {multiplexer} stand for the lane's or the board's parts.
	Do      string
	Minutes float64 // with getting at it. Common practice, no source
	Risk    float64 // minutes: chance of harm, times what it takes to put right. Common practice, no source
	Caution string
	Solder  bool   // parts are unsoldered
	Lane    bool   // done to one lane, whose bit the fact names
	Sort    string // tests of one sort mostly tell the same again; empty: none like it
	Of      places // the lanes that it is for; 0: any
	Socket  bool   // possible only where the part is in a socket
	Codes   bool   // for character displays alone
	Locates bool   // its second outcome is "at this lane", its third "at another"
	Hand    hand   // what the hand does in it, for marks that say so; "": nothing that is marked
	At      string // the part that it is done to, as partOf names it; "" for a lane's chip and for the board
	// Outcomes are what may come of it, the one where nothing is found first.
	Outcomes []Outcome
	usual    []float64 // probability of each outcome where no row holds
	rows     []row     // the first that holds counts
}

// An Outcome is one thing that may come of a test.
type Outcome struct {
	Seen  string // in words, to follow "if"
	Known string // KEY=VALUE by which the user says it
	Help  string // for the list of keys
}

// A row says what comes of a test with a suspect.
type row struct {
	kinds  []string // nil: any
	causes []Cause  // nil: any
	p      []float64
}

// The cautions that go with tests.
const (
	swapCaution = "power off and discharge first; sockets and chips are static-sensitive"
	railsFirst  = "measure the supply rails before any chip is changed: with a missing rail memory is harmed by staying on"
	heatCaution = "a suspect chip may be hot: touch with care"
	solderLast  = "unsolder only when the cheaper tests agree; hot air and solder fumes need ventilation"
)

// socketsTest is the one that says which others can be done.
const socketsTest = "sockets"

// goodMachine is the test that tells the machine from the way to the device.
const goodMachine = "good machine"

// socketed is how often a part is in a socket where nothing says so. Common practice, no source.
const socketed = 0.5

var (
	laneKinds    = []string{"data-bit-stuck", "data-bit-weak", "row-dead", "column-dead"}
	weakKinds    = []string{"data-bit-weak", "refresh-loss", "row-dead", "column-dead"}
	coreCauses   = []Cause{Processor, Program, Clock, ProcessorSocket}
	loadKinds    = []string{"ringing", "ghost", "level-high", "level-low", "low-bandwidth"} // what the load of the line does
	syncKinds    = []string{"no-signal", "sync-weak"}
	startKinds   = []string{"power-up-pattern", "blank-picture"}
	settingKinds = []string{"no-signal", "colour-lost", "hue-shift", "level-high", "level-low", "clipping", "sync-weak"}
)

// tests are all that there are. The probabilities in its rows are common practice, no source; comments say why.
var tests = slices.Concat(pathTests, memoryTests, logicTests, handTests, swapTests)

// likely is the probability of each outcome when the test is done at a place and a fault is held by a cause;
// own is false where that fault has no say in it.
func (t *Test) likely(f *patterns.Fault, c Cause, at places) (p []float64, own bool) {
	here := struck(f)
	elsewhere := t.Lane && here&at == 0
	if elsewhere && (!t.Locates || here == 0) {
		return t.usual, false
	}
	for i := range t.rows {
		r := &t.rows[i]
		if r.causes != nil && !slices.Contains(r.causes, c) || r.kinds != nil && (f == nil || !slices.Contains(r.kinds, f.Kind)) {
			continue
		}
		if elsewhere {
			missed := r.p[2] / 7 // at this lane of the seven others
			return []float64{r.p[0], missed, 1 - r.p[0] - missed}, true
		}
		return r.p, true
	}
	return t.usual, false
}

// both is what comes of a test when two faults are there, one of the logic and one of the path.
func both(a []float64, ownA bool, b []float64, ownB bool) []float64 {
	switch {
	case !ownB:
		return a
	case !ownA:
		return b
	}
	p := make([]float64, len(a)) // either may be what is seen
	for i := range p {
		p[i] = (a[i] + b[i]) / 2
	}
	return p
}
