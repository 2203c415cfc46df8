package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/analyse/survey"
	"backporch/cmd/backporch/internal/exhibit"
	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/term"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/patterns/workbench"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/display"
	"backporch/video/source"
	"backporch/video/waveform"
)

func newCheck(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "check SOURCE",
		Short: "Give the verdict on a capture, its evidence, and what to test next",
		Long: `Check reads a capture and says what the picture points at: a memory bit, the video
logic, the processor side, only the signal path, or nothing wrong; how sure, why, what
is proved good, and what to test next.

SOURCE is a recording (AVI, MKV, MP4), a still (PNG, JPEG), a folder of stills, a
sampled waveform (CSV, WAV, NPY, bare samples), or a capture device by its path or
number. A capture of a good machine with the same screen, given as --reference, makes the
verdict surer. With --out the frame that shows the finding best is kept as it was
captured, beside a marked copy; nothing is overwritten.
With --job verdict, stills and figures go on the time line of a job.

What is known beside the picture enters the sum with --known, once for each fact:

` + knownSummary() + `

BITS are data bits, as in ram-test=fail:3 or swapped=ram:0,3, or colour for the colour
memory; with --board also designators, as in cooled=changed:U14. 'backporch help known'
says what each means. With --job the marks that watch and soak kept there enter the sum
by themselves, such as 'cooled U14' with the bad fields before it and after.

` + statusHelp,
		Example: `  backporch check capture.avi
  backporch check capture.avi --display attr-256x192-50 --board board.toml --out evidence
  backporch check faulty.png --reference good.png
  backporch check capture.avi --known ram-test=fail:3 --known supply=good
  backporch check capture.avi --board board.toml --known cooled=changed:K4
  backporch check /dev/video0 --input 0 --standard pal --seconds 2 --json`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			e, a, status, err := o.judging(c.Context(), s)
			if err != nil {
				return err
			}
			defer a.close()
			marked, err := a.marked(c.Context(), e.board, e.known)
			if err != nil {
				return err
			}
			e.known = append(e.known, marked...)
			r, err := e.check(c.Context(), args[0], status)
			status.Done()
			if err == nil {
				err = a.keepCheck(c.Context(), r)
			}
			if err != nil {
				return err
			}
			s.status = statusOf(r)
			if o.json {
				return r.JSON(s.out)
			}
			return r.Text(s.out, s.style())
		},
	}
	o.addJudging(c)
	o.addKnown(c)
	o.addSeconds(c, 4, "read `N` seconds of the capture")
	o.addWaveform(c)
	o.addJSON(c, "the report as JSON (schema 1)")
	o.addOut(c, "", "keep the evidence stills in the folder `DIR`")
	return c
}

// addJudging adds the flags of what judges captures and keeps that on a job.
func (o *options) addJudging(c *cobra.Command) {
	o.addDisplay(c, "display profile `NAME`; without it the one that fits best")
	c.Flags().StringVar(&o.reference, "reference", "", "capture `FILE` of a good machine that shows the same screen")
	o.addFont(c)
	o.addBoard(c)
	c.Flags().StringVar(&o.fill, "fill", "", "the `BYTE` that all of display memory was filled with")
	o.addDevice(c)
	o.addQuiet(c)
	o.job.add(c)
}

// judging reads those flags. Without --job there is no attachment, and its methods do nothing.
func (o *options) judging(ctx context.Context, s *invocation) (*examination, *attachment, *term.Status, error) {
	e, err := o.examination()
	if err != nil {
		return nil, nil, nil, err
	}
	a, err := o.job.open(ctx, s)
	if err != nil {
		return nil, nil, nil, err
	}
	if e.out, err = a.folder(e.out); err != nil {
		a.close()
		return nil, nil, nil, err
	}
	e.met = a.recognise
	status := term.NewStatus(s.err, o.quiet)
	a.under(status)
	return e, a, status, nil
}

// statusOf is the exit status that a verdict stands for.
func statusOf(r *report.Report) int {
	switch patterns.Class(r.Verdict.Class) {
	case patterns.Clean:
		return statusClean
	case patterns.Undetermined:
		return statusUndetermined
	}
	return statusFault
}

// An examination is all that a check needs besides the capture.
type examination struct {
	profile   *display.Profile // nil: by fit
	displays  []*display.Profile
	font      *display.Font
	board     *workbench.Board
	reference string // "" for none
	fill      *byte
	known     []workbench.Fact
	seconds   float64
	device    capture.DeviceOptions
	waveform  waveform.Options
	out       string // folder for the evidence, "" to keep none
	// met is told of each capture that was measured, before anything is kept of it; nil: nobody asks.
	met func(ctx context.Context, fields []*video.Field, info video.Info, s *analyse.Survey, p *display.Profile) error
}

// examination reads the files that the flags name.
func (o *options) examination() (*examination, error) {
	e := &examination{reference: o.reference, seconds: o.seconds, device: o.device, waveform: o.waveform, out: o.out}
	err := o.checkSeconds()
	if err == nil {
		err = o.checkDevice()
	}
	if err == nil {
		e.profile, err = o.profile()
	}
	if err == nil {
		e.font, err = o.readFont()
	}
	if err == nil {
		e.board, err = o.readBoard()
	}
	if err == nil {
		e.fill, err = o.readFill()
	}
	if err == nil {
		e.known, err = o.readKnown(e.board)
	}
	if err == nil {
		e.displays, err = profiles()
	}
	return e, err
}

// check reads a capture, judges it and keeps the evidence. It is the one path that
// every capture takes, the demo's too.
func (e *examination) check(ctx context.Context, spec string, status *term.Status) (*report.Report, error) {
	keep, err := openFolder(e.out)
	if err != nil {
		return nil, err
	}
	defer keep.leave()
	c, err := readWith(ctx, spec, source.Options{Seconds: e.seconds, Device: e.device, Waveform: e.waveform}, status)
	if err != nil {
		return nil, err
	}
	status.Set("measuring %s", spec)
	profile := e.profile
	var measured, reference *analyse.Survey
	if profile == nil || e.reference == "" {
		if measured, profile, err = e.survey(c, profile); err != nil {
			return nil, err
		}
	}
	if e.reference != "" {
		if reference, err = e.surveyReference(ctx, profile, status); err != nil {
			return nil, err
		}
		// A good machine's capture says which colours are meant, and the two are laid over each other where the place of either is in doubt.
		measured, _, err = survey.Run(c.fields, c.info, survey.Options{
			Display: profile, Font: e.font, Reference: reference, Moved: func(r *analyse.Survey) { reference = r },
		})
		if err != nil {
			return nil, fmt.Errorf("measuring %s: %w", spec, err)
		}
	}
	verdict := judge.Classify(measured, profile, judge.Options{
		Reference: reference, Fill: e.fill, Board: e.board, Known: e.known,
	})
	c.info.Notes = append(c.info.Notes, aboutFrames(measured)...)
	r := report.New(report.Finding{
		Tool: toolVersion(), Info: c.info, Frames: len(c.frames), Bad: c.bad,
		Survey: measured, Profile: profile, Board: e.board, Verdict: verdict,
	})
	if e.met != nil {
		if err := e.met(ctx, c.fields, c.info, measured, profile); err != nil {
			return nil, err
		}
	}
	f := exhibit.Finding{Fields: c.fields, Survey: measured, Reference: reference, Profile: profile, Verdict: verdict}
	if err := keep.evidence(r, c, f); err != nil {
		return nil, err
	}
	return r, nil
}

// survey measures footage; with p nil the display is the one that fits best.
func (e *examination) survey(c *footage, p *display.Profile) (*analyse.Survey, *display.Profile, error) {
	s, p, err := survey.Run(c.fields, c.info, survey.Options{Display: p, Displays: e.displays, Font: e.font})
	if err != nil {
		return nil, nil, fmt.Errorf("measuring %s: %w", c.info.Spec, err)
	}
	return s, p, nil
}

// surveyReference measures the capture of the good machine the same way.
func (e *examination) surveyReference(ctx context.Context, p *display.Profile, status *term.Status) (*analyse.Survey, error) {
	c, err := readSource(ctx, e.reference, e.seconds, status)
	if err != nil {
		return nil, fmt.Errorf("--reference: %w", err)
	}
	s, _, err := e.survey(c, p)
	if err != nil {
		return nil, fmt.Errorf("--reference: %w", err)
	}
	if !s.Registration.OK {
		return nil, withHint(fmt.Errorf("--reference %s: its picture could not be placed: %s", e.reference, s.Registration.Reason),
			"give a capture of a good machine, or leave --reference out")
	}
	return s, nil
}
