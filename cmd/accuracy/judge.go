package main

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"backporch/patterns"
	"backporch/video/simulator"
)

// hidden stands for faults of which nothing shows.
const hidden = "(nothing shows)"

// likely is the probability from which on a fault counts as named.
const likely = 0.5

// A Judgement is one capture's verdict held to what is true.
type Judgement struct {
	Seed       uint64   `json:"seed"`
	Display    string   `json:"display"`
	Screen     string   `json:"screen"`
	Reference  bool     `json:"reference"`
	Varied     bool     `json:"varied"` // different things stand on the screen, as seen
	First      string   `json:"first"`  // clean, or the kind that stood first; empty where no class is named
	Quality    int      `json:"quality"`
	Put        []string `json:"put"`     // the faults as the simulator writes them
	Visible    bool     `json:"visible"` // something of them shows
	Due        string   `json:"due"`
	Said       string   `json:"said"`
	DueClass   string   `json:"due_class"`
	Class      string   `json:"class"`
	Confidence *float64 `json:"confidence"`
	ClassRight bool     `json:"class_right"`
	KindRight  bool     `json:"kind_right"`
	Seconds    float64  `json:"seconds"`

	particulars map[string]particular
	claims      []claim // of single faults
	pair        bool
}

// A particular is whether bit, level, line... is as it should be, and whether its fault was named at all.
type particular struct{ right, named bool }

// classOf is the class of one of the simulator's kinds.
func classOf(kind string) patterns.Class {
	if kind == "clean" {
		return patterns.Clean
	}
	for _, k := range patterns.Catalogue() {
		if k.Name == kind {
			return k.Class
		}
	}
	return patterns.Undetermined
}

// name is the kinds of a capture, joined.
func name(faults []simulator.Fault) string {
	var parts []string
	for _, f := range faults {
		if f.Kind != "clean" {
			parts = append(parts, f.Kind)
		}
	}
	if len(parts) == 0 {
		return "clean"
	}
	sort.Strings(parts)
	return strings.Join(parts, "+")
}

// dueClass is the class of the fault that explains the most: the logic's before the path's.
func dueClass(faults []simulator.Fault) patterns.Class {
	class := patterns.Clean
	for _, f := range faults {
		if c := classOf(f.Kind); c != patterns.Clean && (class == patterns.Clean || class == patterns.Signal) {
			class = c
		}
	}
	return class
}

// said is what a verdict names, as the labels are written.
func said(v *patterns.Verdict) string {
	switch v.Class {
	case patterns.Undetermined, patterns.Clean:
		return string(v.Class)
	}
	var parts []string
	for _, f := range v.Faults {
		if f.Probability >= likely && !slices.Contains(parts, f.Kind) {
			parts = append(parts, f.Kind)
		}
	}
	if len(parts) == 0 && len(v.Faults) > 0 { // the class is sure, its kind is not
		parts = append(parts, v.Faults[0].Kind)
	}
	sort.Strings(parts)
	return strings.Join(parts, "+")
}

// shows lists the faults that do: of a fault that changes nothing on its screen nothing is asked.
func shows(truth *simulator.Truth) []simulator.Fault {
	var out []simulator.Fault
	for i, f := range truth.Faults {
		if f.Kind != "clean" && truth.Shows[i] {
			out = append(out, f)
		}
	}
	return out
}

// heldTo holds a verdict to the truth.
func heldTo(truth *simulator.Truth, v *patterns.Verdict) Judgement {
	shown := shows(truth)
	due := name(shown)
	j := Judgement{
		Screen: string(truth.Screen), Visible: truth.Visible, Said: said(v), Class: string(v.Class), Confidence: v.Confidence,
		particulars: map[string]particular{},
	}
	for _, f := range truth.Faults {
		if f.Kind != "clean" {
			j.Put = append(j.Put, f.String())
		}
	}
	class := dueClass(shown)
	if len(shown) == 0 && name(truth.Faults) != "clean" {
		due = hidden // nothing of it shows: clean and undetermined are both right
	}
	j.Due, j.DueClass = due, string(class)
	if due == hidden {
		j.ClassRight = v.Class == patterns.Clean || v.Class == patterns.Undetermined
		j.KindRight = j.ClassRight
	} else {
		j.ClassRight = v.Class == class
		j.KindRight = j.Said == due || len(shown) == 1 && twins(v, shown[0])
		j.pair = strings.Contains(due, "+")
		for _, f := range shown {
			hold(j.particulars, truth, f, v)
		}
	}
	for i := range v.Faults {
		j.claims = append(j.claims, claim{v.Faults[i].Probability, holds(truth, &v.Faults[i]) && truth.Visible})
	}
	return j
}

// twin is the other fault that gives the same picture on a display of cells: A5, A6, A7 in all lanes and counter bits 3, 4, 5,
// and A10 and counter bit 2 where colours don't vary. The name and the number; "" where there is none.
func twin(f simulator.Fault) (kind string, number int) {
	switch {
	case f.Kind == "address-line-stuck" && (f.Lanes == 0 || f.Lanes == 0xff) && len(f.Lines.List()) == 1:
		switch line := f.Lines.List()[0]; {
		case line >= 5 && line <= 7:
			return "line-counter", line - 2
		case line == 10:
			return "line-counter", 2
		}
	case f.Kind == "line-counter" && f.Number >= 2 && f.Number <= 5:
		if f.Number == 2 {
			return "address-line-stuck", 10
		}
		return "address-line-stuck", f.Number + 2
	}
	return "", 0
}

// leastTwin is the share with which the true one of two faults of one picture has to stand in the list.
const leastTwin = 0.1

// twins tells whether a verdict names the true fault or its twin, and lists both.
func twins(v *patterns.Verdict, f simulator.Fault) bool {
	other, number := twin(f)
	if other == "" || len(v.Faults) == 0 {
		return false
	}
	own, there := 0.0, 0.0
	for i := range v.Faults {
		g := &v.Faults[i]
		switch {
		case g.Kind == f.Kind:
			own = math.Max(own, g.Probability)
		case g.Kind == other && (g.CounterBit != nil && *g.CounterBit == number || len(g.Lines) == 1 && g.Lines[0] == number):
			there = math.Max(there, g.Probability)
		}
	}
	return own >= leastTwin && own+there >= likely
}

// holds tells whether a fault that the verdict lists is there, with what it says of it.
func holds(truth *simulator.Truth, g *patterns.Fault) bool {
	for _, f := range truth.Faults {
		if f.Kind != g.Kind {
			continue
		}
		all := true
		for _, right := range details(truth, f, g) {
			all = all && right
		}
		if all {
			return true
		}
	}
	return false
}

// hold adds a fault's particulars, of the likeliest of its kind in the verdict.
func hold(to map[string]particular, truth *simulator.Truth, f simulator.Fault, v *patterns.Verdict) {
	var best *patterns.Fault
	for i := range v.Faults {
		if g := &v.Faults[i]; g.Kind == f.Kind && (best == nil || g.Probability > best.Probability) {
			best = g
		}
	}
	blank := best == nil
	if blank {
		best = &patterns.Fault{Kind: f.Kind}
	}
	for what, right := range details(truth, f, best) {
		to[what] = particular{right && best.Probability >= likely, !blank && best.Probability >= likely}
	}
}

// details compares the particulars that belong to a fault's kind.
func details(truth *simulator.Truth, f simulator.Fault, g *patterns.Fault) map[string]bool {
	is := func(v *int, want int) bool { return v != nil && *v == want }
	near := func(v *float64, want, by float64) bool { return v != nil && math.Abs(*v-want) <= by }
	d := map[string]bool{}
	switch f.Kind {
	case "data-bit-stuck":
		d["bit of data-bit-stuck"], d["level of data-bit-stuck"] = is(g.Bit, f.Bit), is(g.Level, f.Level)
	case "data-bit-weak":
		d["bit of data-bit-weak"] = is(g.Bit, f.Bit)
	case "address-line-stuck":
		d["lines of address-line-stuck"] = slices.Equal(g.Lines, f.Lines.List())
	case "row-dead":
		d["bit of row-dead"], d["row of row-dead"] = is(g.Bit, f.Bit), is(g.Row, f.Number)
	case "column-dead":
		d["bit of column-dead"], d["column of column-dead"] = is(g.Bit, f.Bit), is(g.Column, f.Number)
	case "line-counter":
		d["bit of line-counter"] = is(g.CounterBit, f.Number)
	case "colour-path":
		d["component of colour-path"] = g.Component == f.Component
	case "border-latch":
		d["colours of border-latch"] = is(g.Expected, truth.Border) && is(g.Seen, truth.BorderSeen)
	case "cell-fetch":
		want := f.Mode
		if want == "after" {
			want = fmt.Sprintf("after %d", f.Number)
		}
		d["columns of cell-fetch"] = g.Columns == want
	case "fixed-bars":
		d["period of fixed-bars, to 5 %"] = near(g.PeriodPx, f.PeriodPx, 0.05*f.PeriodPx)
	case "interference":
		d["frequency of interference, to 5 %"] = near(g.FrequencyHz, f.Hz, 0.05*f.Hz)
	case "hue-shift":
		d["degrees of hue-shift, to 10"] = near(g.Degrees, f.Degrees, 10)
	}
	return d
}
