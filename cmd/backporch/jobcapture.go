package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/report"
	"backporch/video"
)

// folder is where a command puts stills that are to be attached: the user's --out, or one that goes
// away with close when the user named none.
func (a *attachment) folder(out string) (string, error) {
	if a == nil || out != "" {
		return out, nil
	}
	dir, err := os.MkdirTemp("", "backporch-")
	if err != nil {
		return "", fmt.Errorf("making a folder for the stills: %w", plainPath(err))
	}
	a.scratch = dir
	return dir, nil
}

// lasting is where a still lies for good: in the store when the folder that it was written to
// goes away.
func (a *attachment) lasting(path string, stills []job.Still) string {
	if filepath.Dir(path) != filepath.Clean(a.scratch) {
		return path
	}
	for _, k := range stills {
		if k.Name == filepath.Base(path) {
			return a.store.Path(k)
		}
	}
	return path
}

// keepCheck attaches what a check found. The report then names the stills where they lie.
func (a *attachment) keepCheck(ctx context.Context, r *report.Report) error {
	if a == nil {
		return nil
	}
	c, err := checkCapture(r)
	if err != nil {
		return err
	}
	e, err := a.attach(ctx, c)
	if err != nil {
		return err
	}
	for i := range r.Evidence {
		for _, path := range []*string{r.Evidence[i].Still, r.Evidence[i].Annotated} {
			if path != nil {
				*path = a.lasting(*path, e.Stills)
			}
		}
	}
	return nil
}

// checkCapture is a report as a job keeps it.
func checkCapture(r *report.Report) (job.Capture, error) {
	c := job.Capture{
		Command: "check", Source: r.Source.Spec, Measures: measures(r), Screen: screen(r), Meaning: r.Meaning(),
		Verdict: &job.Verdict{Class: r.Verdict.Class, Confidence: r.Verdict.Confidence, Summary: r.Verdict.Summary},
	}
	if r.Source.Device != nil {
		c.Device = *r.Source.Device
	}
	if r.Display != nil {
		c.Display = *r.Display
	}
	if len(r.Verdict.Faults) > 0 && r.Verdict.Faults[0].Class == r.Verdict.Class {
		c.Verdict.Kind, c.Verdict.Part = r.Verdict.Faults[0].Kind, r.Verdict.Faults[0].Part
	}
	// In the kept report stills go by their names: the folder may be gone, the job elsewhere.
	kept := *r
	kept.Evidence = append([]report.Evidence{}, r.Evidence...)
	for i := range kept.Evidence {
		e := &kept.Evidence[i]
		for _, still := range []struct {
			path   **string
			marked bool
		}{{&e.Still, false}, {&e.Annotated, true}} {
			if *still.path == nil {
				continue
			}
			c.Stills = append(c.Stills, job.NewStill{Path: **still.path, Marked: still.marked})
			base := filepath.Base(**still.path)
			*still.path = &base
		}
	}
	var err error
	if c.Report, err = json.Marshal(&kept); err != nil {
		return c, fmt.Errorf("keeping the report: %w", err)
	}
	return c, nil
}

// screen is the text that was read, nil where half of its characters or more could not be.
func screen(r *report.Report) []string {
	read, unread := 0, 0
	for _, c := range strings.Join(r.Grid.Text, "") {
		switch {
		case c == '\uFFFD' || c == '▒':
			unread++
		case c != ' ':
			read++
		}
	}
	if read <= unread {
		return nil
	}
	return r.Grid.Text
}

// measures are the figures of a report, as a job's report names them.
func measures(r *report.Report) []job.Measure {
	var list []job.Measure
	for _, m := range []struct {
		name  string
		value *float64
		unit  string
	}{
		{"signal to noise", r.Signal.SNRdB, "dB"},
		{"jitter of the lines", r.Sync.JitterNs, "ns"},
		{"rise time", r.Signal.RiseNs, "ns"},
		{"overshoot", r.Signal.OvershootPct, "%"},
		{"hum", r.Signal.HumPct, "%"},
		{"fixed bars", r.Signal.FixedBarsPct, "%"},
		{"hue error", r.Signal.HueErrorDeg, "degrees"},
		{"saturation", r.Signal.SaturationPct, "%"},
	} {
		if m.value != nil {
			list = append(list, job.Measure{Name: m.name, Value: m.value, Unit: m.unit})
		}
	}
	return list
}

// keepStill attaches a single still, and says where it lies for good.
func (a *attachment) keepStill(ctx context.Context, path, how string, info video.Info) (string, error) {
	if a == nil {
		return path, nil
	}
	e, err := a.attach(ctx, job.Capture{
		Command: "grab", Source: info.Spec, Device: info.Device, Stills: []job.NewStill{{Path: path, Note: how}},
	})
	if err != nil {
		return path, err
	}
	return a.lasting(path, e.Stills), nil
}

// sameFigure are the names that commands have for one figure, so that a report sets it in one row.
var sameFigure = map[string]string{"jitter": "jitter of the lines", "line jitter": "jitter of the lines", "edge rise time": "rise time"}

// figure is a measure as a job keeps it.
func figure(name string, value *float64, unit, note string) job.Measure {
	if same, ok := sameFigure[name]; ok {
		name = same
	}
	if unit == "deg" {
		unit = "degrees"
	}
	return job.Measure{Name: name, Value: value, Unit: unit, Note: note}
}
