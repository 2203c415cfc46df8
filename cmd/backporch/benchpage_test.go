package main

import (
	"strings"
	"testing"
	"time"

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
