package main

import (
	"context"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/analyse/fingerprint"
	"backporch/analyse/survey"
	"backporch/cmd/backporch/internal/comparison"
	"backporch/cmd/backporch/internal/exhibit"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/term"
	"backporch/patterns"
	"backporch/patterns/change"
	"backporch/patterns/judge"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/source"
	"backporch/video/still"
)

func newCompare(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "compare BEFORE AFTER",
		Short: "Say what a repair has come to: fixed, better, same, worse, or another fault",
		Long: `Compare reads two captures of one machine, lays them over each other, and says in one
word what became of the fault: fixed, better, same, worse, or another fault; how sure,
and measure by measure. It warns when the two do not show the same screen, or do not
come from the same machine. With --out both pictures are kept side by side, with what
they differ in outlined.

BEFORE and AFTER are what SOURCE is to check. The same screen in both, best a test
screen, makes the word surest; a second or two of recording says more than a still.

Exit status:
  0  done, and nothing wrong after the repair
  1  done, a fault is still there, or a new one
  2  could not run: usage, input or device
  3  done, but the captures do not settle it`,
		Example: `  backporch compare faulty.png good.png
  backporch compare faulty.png good.png --display attr-256x192-50 --out evidence
  backporch compare faulty.png good.png --json`,
		Args: exactly("BEFORE", "AFTER"),
		RunE: func(c *cobra.Command, args []string) error {
			e, a, status, err := o.judging(c.Context(), s)
			if err != nil {
				return err
			}
			defer a.close()
			found, err := e.compare(c.Context(), args[0], args[1], status)
			status.Done()
			if err != nil {
				return err
			}
			if err := a.keepComparison(c.Context(), found); err != nil {
				return err
			}
			s.status = comparisonStatus(found)
			if o.json {
				return found.JSON(s.out)
			}
			return found.Text(s.out, s.style())
		},
	}
	o.addJudging(c)
	o.addSeconds(c, 2, "read `N` seconds of each capture")
	o.addJSON(c, "the comparison as JSON (schema 1 of its own)")
	o.addOut(c, "", "keep the pictures side by side in the folder `DIR`")
	return c
}

func comparisonStatus(c *comparison.Comparison) int {
	switch {
	case c.Word == string(change.Undetermined):
		return statusUndetermined
	case c.After.Verdict.Class == string(patterns.Clean):
		return statusClean
	}
	return statusFault
}

// A take is one capture with all that was made of it.
type take struct {
	footage *footage
	survey  *analyse.Survey
	verdict *patterns.Verdict
	print   *fingerprint.Print
}

// compare reads both captures, judges them, and keeps the pair of pictures.
func (e *examination) compare(ctx context.Context, before, after string, status *term.Status) (*comparison.Comparison, error) {
	keep, err := openFolder(e.out)
	if err != nil {
		return nil, err
	}
	defer keep.leave()
	var takes [2]take
	for i, spec := range []string{before, after} {
		device := e.device // refused by what is none
		if isDevice(before) || isDevice(after) {
			device = e.deviceFor(spec)
		}
		if takes[i].footage, err = readWith(ctx, spec, source.Options{Seconds: e.seconds, Device: device}, status); err != nil {
			return nil, fmt.Errorf("%s: %w", sides[i], err)
		}
	}
	b, a := &takes[0], &takes[1]
	if u, v := b.footage.info.Standard, a.footage.info.Standard; u != v && u != video.UnknownStandard && v != video.UnknownStandard {
		return nil, withHint(fmt.Errorf("comparing %s and %s: one is %s, the other %s: no machine changes that", before, after, u, v), "give two captures of one machine")
	}
	status.Set("measuring %s and %s", before, after)
	profile, err := e.surveyBoth(b, a)
	if err != nil {
		return nil, err
	}
	if err := e.classifyBoth(ctx, b, a, profile, status); err != nil {
		return nil, err
	}
	if e.met != nil {
		if err := e.met(ctx, a.footage.fields, a.footage.info, a.survey, profile); err != nil {
			return nil, err
		}
	}
	status.Set("telling the machines apart")
	for i := range takes {
		if t := &takes[i]; t.survey.Sync.State != analyse.NoSignal {
			t.print = fingerprint.Take(t.footage.fields, t.footage.info, t.survey, profile)
		}
	}
	j := change.Judge(change.Side{Survey: b.survey, Verdict: b.verdict, Print: b.print}, change.Side{Survey: a.survey, Verdict: a.verdict, Print: a.print}, profile)
	found := comparison.New(toolVersion(), e.report(b, profile), e.report(a, profile), j, [2]*fingerprint.Print{b.print, a.print})
	return found, keep.pair(found, b, a, j, profile)
}

var sides = [2]string{"BEFORE", "AFTER"}

// surveyBoth measures both with one display, and lays them over each other where a place is in
// doubt. The display is that of the side that shows more of one.
func (e *examination) surveyBoth(b, a *take) (*display.Profile, error) {
	var fits [2]*display.Profile
	var err error
	for i, t := range []*take{b, a} {
		if t.survey, fits[i], err = e.survey(t.footage, e.profile); err != nil {
			return nil, err
		}
	}
	profile := fits[1]
	if fits[0] != fits[1] {
		again := b
		if ra, rb := a.survey.Registration, b.survey.Registration; !ra.OK && rb.OK || ra.OK && rb.OK && rb.ResidualPx < ra.ResidualPx {
			profile, again = fits[0], a
		}
		if again.survey, _, err = e.survey(again.footage, profile); err != nil {
			return nil, err
		}
	}
	if len(b.survey.Registration.Shifts) <= 1 && len(a.survey.Registration.Shifts) <= 1 {
		return profile, nil
	}
	a.survey, _, err = survey.Run(a.footage.fields, a.footage.info, survey.Options{
		Display: profile, Font: e.font, Reference: b.survey, Moved: func(s *analyse.Survey) { b.survey = s },
	})
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", a.footage.info.Spec, err)
	}
	return profile, nil
}

// classifyBoth gives both verdicts. Where one side is good and shows the other's screen, it is the best
// reference that the other can have.
func (e *examination) classifyBoth(ctx context.Context, b, a *take, p *display.Profile, status *term.Status) error {
	var reference *analyse.Survey
	var err error
	if e.reference != "" {
		if reference, err = e.surveyReference(ctx, p, status); err != nil {
			return err
		}
	}
	judge := func(t *take, reference *analyse.Survey) {
		t.verdict = judge.Classify(t.survey, p, judge.Options{Reference: reference, Fill: e.fill, Board: e.board})
	}
	judge(b, reference)
	judge(a, reference)
	if reference != nil || !change.SameScreen(b.survey, a.survey, p) {
		return nil
	}
	switch {
	case a.verdict.Class == patterns.Clean:
		judge(b, a.survey)
	case b.verdict.Class == patterns.Clean:
		judge(a, b.survey)
	}
	return nil
}

func (e *examination) report(t *take, p *display.Profile) *report.Report {
	return report.New(report.Finding{
		Tool: toolVersion(), Info: t.footage.info, Frames: len(t.footage.frames), Bad: t.footage.bad,
		Survey: t.survey, Profile: p, Board: e.board, Verdict: t.verdict,
	})
}

const pairEnding = "-compared.png"

// pair keeps both pictures side by side.
func (f *folder) pair(c *comparison.Comparison, before, after *take, j *change.Judgement, p *display.Profile) error {
	if f == nil {
		return nil
	}
	view := func(t *take) still.View {
		field, _ := t.footage.shown(t.survey)
		v := still.View{Field: field}
		if t.survey.Stack != nil && t.survey.Sync.State == analyse.Locked {
			v.Field = exhibit.FieldOf(t.survey.Stack)
		}
		var regions []patterns.Region
		switch most := 10*len(j.Differences) >= 5*j.Cells; {
		case j.Cells == 0:
		case most && j.Lane != nil:
			regions = change.Columns(*j.Lane, t.survey.Registration, p, fmt.Sprintf("bit %d", 7-*j.Lane))
		case most: // outlines of nearly everything would hide it
			regions = change.Around(j.Differences, t.survey.Registration)
		default:
			regions = change.Regions(j.Differences, t.survey.Registration, "")
		}
		for _, r := range regions {
			v.Regions = append(v.Regions, still.Region(r))
		}
		return v
	}
	path := free(filepath.Join(f.path, stem(c.Before.Source.Spec)+"-"+stem(c.After.Source.Spec)), pairEnding) + pairEnding
	sha, err := still.SavePair(path, c.Pair(view(before), view(after)))
	if err != nil {
		return fmt.Errorf("keeping the pictures: %w", err)
	}
	c.Still, c.SHA256 = &path, &sha
	return nil
}

// keepComparison attaches what compare found.
func (a *attachment) keepComparison(ctx context.Context, c *comparison.Comparison) error {
	if a == nil {
		return nil
	}
	v := c.After.Verdict
	kept := job.Capture{
		Command: "compare", Source: c.After.Source.Spec, Warnings: c.Warnings,
		Verdict:    &job.Verdict{Class: v.Class, Confidence: v.Confidence, Summary: v.Summary},
		Comparison: &job.Comparison{Word: c.Word, Confidence: c.Confidence, Before: c.Before.Source.Spec, After: c.After.Source.Spec, Summary: c.Summary},
	}
	if c.After.Source.Device != nil {
		kept.Device = *c.After.Source.Device
	}
	if c.Display != nil {
		kept.Display = *c.Display
	}
	if len(v.Faults) > 0 && v.Faults[0].Class == v.Class {
		kept.Verdict.Kind, kept.Verdict.Part = v.Faults[0].Kind, v.Faults[0].Part
	}
	for _, m := range c.Measures {
		if m.After != nil {
			kept.Measures = append(kept.Measures, figure(m.Name, m.After, m.Unit, ""))
		}
	}
	if c.Still != nil {
		kept.Stills = []job.NewStill{{Path: *c.Still, Marked: true, Note: "before and after: " + c.Word}}
	}
	var err error
	if kept.Report, err = c.Raw(); err != nil {
		return err
	}
	e, err := a.attach(ctx, kept)
	if err != nil {
		return err
	}
	if c.Still != nil {
		*c.Still = a.lasting(*c.Still, e.Stills)
	}
	return nil
}
