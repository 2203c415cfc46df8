package main

import (
	"strings"
	"testing"
	"time"

	"backporch/analyse/rate"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/cmd/backporch/internal/report"
)

// A fault that comes and goes is not called clean between two of its fields; a minute without one is another matter.
func TestComesAndGoes(t *testing.T) {
	said := func(class, summary string) *glance {
		return &glance{report: &report.Report{Verdict: report.Verdict{Class: class, Summary: summary, Next: []string{"next of " + class}}}}
	}
	b := &bench{now: 20 * time.Second, lastBad: 15 * time.Second, marks: []*period{{}}}
	b.counts = monitor.Counts{Fields: 1000, Bad: 7}
	b.glance = said("clean", "Nothing wrong to be seen.")
	show := func() monitor.State {
		var st monitor.State
		b.showVerdict(&st, b.glance)
		return st
	}
	if st := show(); st.Heading != "COMES AND GOES" || st.Tone != "fault" || !strings.Contains(st.Sentence, "7 of 1000") || !strings.Contains(st.Next[0], "mark") || b.verdict() != nil {
		t.Errorf("%+v", st)
	}
	b.named = said("ram-bit", "Data bit 3 lane weak (K4).")
	if st := show(); st.Sentence != "Nothing just now; before that data bit 3 lane weak (K4)." || st.Next[0] != "next of ram-bit" || b.verdict() != b.named {
		t.Errorf("%+v", st)
	}
	if line := b.line(); !strings.Contains(line, "COMES AND GOES: Nothing just now") {
		t.Errorf("line %q", line)
	}
	b.now += 2 * time.Minute
	if st := show(); st.Tone != "clean" || len(st.Next) != 0 || st.Sentence != "Nothing wrong to be seen." {
		t.Errorf("two minutes later: %+v", st)
	}
	b.glance = b.named
	if st := show(); st.Tone != "fault" || st.Sentence != "Data bit 3 lane weak (K4)." || b.verdict() != b.named {
		t.Errorf("while it shows: %+v", st)
	}
}

// What the marks did so far goes into the next verdict.
func TestMarksEnterTheVerdict(t *testing.T) {
	watched := func(text string, bad int) *period {
		return &period{Text: text, Watch: rate.Watch{Fields: 3000, Bad: bad, Seconds: 60, Errored: min(bad, 60), WholeSeconds: 60}}
	}
	b := &bench{e: &examination{}, marks: []*period{watched("the beginning", 80), watched("cooled bit 3", 2), watched("let it warm up", 3)}}
	facts := b.marked()
	if len(facts) != 1 || !strings.Contains(facts[0].Text, "mark 'cooled bit 3' (") {
		t.Errorf("%+v", facts)
	}
	b.marks = b.marks[:1]
	if facts := b.marked(); len(facts) != 0 {
		t.Errorf("before there is a mark: %+v", facts)
	}
}
