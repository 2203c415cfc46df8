package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"backporch/analyse/drift"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/stimulus"
	"backporch/patterns"
	"backporch/patterns/workbench"
)

// A happening is a line of watch --json.
type happening struct {
	At    time.Time `json:"at"`
	TimeS float64   `json:"time_s"` // on the source's time line
	Kind  string    `json:"kind"`   // picture, verdict, note, mark
	Text  string    `json:"text"`
	More  any       `json:"detail,omitempty"`
}

func writeLine(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// An occurrence is an episode in the JSON.
type occurrence struct {
	Kind   drift.Kind `json:"kind"`
	Start  float64    `json:"start_s"`
	Fields int        `json:"fields"`
	Places int        `json:"places"`
	X      int        `json:"x"`
	Y      int        `json:"y"`
	W      int        `json:"w"`
	H      int        `json:"h"`
	Shift  int        `json:"shift_lines,omitempty"`
}

func occurred(e *drift.Episode) occurrence {
	return occurrence{e.Kind, e.Start.Seconds(), e.Fields, e.Blocks, e.Where.X, e.Where.Y, e.Where.W, e.Where.H, e.Shift}
}

// episodeText says what happened to the picture.
func episodeText(e *drift.Episode) string {
	words := map[drift.Kind]string{
		drift.BadField: "part of the picture was wrong", drift.Border: "the border changed", drift.Changed: "the picture changed and stayed so",
		drift.Frozen: "the capture device repeated one frame", drift.LostLock: "the picture lost its lock", drift.NoSignal: "no signal",
	}
	text := words[e.Kind]
	switch {
	case e.Kind == drift.Changed:
	case e.Fields == 1:
		text += " for one field"
	default:
		text += fmt.Sprintf(" for %d fields (%.1f s)", e.Fields, (e.End-e.Start).Seconds()+0.02)
	}
	if e.Shift != 0 {
		text += fmt.Sprintf(", displaced by %d lines", e.Shift)
	}
	return text
}

// result is what the stimulus at index i did.
func (b *bench) result(i int) stimulus.Result {
	m := b.marks[i]
	return stimulus.New(m.Text, m.At, b.marks[i-1].Watch, m.Watch)
}

// marked is what the marks say so far, as facts for a verdict; mu is held.
func (b *bench) marked() []workbench.Fact {
	const most = 20 // marks, the last ones
	var list []workbench.Stimulus
	for i := max(1, len(b.marks)-most); i < len(b.marks); i++ {
		list = append(list, workbench.Stimulus{Mark: b.marks[i].Text, Before: b.marks[i-1].Watch, After: b.marks[i].Watch})
	}
	facts, _ := workbench.MarkFacts(list, b.e.board, nil)
	return facts
}

// markState is the last mark for the page; mu is held.
func (b *bench) markState() *monitor.Mark {
	m := b.mark1()
	r := b.result(len(b.marks) - 1)
	if r.P == nil {
		r.Text = fmt.Sprintf("%q is marked. Comparing takes some seconds before and after.", m.Text)
	}
	return &monitor.Mark{Text: m.Text, At: m.At.Format("15:04:05"), Result: r.Text, Tone: string(r.Tone)}
}

// watched is the last line of watch --json.
type watched struct {
	Kind    string            `json:"kind"` // end
	Source  string            `json:"source"`
	Seconds float64           `json:"seconds"`
	Counts  monitor.Counts    `json:"counts"`
	Verdict *string           `json:"verdict"`
	Stimuli []stimulus.Result `json:"stimuli"`
}

// end says what came of it, and keeps that on the job.
func (b *bench) end(ctx context.Context) error {
	b.surveys.Wait()
	b.mu.Lock()
	defer b.mu.Unlock()
	select {
	case g := <-b.seen:
		b.judged(g)
	default:
	}
	if e := b.tracker.End(); e != nil {
		b.tell("picture", episodeText(e), occurred(e))
	}
	out := watched{Kind: "end", Source: b.spec, Seconds: math.Round(max((b.now-b.start).Seconds(), 0)*1000) / 1000, Counts: b.counts, Stimuli: []stimulus.Result{}}
	for i := 1; i < len(b.marks); i++ {
		out.Stimuli = append(out.Stimuli, b.result(i))
	}
	b.s.status = statusUndetermined
	if g := b.verdict(); g != nil {
		said := g.said()
		out.Verdict = &said
		b.s.status = statusOf(g.report)
	}
	if b.counts.Events > 0 {
		b.s.status = statusFault
	}
	if b.json {
		b.failed = errors.Join(b.failed, writeLine(b.s.out, out))
	} else {
		b.failed = errors.Join(b.failed, b.closing(out))
	}
	return errors.Join(b.failed, b.attach(ctx, out))
}

func (b *bench) closing(out watched) error {
	var t strings.Builder
	fmt.Fprintf(&t, "\nwatched   %.0f s: %d fields checked, %d bad, %d lost, %d events\n", out.Seconds, out.Counts.Fields, out.Counts.Bad, out.Counts.Lost, out.Counts.Events)
	if out.Counts.Fields == 0 {
		fmt.Fprintf(&t, "%-10s%s\n", "", "nothing was checked: to learn a picture takes two seconds of one that stands still")
	}
	for _, s := range out.Stimuli {
		label := "stimulus"
		for _, l := range report.Wrap(s.Text, max(b.s.style().Width-10, 30)) {
			fmt.Fprintf(&t, "%-10s%s\n", label, l)
			label = ""
		}
	}
	_, err := io.WriteString(b.s.out, t.String())
	return err
}

// attach keeps the stimuli on the job as evidence; stills went there when they were kept.
func (b *bench) attach(ctx context.Context, out watched) error {
	if b.onJob == nil || b.counts.Fields == 0 {
		return nil
	}
	body, err := json.Marshal(out)
	if err != nil {
		return err
	}
	c := job.Capture{Command: "watch", Source: b.spec, Report: body, Text: fmt.Sprintf("watched for %.0f s: %d of %d fields bad, %d events", out.Seconds, out.Counts.Bad, out.Counts.Fields, out.Counts.Events)}
	c.Stimuli = kept(out.Stimuli)
	for _, s := range out.Stimuli {
		c.Text += "\n" + s.Text
	}
	if g := b.verdict(); g != nil {
		v := &g.report.Verdict
		if g.report.Display != nil {
			c.Display = *g.report.Display
		}
		if v.Class != string(patterns.Undetermined) {
			c.Verdict = &job.Verdict{Class: v.Class, Confidence: v.Confidence, Summary: v.Summary}
		}
	}
	_, err = b.onJob.attach(ctx, c)
	return err
}

// verdict is the glance that stands for all that was watched: a last second without a fault is no verdict on a
// picture that had one. Nil: none stands.
func (b *bench) verdict() *glance {
	if b.glance != nil && b.glance.report.Verdict.Class == string(patterns.Clean) && b.counts.Bad > 0 {
		return b.named
	}
	return b.glance
}

// kept are stimuli as a job keeps them.
func kept(list []stimulus.Result) []job.Stimulus {
	var out []job.Stimulus
	for _, r := range list {
		out = append(out, job.Stimulus{Mark: r.Mark, At: r.At, Before: r.Before, After: r.After})
	}
	return out
}
