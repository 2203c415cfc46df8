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
	"backporch/analyse/rate"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/patterns"
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

// compared is the change that the stimulus at index i made; nil when one side was not watched long enough to say.
func (b *bench) compared(i int) *rate.Change {
	const shortest = 2 // seconds
	before, after := b.marks[i-1].Watch, b.marks[i].Watch
	if before.Seconds < shortest || after.Seconds < shortest {
		return nil
	}
	c, err := rate.Stimulus(before, after, 0.95)
	if err != nil {
		return nil
	}
	return &c
}

// changeText says what a stimulus did, in a sentence, and whether there are more bad fields, fewer or the same.
func changeText(name string, c *rate.Change) (text, tone string) {
	unit, first, second := "bad field", c.Before.Bad, c.After.Bad
	bursts := ""
	if c.Clumped {
		unit, first, second = "second", c.Before.Errored, c.After.Errored
		bursts = " with bad fields (they come in bursts)"
	}
	if second != 1 {
		unit += "s"
	}
	counts := fmt.Sprintf("%d %s%s in %.0f s since %q, %d in %.0f s before", second, unit, bursts, c.After.Seconds, name, first, c.Before.Seconds)
	more := float64(second)/c.After.Seconds > float64(first)/c.Before.Seconds
	switch {
	case first+second == 0:
		return counts + ".", "same"
	case !c.Changed():
		return fmt.Sprintf("%s: no more than chance (P = %s).", counts, probability(c.P)), "same"
	case more:
		return fmt.Sprintf("More: %s. By chance in %s of cases; %s.", counts, probability(c.P), times(c)), "more"
	}
	return fmt.Sprintf("Fewer: %s. By chance in %s of cases; %s.", counts, probability(c.P), times(c)), "fewer"
}

// times says the ratio of the rates with its interval.
func times(c *rate.Change) string {
	number := func(v float64) string {
		if v >= 10 {
			return fmt.Sprintf("%.0f", v)
		}
		return fmt.Sprintf("%.2g", v)
	}
	switch {
	case c.Low != nil && c.High != nil:
		return fmt.Sprintf("%s to %s times the rate before", number(*c.Low), number(*c.High))
	case c.Low != nil:
		return fmt.Sprintf("at least %s times the rate before", number(*c.Low))
	}
	return "the ratio can't be told"
}

func probability(p float64) string {
	switch {
	case p < 0.0001:
		return "less than 0.01 %"
	case p >= 0.1:
		return fmt.Sprintf("%.0f %%", p*100)
	}
	return fmt.Sprintf("%.2g %%", p*100)
}

// markState is the last mark for the page; mu is held.
func (b *bench) markState() *monitor.Mark {
	m := b.mark1()
	out := &monitor.Mark{Text: m.Text, At: m.At.Format("15:04:05"), Tone: "same"}
	c := b.compared(len(b.marks) - 1)
	if c == nil {
		out.Result = fmt.Sprintf("%q is marked. Comparing takes some seconds before and after.", m.Text)
		return out
	}
	out.Result, out.Tone = changeText(m.Text, c)
	return out
}

// A tested is a stimulus in the JSON at the end.
type tested struct {
	Mark      string     `json:"mark"`
	At        time.Time  `json:"at"`
	Before    rate.Watch `json:"before"`
	After     rate.Watch `json:"after"`
	P         *float64   `json:"p"` // nil: not watched long enough
	Ratio     *float64   `json:"ratio"`
	RatioLow  *float64   `json:"ratio_low_95"`
	RatioHigh *float64   `json:"ratio_high_95"`
	Bursts    bool       `json:"bursts"`
	Changed   bool       `json:"changed"`
	Text      string     `json:"text"`
}

// watched is the last line of watch --json.
type watched struct {
	Kind    string         `json:"kind"` // end
	Source  string         `json:"source"`
	Seconds float64        `json:"seconds"`
	Counts  monitor.Counts `json:"counts"`
	Verdict *string        `json:"verdict"`
	Stimuli []tested       `json:"stimuli"`
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
	out := watched{Kind: "end", Source: b.spec, Seconds: math.Round(max((b.now-b.start).Seconds(), 0)*1000) / 1000, Counts: b.counts, Stimuli: []tested{}}
	for i := 1; i < len(b.marks); i++ {
		m := b.marks[i]
		t := tested{Mark: m.Text, At: m.At, Before: b.marks[i-1].Watch, After: m.Watch}
		if c := b.compared(i); c != nil {
			t.P, t.Ratio, t.RatioLow, t.RatioHigh, t.Bursts, t.Changed = &c.P, c.Ratio, c.Low, c.High, c.Clumped, c.Changed()
			t.Text, _ = changeText(m.Text, c)
		} else {
			t.Text = fmt.Sprintf("%q: too short before or after it to compare", m.Text)
		}
		out.Stimuli = append(out.Stimuli, t)
	}
	b.s.status = statusUndetermined
	if b.glance != nil {
		said := b.glance.said()
		out.Verdict = &said
		b.s.status = statusOf(b.glance.report)
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
	for _, s := range out.Stimuli {
		fmt.Fprintf(&t, "stimulus  %s\n", s.Text)
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
	for _, s := range out.Stimuli {
		c.Text += "\n" + s.Text
		c.Measures = append(c.Measures, job.Measure{Name: "rate of bad fields after '" + s.Mark + "' over that before", Value: s.Ratio, Unit: "times", Note: s.Text})
	}
	if g := b.glance; g != nil {
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
