package change

import (
	"math"

	"backporch/analyse"
	"backporch/video/display"
)

// A Measure is one figure before and after.
type Measure struct {
	Name, Unit    string
	Before, After *float64 // nil: not measured
	Ideal         float64  // what a clean machine gives, for figures that can err both ways
	Spread        float64  // standard deviation of the difference on an unchanged machine
	// Better is the improvement in those; negative: it became worse. Nil where a side is missing.
	Better *float64
	kinds  []string // faults that it belongs to
}

// A change in a measure counts from here, in standard deviations: one in a hundred by chance.
const counts = 2.6

// Word says what became of a measure.
func (m *Measure) Word() string {
	switch {
	case m.Better == nil:
		return ""
	case *m.Better > counts:
		return "better"
	case *m.Better < -counts:
		return "worse"
	}
	return "same"
}

// A kind of measure: more is better, less is better, or nearest to the ideal is.
type direction int

const (
	less direction = iota
	more
	near
)

type meter struct {
	name, unit string
	of         func(s *Side) *float64
	direction  direction
	ideal      float64
	spread     float64 // on an unchanged machine, in the unit
	part       float64 // and as a part of the value
	counted    bool    // a number of things, which spreads by its root
	kinds      []string
}

var ram = []string{"data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead", "refresh-loss", "supply-or-all-lanes"}

var meters = []meter{
	{name: "jitter", unit: "ns", of: func(s *Side) *float64 { return s.Survey.Sync.JitterNs }, spread: 3, part: 0.15, kinds: []string{"sync-weak"}},
	{name: "roll", unit: "lines/s", of: func(s *Side) *float64 { return size(s.Survey.Sync.RollLinesPerS) }, spread: 0.5, part: 0.2, kinds: []string{"sync-weak"}},
	{name: "tear", unit: "samples", of: func(s *Side) *float64 { return s.Survey.Sync.TearPx }, spread: 1, part: 0.2, kinds: []string{"sync-weak"}},
	{name: "signal to noise", unit: "dB", of: func(s *Side) *float64 { return s.Survey.Signal.SNRdB }, direction: more, spread: 1, kinds: []string{"noise"}},
	{name: "overshoot", unit: "%", of: func(s *Side) *float64 { return s.Survey.Signal.OvershootPct }, spread: 1.5, part: 0.1, kinds: []string{"ringing"}},
	{name: "rise time", unit: "ns", of: func(s *Side) *float64 { return s.Survey.Signal.RiseNs }, spread: 8, part: 0.05, kinds: []string{"low-bandwidth"}},
	{name: "hum", unit: "%", of: func(s *Side) *float64 { return s.Survey.Signal.HumPct }, spread: 0.3, part: 0.1, kinds: []string{"hum"}},
	{name: "fixed bars", unit: "%", of: func(s *Side) *float64 { return s.Survey.Signal.FixedBarsPct }, spread: 0.3, part: 0.15, kinds: []string{"fixed-bars"}},
	{name: "hue error", unit: "degrees", of: func(s *Side) *float64 { return s.Survey.Signal.HueErrorDeg }, direction: near, spread: 1.5, kinds: []string{"hue-shift"}},
	{name: "saturation", unit: "%", of: func(s *Side) *float64 { return s.Survey.Signal.SaturationPct }, direction: near, ideal: 100, spread: 3, kinds: []string{"colour-lost"}},
	{name: "cells of three colours", of: thirds, counted: true, spread: 1, kinds: append([]string{"cell-fetch", "cell-snow", "shift-register"}, ram...)},
	{name: "cells not read", of: unread, counted: true, spread: 2, kinds: []string{"character-generator"}},
	{name: "bits that flicker", of: flickering, counted: true, spread: 3, kinds: append([]string{"cell-snow", "cell-fetch"}, ram...)},
	{name: "wrong bits", of: wrong, counted: true, spread: 3, part: 0.02, kinds: ram},
}

func size(v *float64) *float64 {
	if v == nil {
		return nil
	}
	a := math.Abs(*v)
	return &a
}

func count(n int) *float64 {
	v := float64(n)
	return &v
}

func thirds(s *Side) *float64 {
	if len(s.Survey.Cells) == 0 {
		return nil
	}
	n := 0
	for i := range s.Survey.Cells {
		if s.Survey.Cells[i].Third {
			n++
		}
	}
	return count(n)
}

func unread(s *Side) *float64 {
	// On a bitmap display a cell that no glyph fits is drawn, not unread.
	if t := s.Survey.Text; t != nil && s.profile.Kind == display.Text && t.Checked > 0 {
		return count(t.Unknown)
	}
	return nil
}

func flickering(s *Side) *float64 {
	m := s.Survey.Memory
	if m == nil || m.Fields < 8 || s.Survey.Sync.State != analyse.Locked {
		return nil
	}
	n := 0
	for _, c := range m.Changed {
		if c > 0 {
			n++
		}
	}
	return count(n)
}

// wrong needs a reference.
func wrong(s *Side) *float64 {
	n, known := 0, false
	for _, l := range s.Verdict.Lanes {
		if l.Wrong != nil {
			n, known = n+*l.Wrong, true
		}
	}
	if !known {
		return nil
	}
	return count(n)
}

// measure puts all meters to both sides; those that neither gives are left out.
func measure(before, after *Side) []Measure {
	var out []Measure
	for _, m := range meters {
		b, a := m.of(before), m.of(after)
		if b == nil && a == nil {
			continue
		}
		r := Measure{Name: m.name, Unit: m.unit, Before: b, After: a, Ideal: m.ideal, kinds: m.kinds}
		if b != nil && a != nil {
			larger := math.Max(math.Abs(*b), math.Abs(*a))
			r.Spread = math.Hypot(m.spread, m.part*larger)
			if m.counted {
				r.Spread = math.Sqrt(r.Spread*r.Spread + larger)
			}
			gain := *b - *a
			switch m.direction {
			case more:
				gain = *a - *b
			case near:
				gain = math.Abs(*b-m.ideal) - math.Abs(*a-m.ideal)
			}
			better := gain / r.Spread
			r.Better = &better
		}
		out = append(out, r)
	}
	return out
}
