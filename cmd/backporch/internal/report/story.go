package report

import (
	"strings"

	"backporch/patterns"
)

// plain says what a kind of fault means, to somebody who owns such a machine.
var plain = map[string]string{
	"data-bit-stuck":   "One of the eight data lines of the display memory always reads the same value, whatever was written.",
	"data-bit-weak":    "One of the eight data lines of the display memory is wrong at some places or some of the time.",
	"colour-path":      "One part of every colour is wrong in picture and border alike: the fault lies after the memory, in the video logic or on the way to the output.",
	"border-latch":     "The border has the wrong colour while the picture is right: the memory is not to blame.",
	"blank-picture":    "The machine sends a good signal with its border, but draws nothing in the picture.",
	"power-up-pattern": "The screen shows the memory as it wakes at switch-on: the display works, but the processor has written nothing.",
	"no-signal":        "No picture of the machine arrives: what is seen is made by the capture device itself.",
	"sync-weak":        "The picture is there but does not stand still: its lines are not held in their places.",
	"noise":            "The picture is right but grainy: noise is added somewhere on its way.",
	"hum":              "The picture is right, but wide bands of brightness lie over it: the mains get into the signal.",
	"ringing":          "The picture is right, but every edge has faint repeats beside it: the output and its cable do not fit together.",
	"low-bandwidth":    "The picture is right but soft: fine detail is lost between the machine and the screen.",
	"ghost":            "The picture is there twice: a weaker copy lies to the right of it.",
	"fixed-bars":       "The picture is right, but faint upright stripes stand over it: a clock of the machine gets into the signal.",
	"interference":     "The picture is right, but a fine moving pattern lies over it: a foreign frequency gets into the signal.",
	"colour-lost":      "The picture is right but grey: its colour does not arrive.",
	"hue-shift":        "The picture is right but all of its colours are off by the same turn.",
	"level-high":       "The picture is too bright: the signal is larger than it should be.",
	"level-low":        "The picture is too dark: the signal is smaller than it should be.",
	"clipping":         "The dark parts of the picture are right, the bright ones are cut off.",
}

// labels of the regions of kinds whose whole picture area is marked.
var regionLabels = map[string]string{
	"blank-picture":    "nothing is drawn here",
	"power-up-pattern": "memory as it wakes",
}

// RegionLabel is what regions are labelled with on a marked still, "" to keep their own.
func (r *Report) RegionLabel() string {
	if f := r.Verdict.first(); f != nil {
		return regionLabels[f.Kind]
	}
	return ""
}

// first is the fault that the verdict states, nil when there is none.
func (v *Verdict) first() *Fault {
	if len(v.Faults) == 0 || !v.Faults[0].stated {
		return nil
	}
	return &v.Faults[0]
}

// Meaning says the stated fault to somebody who owns such a machine, "" when none is stated
// or its title says all.
func (r *Report) Meaning() string {
	if f := r.Verdict.first(); f != nil {
		return plain[f.Kind]
	}
	return ""
}

// open tells whether several faults share the verdict's class.
func (r *Report) open() bool {
	n := 0
	for i := range r.Verdict.Faults {
		if r.Verdict.Faults[i].stated {
			n++
		}
	}
	return n > 1
}

var openTitles = map[string]string{
	"ram-bit": "A bit of the display memory is bad", "video-logic": "The video logic is at fault",
	"signal": "The signal is at fault", "cpu-side": "The processor side does not run",
}

// Title is the finding in a few words.
func (r *Report) Title() string {
	if title := openTitles[r.Verdict.Class]; title != "" && r.open() {
		return title
	}
	return strings.TrimSuffix(r.Verdict.Summary, ".")
}

// Story is a report in a few paragraphs, for the caption of a still: what it means, how sure
// it is, why, and what is good.
func (r *Report) Story() []string {
	var out []string
	if meaning := r.Meaning(); meaning != "" {
		out = append(out, meaning)
	}
	said := r.Heading() + "."
	switch {
	case r.is(patterns.Clean):
		_, said, _ = strings.Cut(r.Sentence(), "; ")
		said = capital(said)
	case r.is(patterns.Undetermined):
		said = ""
	case r.open():
		said += " " + r.Verdict.Summary
	}
	further, rivals := r.Also()
	add := func(label string, items []string) {
		if len(items) > 0 {
			said = strings.TrimSpace(said + " " + label + " " + strings.Join(items, "; ") + ".")
		}
	}
	add("Also:", further)
	if r.is(patterns.Undetermined) {
		add("It may be:", rivals)
	} else {
		add("Or:", rivals)
	}
	if said != "" {
		out = append(out, said)
	}
	paragraph := func(label string, items []string) {
		if len(items) > 0 {
			out = append(out, label+" "+strings.Join(items, "; ")+".")
		}
	}
	paragraph("Why:", r.Verdict.Why)
	paragraph("Good:", r.Verdict.Good)
	if r.is(patterns.Undetermined) {
		paragraph("What would settle it:", r.Verdict.Next)
	}
	return out
}
