package main

import (
	"context"
	"errors"
	"fmt"

	"backporch/analyse"
	"backporch/analyse/retention"
	"backporch/analyse/survey"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns/judge"
	"backporch/patterns/workbench"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/live"
)

// A powerFinding is what powerup says.
type powerFinding struct {
	Schema    int               `json:"schema"`
	Source    string            `json:"source"`
	Display   *string           `json:"display"`
	Runs      []runJSON         `json:"power_ups"`
	Lanes     []laneJSON        `json:"lanes"` // over the power-ups; empty with fewer than two
	Changing  *float64          `json:"changing"`
	Word      string            `json:"word"` // changes, same, or undetermined
	Summary   string            `json:"summary"`
	Verdict   *string           `json:"verdict"` // of the last power-up
	Retention *retention.Result `json:"retention"`
	Decay     string            `json:"-"`              // the summary, of retention
	Part      string            `json:"part,omitempty"` // of the weakest lane

	status  int
	machine struct { // of the first power-up that could be read
		fields  []*video.Field
		survey  *analyse.Survey
		profile *display.Profile
	}
}

// A runJSON is one time with a picture.
type runJSON struct {
	Start float64  `json:"start_s"`
	End   float64  `json:"end_s"`
	Off   *float64 `json:"off_before_s"` // without a picture before it; nil: not seen
	Read  bool     `json:"read"`         // its memory could be read
}

// A laneJSON is how one data bit differs between power-ups.
type laneJSON struct {
	Bit     int `json:"bit"`
	Changed int `json:"changed"` // bits that differ between neighbouring power-ups
	Of      int `json:"of"`
}

// judge surveys the power-ups and compares them.
func (k *poweringUp) judge(e *examination, runs []*powerRun, stream *live.Reader) (*powerFinding, error) {
	f := &powerFinding{Schema: 1, Runs: []runJSON{}, Lanes: []laneJSON{}, Word: "undetermined", status: statusUndetermined}
	var profile *display.Profile
	read := func(r *powerRun, last bool) (*analyse.Survey, error) {
		fields := r.fields(last, stream.Info())
		if len(fields) == 0 {
			return nil, nil
		}
		o := survey.Options{Display: e.profile, Displays: e.displays, Font: e.font}
		if profile != nil {
			o.Display = profile // the machine stays the same
		}
		s, p, err := survey.Run(fields, stream.Info(), o)
		if err != nil {
			return nil, fmt.Errorf("measuring %s: %w", stream.Info().Spec, err)
		}
		if s.Registration.OK && profile == nil {
			profile = p
			f.Display = &p.Name
		}
		if s.Memory == nil || !s.Registration.OK {
			return nil, nil
		}
		if m := &f.machine; m.survey == nil {
			m.fields, m.survey, m.profile = fields, s, p
		}
		return s, nil
	}
	first := make([]*analyse.Survey, len(runs))
	last := make([]*analyse.Survey, len(runs))
	for i, r := range runs {
		var err error
		if first[i], err = read(r, false); err != nil {
			return nil, err
		}
		if k.retention && i+1 < len(runs) {
			if last[i], err = read(r, true); err != nil {
				return nil, err
			}
		}
		f.Runs = append(f.Runs, runJSON{Start: r.start.Seconds(), End: r.end.Seconds(), Off: r.off, Read: first[i] != nil})
	}
	if !k.retention { // there the screen is written, and what differs has decayed
		f.compare(first)
	}
	for i := len(first) - 1; i >= 0 && profile != nil; i-- {
		if first[i] == nil {
			continue
		}
		v := judge.Classify(first[i], profile, judge.Options{Fill: e.fill, Board: e.board})
		r := report.New(report.Finding{Tool: toolVersion(), Info: stream.Info(), Survey: first[i], Profile: profile, Board: e.board, Verdict: v})
		said := r.Heading() + ": " + r.Sentence()
		f.Verdict = &said
		break
	}
	if k.retention && profile != nil {
		f.decay(runs, first, last, profile, e.board)
	} else if k.retention {
		f.Decay = "No picture could be read before or after a time without power."
	}
	if k.retention {
		f.Summary = f.Decay
	} else if f.Word == "changes" && short(runs) {
		f.Summary += " Some times without power were short, so memory may have kept a part: leave it off for a minute each time to be sure."
	}
	return f, nil
}

// short tells whether memory may have outlasted a time without power.
func short(runs []*powerRun) bool {
	const outlasts = 10 // seconds; most cells hold for some
	for _, r := range runs {
		if r.off != nil && *r.off < outlasts {
			return true
		}
	}
	return false
}

// sureBit are the odds, as a logarithm, from which a bit of a power-up counts: 20 to 1.
const sureBit = 3

// compare counts the bits that differ between neighbouring power-ups.
func (f *powerFinding) compare(all []*analyse.Survey) {
	var read []*analyse.Memory
	for _, s := range all {
		if s != nil {
			read = append(read, s.Memory)
		}
	}
	if len(read) < 2 {
		f.Summary = "One power-up alone can't be compared: record two or more."
		if len(read) == 0 {
			f.Summary = "No picture stood still long enough to be read."
		}
		return
	}
	changed, of := 0, 0
	for bit := 7; bit >= 0; bit-- {
		l := laneJSON{Bit: bit}
		for i := 1; i < len(read); i++ {
			a, b := read[i-1], read[i]
			for at := range min(len(a.Bytes), len(b.Bytes)) {
				if a.Seen[at]&b.Seen[at]>>bit&1 == 0 || a.Odds[at*8+bit] < sureBit || b.Odds[at*8+bit] < sureBit {
					continue
				}
				l.Of++
				l.Changed += int((a.Bytes[at] ^ b.Bytes[at]) >> bit & 1)
			}
		}
		changed, of = changed+l.Changed, of+l.Of
		f.Lanes = append(f.Lanes, l)
	}
	if of == 0 {
		f.Summary = "Hardly a bit of the memory could be read with certainty."
		return
	}
	share := float64(changed) / float64(of)
	f.Changing = &share
	f.judgeChange(len(read), share)
}

// Shares of bits that differ between power-ups. Two readings of one picture differ in some tenths of a per cent
// at most; cells that wake either way are some per cent of a chip. Common practice, no source.
const (
	sameShare    = 0.003
	changedShare = 0.01
)

func (f *powerFinding) judgeChange(n int, share float64) {
	lanes := 0
	only := -1
	for _, l := range f.Lanes {
		if l.Of > 0 && float64(l.Changed) > changedShare*float64(l.Of) {
			lanes++
			only = l.Bit
		}
	}
	switch {
	case lanes >= 4 && share > changedShare:
		f.Word, f.status = "changes", statusFault
		f.Summary = fmt.Sprintf("It changes each time (%.1f %% of the bits, in %d lanes): memory that nothing has written. The display side reads; look at the processor side.", share*100, lanes)
	case lanes > 0:
		f.Word, f.status = "changes", statusFault
		f.Summary = fmt.Sprintf("Only %d of the 8 lanes change from one power-up to the next (bit %d among them), the others are the same each time: a weak lane, not unwritten memory.", lanes, only)
	case share < sameShare:
		f.Word, f.status = "same", statusClean
		f.Summary = fmt.Sprintf("All %d power-ups show the same: a program writes this screen. What is wrong in it is a line or a lane, not unwritten memory.", n)
	default:
		f.Summary = fmt.Sprintf("%.2f %% of the bits differ between power-ups: too few for unwritten memory, too many for misreading alone. Record more of them.", share*100)
	}
}

// timeToLock is how long a device takes at most to show a picture again, seconds: a field rate that has to be found anew and
// some fields of lock (common practice, no source).
const timeToLock = 0.3

// decay estimates retention over the times without power.
func (f *powerFinding) decay(runs []*powerRun, first, last []*analyse.Survey, p *display.Profile, board *workbench.Board) {
	var trials []retention.Trial
	for i := 1; i < len(runs); i++ {
		if last[i-1] != nil && first[i] != nil && runs[i].off != nil {
			trials = append(trials, retention.Trial{
				Off: *runs[i].off, Before: last[i-1].Memory, After: first[i].Memory, Usable: sameColours(last[i-1], first[i], p),
			})
		}
	}
	r, err := retention.Estimate(trials, p, retention.Options{Late: timeToLock})
	switch {
	case errors.Is(err, retention.ErrNoTrial):
		f.Decay = "There is no time without power with a picture on either side."
		return
	case errors.Is(err, retention.ErrNoRest):
		f.Decay = "What memory reads at rest is not known: switch off once for three times as long as the longest of the others, or more."
		return
	case err != nil:
		f.Decay = err.Error()
		return
	}
	f.Retention = r
	if r.Weakest == nil {
		f.Decay = "No lane stands out."
		if measured(r) {
			f.status = statusClean
		}
		if len(r.Reasons) > 0 {
			f.Decay = capitalised(r.Reasons[len(r.Reasons)-1]) + "."
		}
		return
	}
	name := fmt.Sprintf("bit %d", *r.Weakest)
	if board != nil {
		if f.Part = board.Bits[*r.Weakest]; f.Part != "" {
			name += " (" + f.Part + ")"
		}
	}
	f.Decay = fmt.Sprintf("The lane of %s loses its memory %.1f times as fast as the others. It still works when refreshed; in trouble it is the first to suspect.", name, *r.Ratio)
	f.status = statusFault
}

// sameColours are the bitmap's addresses in the cells that show the same two colours before and after: where the
// colour byte has decayed, which colour is ink is not known, nor is what the bitmap holds. Nil on a character
// display, whose codes are read by themselves.
func sameColours(before, after *analyse.Survey, p *display.Profile) []bool {
	if p.Kind != display.Attr {
		return nil
	}
	usable := make([]bool, p.Size())
	for i := range min(len(before.Cells), len(after.Cells)) {
		a, b := &before.Cells[i], &after.Cells[i]
		if a.Single || b.Single || a.Third || b.Third || a.Flash || b.Flash || a.Ink != b.Ink || a.Paper != b.Paper || a.Ink < 0 || a.Paper < 0 {
			continue
		}
		for y := range display.CellSize {
			usable[p.BitmapAddress(a.Row*display.CellSize+y, a.Column)] = true
		}
	}
	return usable
}

// measured tells whether the time of every lane was found.
func measured(r *retention.Result) bool {
	for _, l := range r.Lanes {
		if l.Median == nil {
			return false
		}
	}
	return true
}

// attach keeps it on the job.
func (f *powerFinding) attach(ctx context.Context, onJob *attachment) error {
	if onJob == nil {
		return nil
	}
	body, err := jsonOf(f)
	if err != nil {
		return err
	}
	c := job.Capture{Command: "powerup", Source: f.Source, Report: body, Text: f.Summary}
	if f.Display != nil {
		c.Display = *f.Display
	}
	if f.Retention != nil {
		for _, l := range f.Retention.Lanes {
			c.Measures = append(c.Measures, job.Measure{Name: fmt.Sprintf("memory of bit %d without power, median", l.Bit), Value: l.Median, Unit: "s", Note: laneSaid(&l)})
		}
	}
	_, err = onJob.attach(ctx, c)
	return err
}
