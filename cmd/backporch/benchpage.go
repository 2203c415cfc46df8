package main

import (
	"fmt"
	"strings"
	"time"

	"backporch/analyse/drift"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/patterns"
)

// lockWords say the state of lock; those that are not here are locked.
var lockWords = map[drift.Kind]string{
	drift.Learning: "learning the picture", drift.NoSignal: "no signal", drift.LostLock: "not locked", drift.Frozen: "frozen by the device",
}

func (b *bench) lockText() string {
	switch words, lost := lockWords[b.lock]; {
	case b.away != "":
		return b.away
	case lost:
		return words
	case b.lock == drift.Good:
		return "locked, steady"
	}
	return "locked, changing"
}

// line is the state in one line.
func (b *bench) line() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	verdict := "no verdict yet"
	if b.glance != nil {
		heading, summary := b.says()
		verdict = heading + ": " + strings.TrimSuffix(summary, ".")
	}
	changed := "nothing changed"
	for _, e := range b.strip {
		if e.Kind == "picture" {
			changed = "last " + e.At + " " + e.Text
			break
		}
	}
	return fmt.Sprintf("%s | %s | %s | %d bad, %d lost", b.lockText(), verdict, changed, b.counts.Bad, b.counts.Lost)
}

var toneNames = map[string]string{string(patterns.Clean): "clean", string(patterns.Undetermined): "unsure"}

// show gives the page its state; mu is held.
func (b *bench) show() {
	if b.page == nil {
		return
	}
	st := monitor.State{
		Source: b.spec, Tool: toolVersion(), Lock: "locked", LockText: b.lockText(), Tone: "unsure", Heading: "Looking",
		Sentence: "The picture is being learned.", Counts: b.counts, Bad: b.bad, Strip: b.strip, Ticks: b.counts.Bad, Changes: b.changes,
	}
	switch {
	case b.away != "":
		st.Lock = "gone"
	case b.lock == drift.Learning:
		st.Lock = "learning"
	case lockWords[b.lock] != "":
		st.Lock = string(b.lock)
	}
	if b.onJob != nil {
		st.Job = fmt.Sprintf("job %d", b.onJob.job.ID)
	}
	if g := b.glance; g != nil {
		b.showVerdict(&st, g)
	}
	if len(b.marks) > 1 {
		st.Mark = b.markState()
	}
	b.page.Set(st)
}

// recently is how long a bad field keeps a picture from being called clean.
const recently = time.Minute

// comesAndGoes tells whether the last second shows nothing wrong, though there were bad fields not long ago.
func (b *bench) comesAndGoes() bool {
	return b.glance != nil && b.glance.report.Verdict.Class == string(patterns.Clean) && b.counts.Bad > 0 && b.now-b.lastBad < recently
}

// says is the verdict in a heading and a sentence; there is a glance.
func (b *bench) says() (heading, sentence string) {
	switch {
	case !b.comesAndGoes():
		return b.glance.report.Heading(), b.glance.report.Verdict.Summary
	case b.named != nil:
		return "COMES AND GOES", "Nothing just now; before that " + lowered(b.named.report.Verdict.Summary)
	}
	return "COMES AND GOES", fmt.Sprintf("Nothing just now, but %d of %d fields were bad.", b.counts.Bad, b.counts.Fields)
}

// lowered begins a sentence as a part of another.
func lowered(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' { // an abbreviation
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func (b *bench) showVerdict(st *monitor.State, g *glance) {
	v := &g.report.Verdict
	st.Tone = "fault"
	if t, ok := toneNames[v.Class]; ok && !b.comesAndGoes() {
		st.Tone = t
	}
	st.Heading, st.Sentence = b.says()
	st.Good, st.Next = v.Good, v.Next
	switch {
	case b.comesAndGoes() && b.named != nil:
		st.Next = b.named.report.Verdict.Next
	case b.comesAndGoes():
		st.Next = []string{"cool, press or reseat one part at a time, and mark each time what you did: the rate of bad fields tells whether it mattered"}
	case v.Class == string(patterns.Clean):
		st.Next = nil // it asks for a reference, which watch does not take
	}
	if g.columns > 0 {
		r := g.report.Registration
		st.Grid = &monitor.Grid{
			X: *r.OriginX, Y: *r.OriginY, W: float64(g.picture.W), H: float64(g.picture.H), Columns: g.columns, Rows: g.rows,
		}
	}
	for _, r := range g.regions {
		st.Regions = append(st.Regions, monitor.Region{X: r.X, Y: r.Y, W: r.W, H: r.H, Label: r.Label})
	}
	if b.lock == drift.NoSignal || b.away != "" { // what was said of the picture is of another one
		st.Tone, st.Heading, st.Sentence = "unsure", "No picture now", "Before: "+v.Summary
	}
}
