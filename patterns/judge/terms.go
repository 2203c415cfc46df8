package judge

import (
	"fmt"
	"slices"
	"strings"

	"backporch/analyse"
)

// A Term is a part of the evidence that can be left out, to measure what it is worth.
type Term string

// terms lists them, with what is then not looked at: of the survey, of the options, or of what was gathered from cells. A term
// that is none of these is asked for where it is used (without).
var terms = []struct {
	term     Term
	survey   func(*analyse.Survey)
	options  func(*Options)
	evidence func(*evidence)
}{
	{term: "sync", survey: func(s *analyse.Survey) { s.Sync.JitterNs, s.Sync.TearPx, s.Sync.RollLinesPerS = nil, nil, nil }},
	{term: "noise", survey: func(s *analyse.Survey) { s.Signal.SNRdB, s.Signal.SNR = nil, nil }},
	{term: "hum", survey: func(s *analyse.Survey) { s.Signal.Hum = nil }},
	{term: "tones", survey: func(s *analyse.Survey) { s.Signal.Tones = nil }},
	{term: "edges", survey: func(s *analyse.Survey) { // their rise, and what comes after them
		s.Signal.Rise, s.Signal.RiseNs, s.Signal.Bandwidth, s.Signal.SlowGain = nil, nil, nil, nil
		s.Signal.Overshoot, s.Signal.OvershootPct, s.Signal.Ringing, s.Signal.Ghost = nil, nil, nil, nil
	}},
	{term: "colour-fits", survey: func(s *analyse.Survey) { s.Signal.ColourFits, s.Signal.ChromaDead = nil, false }},
	{term: "border", survey: func(s *analyse.Survey) { s.Border.Colour, s.Border.Sure = -1, 0 }},
	{term: "places", survey: func(s *analyse.Survey) { s.Registration.Shifts = nil }}, // runners-up of the registration
	{term: "time", survey: func(s *analyse.Survey) { // what changes from field to field
		if s.Memory != nil {
			still := *s.Memory
			still.Changed, still.Moves = nil, [8]float64{}
			s.Memory = &still
		}
		if s.Text != nil {
			still := *s.Text
			still.Changes = nil
			s.Text = &still
		}
	}},
	{term: "reference", options: func(o *Options) { o.Reference = nil }},
	{term: "fill", options: func(o *Options) { o.Fill = nil }},
	{term: "known", options: func(o *Options) { o.Known = nil }},
	{term: "alike", evidence: func(e *evidence) { e.flips, e.sites = [8]int{}, [8]int{} }}, // cells that agree in all other lanes
	{term: termOdd},
	{term: termWoken},
}

const (
	termOdd   Term = "odd-lane" // how strange it is that a good screen should have a lane so
	termWoken Term = "woken"    // memory as it wakes
)

// Terms lists the names that Options.Without takes.
func Terms() []Term {
	var out []Term
	for _, t := range terms {
		out = append(out, t.term)
	}
	return out
}

// ParseTerms reads names with "+" between.
func ParseTerms(text string) ([]Term, error) {
	var out []Term
	for _, name := range strings.Split(text, "+") {
		if !slices.Contains(Terms(), Term(name)) {
			return nil, fmt.Errorf("no evidence term %q; there are %v", name, Terms())
		}
		out = append(out, Term(name))
	}
	return out, nil
}

// without leaves the options' terms out of a survey, which stays as it is, and of the options.
func without(s *analyse.Survey, o Options) (*analyse.Survey, Options) {
	if len(o.Without) == 0 {
		return s, o
	}
	less := *s
	for _, t := range terms {
		if !slices.Contains(o.Without, t.term) {
			continue
		}
		if t.survey != nil {
			t.survey(&less)
		}
		if t.options != nil {
			t.options(&o)
		}
	}
	return &less, o
}

// leave is without for what was gathered from cells.
func (e *evidence) leave(out []Term) {
	e.left = out
	for _, t := range terms {
		if t.evidence != nil && slices.Contains(out, t.term) {
			t.evidence(e)
		}
	}
}

// without tells whether a term is left out.
func (e *evidence) without(t Term) bool { return slices.Contains(e.left, t) }
