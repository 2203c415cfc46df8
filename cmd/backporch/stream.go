package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/analyse/drift"
	"backporch/analyse/survey"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/patterns/workbench"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/display"
	"backporch/video/live"
	"backporch/video/source"
)

// streaming says how a source is read by the commands that look at every field.
type streaming struct {
	loop   bool // a recording begins again when it has ended
	pace   bool // a recording comes at its own speed
	device capture.DeviceOptions
	late   int // frames that may wait for us; 0: every frame of a recording, the latest of a device
}

// mostSeconds is a month.
const mostSeconds = 31 * 24 * 3600

// addLasting adds the flags of what looks at a source for as long as it is left running.
func (o *options) addLasting(c *cobra.Command) {
	o.addDisplay(c, "display profile `NAME`; without it the one that fits best")
	o.addFont(c)
	o.addBoard(c)
	o.addSeconds(c, 0, "watch `N` seconds once the picture is learned; 0: until interrupted, a recording to its end")
}

// lasting reads those flags; limit is in seconds, 0 for no end.
func (o *options) lasting() (e *examination, limit float64, err error) {
	limit = o.seconds
	if !(limit >= 0 && limit <= mostSeconds) {
		return nil, 0, fmt.Errorf("reading --seconds: %v is not between 0 and %d", limit, mostSeconds)
	}
	o.seconds = 1 // the examination's own, which is not used here
	e, err = o.examination()
	return e, limit, err
}

// openStream opens a source to be read for as long as it lasts, whatever befalls it.
func openStream(ctx context.Context, spec string, o streaming) (*live.Reader, error) {
	recorded := false
	again := source.Again(spec, source.Options{Device: o.device}) // by its lasting name once it has one
	open := func(ctx context.Context) (video.Source, error) {
		src, err := again(ctx)
		if err != nil {
			return nil, err
		}
		if err := oddSize(src.Info()); err != nil {
			return nil, errors.Join(err, src.Close())
		}
		recorded = src.Info().Kind != video.KindDevice
		if recorded && o.loop {
			return &looped{Source: src, open: func(ctx context.Context) (video.Source, error) {
				return source.Open(ctx, spec, source.Options{})
			}}, nil
		}
		return src, nil
	}
	// What is opened first tells how it is to be read, and is read first: some devices take seconds to open.
	src, err := open(ctx)
	if err != nil {
		return nil, err
	}
	first := make(chan video.Source, 1)
	first <- src
	opener := func(ctx context.Context) (video.Source, error) {
		select {
		case src := <-first:
			return src, nil
		default:
			return open(ctx)
		}
	}
	return live.Open(ctx, opener, live.Options{All: recorded && !o.pace, Pace: recorded && o.pace, Queue: o.late})
}

// looped plays a recording over and over, on one time line.
type looped struct {
	video.Source
	open  func(context.Context) (video.Source, error)
	index int           // added to the frames' numbers
	at    time.Duration // added to their times
	step  time.Duration // from one frame to the next
	last  *video.Frame
}

func (l *looped) Info() video.Info {
	i := l.Source.Info()
	i.Frames = 0 // without end
	return i
}

func (l *looped) Next(ctx context.Context) (*video.Frame, error) {
	f, err := l.Source.Next(ctx)
	if errors.Is(err, io.EOF) && l.last != nil {
		if err := l.again(ctx); err != nil {
			return nil, err
		}
		f, err = l.Source.Next(ctx)
	}
	if err != nil {
		return nil, err
	}
	out := *f
	out.Index += l.index
	out.Time += l.at
	if l.last != nil && out.Time > l.last.Time {
		l.step = out.Time - l.last.Time
	}
	l.last = &out
	return &out, nil
}

func (l *looped) again(ctx context.Context) error {
	if rate := l.Source.Info().Rate; l.step == 0 && rate > 0 {
		l.step = time.Duration(float64(time.Second) / rate)
	}
	if l.step == 0 {
		l.step = 40 * time.Millisecond // of 625/50, where nothing tells
	}
	err := l.Source.Close()
	if err == nil {
		l.Source, err = l.open(ctx)
	}
	if err != nil {
		return fmt.Errorf("playing it again: %w", err)
	}
	l.index, l.at = l.last.Index+1, l.last.Time+l.step
	return nil
}

// A glance is what a survey of a few fields says, with where the picture lies.
type glance struct {
	survey  *analyse.Survey
	profile *display.Profile
	report  *report.Report
	picture drift.Rect
	columns int // cells of the display; 0 when the picture was not placed
	rows    int
	regions []patterns.Region
}

// glance surveys fields and judges them as check does, without a reference, with what is known beside them.
func (e *examination) glance(fields []*video.Field, info video.Info, known []workbench.Fact) (*glance, error) {
	s, p, err := survey.Run(fields, info, survey.Options{Display: e.profile, Displays: e.displays, Font: e.font})
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", info.Spec, err)
	}
	v := judge.Classify(s, p, judge.Options{Fill: e.fill, Board: e.board, Known: known})
	g := &glance{survey: s, profile: p, regions: v.Regions, report: report.New(report.Finding{
		Tool: toolVersion(), Info: info, Frames: len(fields) / 2, Survey: s, Profile: p, Board: e.board, Verdict: v,
	})}
	if reg := s.Registration; reg.OK {
		g.columns, g.rows = p.Columns(), p.Rows()
		g.picture = drift.Rect{
			X: int(reg.OriginX + 0.5), Y: int(reg.OriginY + 0.5),
			W: int(float64(p.Width)*reg.PitchX + 0.5), H: int(float64(p.Height)*reg.PitchY + 0.5),
		}
	}
	return g, nil
}

// said is a glance's verdict in one line.
func (g *glance) said() string { return g.report.Heading() + ": " + g.report.Sentence() }
