package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/cmd/backporch/internal/soak"
	"backporch/cmd/backporch/internal/term"
	"backporch/video"
	"backporch/video/keep"
	"backporch/video/live"
)

func newSoak(s *invocation) *cobra.Command {
	var o options
	var k soaking
	c := &cobra.Command{
		Use:   "soak SOURCE",
		Short: "Watch for hours unattended, keep every event, and certify",
		Long: `Soak checks every field of a source for as long as it is left running: on a capture
device until you interrupt it (Ctrl-C) or --seconds have passed, on a recording to its
end. A field that differs from the picture before it, a lost lock, a changed border,
drift of level, noise or hue is an event; the frames before, at and after it are kept.
It ends with a certificate: what was seen, and below which rate of events the machine
is with 95 % confidence.

A line on standard input, such as 'cooled U14', marks the moment: the rate of bad
fields before and after it is compared.

Everything is in the folder --out: the log, which loses at most the last second if the
process is killed, the stills, the plot of the drift, the certificate. --resume goes on
with a soak that was begun there.

A machine that soaks unattended is under power: keep it where heat and fire can do no
harm, and off your own supply leads.

Exit status:
  0  watched, and no event
  1  watched, there were events
  2  could not run: usage, input or device
  3  there was never a picture that stood still`,
		Example: `  backporch soak capture.avi
  backporch soak capture.avi --seconds 1 --out night
  backporch soak /dev/video0 --seconds 28800 --out night --json`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			return k.run(c.Context(), s, &o, args[0])
		},
	}
	o.addLasting(c)
	o.addOut(c, "", "the folder `DIR` of the soak (default backporch-soak, or the next free name)")
	c.Flags().BoolVar(&k.resume, "resume", false, "go on with the soak in --out")
	c.Flags().BoolVar(&k.loop, "loop", false, "play a recording over and over")
	c.Flags().IntVar(&k.megabytes, "keep", 500, "keep at most `N` MB of stills")
	o.job.add(c)
	o.addJSON(c, "the certificate as JSON")
	o.addDevice(c)
	o.addQuiet(c)
	return c
}

// soaking are soak's own flags.
type soaking struct {
	resume, loop bool
	megabytes    int
}

func (k *soaking) run(ctx context.Context, s *invocation, o *options, spec string) error {
	if k.megabytes < 0 || k.megabytes > 1<<20 {
		return fmt.Errorf("reading --keep: %d is not between 0 and %d", k.megabytes, 1<<20)
	}
	e, limit, err := o.lasting()
	if err != nil {
		return err
	}
	if k.resume && o.out == "" {
		return withHint(errors.New("soak: --resume without --out"), "name the folder of the soak to go on with: --out DIR")
	}
	if o.out == "" {
		o.out = free("backporch-soak", "")
	}
	onJob, err := o.job.open(ctx, s)
	if err != nil {
		return err
	}
	defer onJob.close()
	kept, err := openFolder(o.out)
	if err != nil {
		return err
	}
	defer kept.leave()
	stream, err := openStream(ctx, spec, streaming{loop: k.loop, late: soakQueue, device: e.device})
	if err != nil {
		return err
	}
	defer stream.Close()
	status := term.NewStatus(s.err, o.quiet)
	onJob.under(status)
	defer status.Done()
	so := soak.Options{
		Dir: o.out, Tool: toolVersion(), Source: spec, Standard: stream.Info().Standard, Most: int64(max(k.megabytes, 1)) << 20,
		Settled: func(fields []*video.Field) soak.Finding {
			f, g := k.settled(e, fields, stream.Info())
			if g == nil || onJob == nil {
				return f
			}
			if err := onJob.recognise(ctx, fields, stream.Info(), g.survey, g.profile); err != nil {
				onJob.warn("%v", err) // hours of watching are not lost for it
			}
			return f
		},
	}
	begin := soak.New
	if k.resume {
		begin = soak.Resume
	}
	session, err := begin(so)
	if err != nil {
		if _, there := os.Stat(filepath.Join(o.out, "soak.log")); !k.resume && there == nil {
			return withHint(err, "--resume goes on with it; or give --out another folder")
		}
		return err
	}
	marks := make(chan string, 64)
	stop := readMarks(ctx, os.Stdin, func(text string) error {
		select {
		case marks <- text:
		default: // nobody does so much within a second
		}
		return nil
	})
	defer stop()
	if err := watchAll(ctx, session, stream, limit, marks, status); err != nil {
		return errors.Join(err, session.Abandon())
	}
	summary, err := session.Close()
	if err != nil {
		return err
	}
	status.Done()
	// An interrupt ends the watching, not the keeping of what it saw.
	return k.certify(context.WithoutCancel(ctx), s, o, summary, onJob)
}

// soakQueue is how many frames may wait while a still is kept or a survey runs: two seconds.
const soakQueue = 50

// settled surveys the first fields that stand still.
func (k *soaking) settled(e *examination, fields []*video.Field, info video.Info) (soak.Finding, *glance) {
	g, err := e.glance(fields, info, nil)
	if err != nil {
		return soak.Finding{}, nil // no display fits: it can be watched all the same
	}
	f := soak.Finding{Picture: g.picture, Verdict: g.said()}
	if g.report.Display != nil {
		f.Display = *g.report.Display
	}
	return f, g
}

// watchAll takes the stream until its end, limit or an interrupt, and the marks that are made meanwhile.
func watchAll(ctx context.Context, session *soak.Session, stream *live.Reader, limit float64, marks <-chan string, status *term.Status) error {
	before, begun := session.Beat().Seconds, time.Now()
	for {
		select {
		case text := <-marks:
			if text = monitor.Clean(text); text == "" {
				break
			}
			if err := session.Mark(text); err != nil {
				return err
			}
		default:
		}
		item, err := nextItem(ctx, stream)
		switch {
		case ctx.Err() != nil, errors.Is(err, io.EOF):
			return nil // interrupted: what was seen is certified
		case errors.Is(err, errNothingYet):
			err = session.Tick()
		case err != nil:
			return err
		case item.Event != nil:
			if item.Event.Kind == live.Ended && item.Event.Err != nil && session.Beat().Fields == 0 {
				return item.Event.Err
			}
			err = session.Event(item.Event)
		default:
			info := stream.Info()
			session.Lost(lostFields(stream.Stats(), info))
			err = session.Frame(item.Frame, info)
		}
		if err != nil {
			return err
		}
		b := session.Beat()
		state := fmt.Sprintf("%d events", b.Events)
		if open := session.Open(); open != nil {
			state = open.Text
		} else if !session.Ready() {
			state = "learning the picture"
		}
		status.Set("soak: %.0f s, %d fields checked, %d lost; %s", b.Seconds, b.Fields, b.Lost, state)
		late := stream.Info().Kind == video.KindDevice && time.Since(begun).Seconds() > limit+patience
		if limit > 0 && (b.Seconds-before >= limit-1e-6 || late) {
			return nil
		}
	}
}

// errNothingYet: a second has passed without anything.
var errNothingYet = errors.New("nothing yet")

// nextItem waits a second at most.
func nextItem(ctx context.Context, stream *live.Reader) (live.Item, error) {
	second, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	item, err := stream.Next(second)
	if err != nil && second.Err() != nil && ctx.Err() == nil {
		return item, errNothingYet
	}
	return item, err
}

// lostFields are the fields that should have come and could not be looked at.
func lostFields(st live.Stats, info video.Info) int {
	perFrame := 2
	if info.Order.Single() {
		perFrame = 1
	}
	rate := info.Standard.Scan().FieldHz
	return perFrame*(st.Skipped+st.Lost+st.Damaged) + int(st.Down.Seconds()*rate)
}

// certify writes what the hours prove.
func (k *soaking) certify(ctx context.Context, s *invocation, o *options, summary *soak.Summary, onJob *attachment) error {
	c := summary.Certificate()
	write := func(name string, content func(io.Writer) error) error {
		f, err := keep.Create(filepath.Join(o.out, name), true) // a resumed soak has an older one
		if err != nil {
			return err
		}
		if err := content(f); err != nil {
			f.Discard()
			return fmt.Errorf("writing %s: %w", name, err)
		}
		return f.Commit(0o644)
	}
	if err := errors.Join(
		write("drift.png", summary.Plot), write("certificate.txt", func(w io.Writer) error { return c.Text(w, 80) }), write("certificate.json", c.JSON),
	); err != nil {
		return err
	}
	if onJob != nil {
		capture, err := k.capture(o.out, summary, &c)
		if err == nil {
			_, err = onJob.attach(ctx, capture)
		}
		if err != nil {
			return err
		}
	}
	switch {
	case c.Fields == 0:
		s.status = statusUndetermined
	case c.Events > 0:
		s.status = statusFault
	}
	if o.json {
		return c.JSON(s.out)
	}
	if err := c.Text(s.out, s.style().Width); err != nil {
		return err
	}
	_, err := fmt.Fprintf(s.out, "%-10s%s: the log, stills, drift.png, certificate.txt\n", "kept", o.out)
	return err
}

// capture is a soak as it goes on a job: the sentence, the worst moments, the plot.
func (k *soaking) capture(folder string, summary *soak.Summary, c *soak.Certificate) (job.Capture, error) {
	var report bytes.Buffer
	if err := c.JSON(&report); err != nil {
		return job.Capture{}, err
	}
	out := job.Capture{
		At: c.Ended, Command: "soak", Source: c.Source, Display: summary.Display, Report: report.Bytes(), Meaning: c.Statement,
		Soak: &job.Soak{
			Seconds: c.Seconds, Fields: int64(c.Fields), BadFields: int64(c.Bad), Events: int64(c.Events), Summary: c.Statement,
		},
		Measures: []job.Measure{{Name: "events, upper limit at 95 %", Value: c.Upper, Unit: "an hour"}},
		Stills:   []job.NewStill{{Path: filepath.Join(folder, "drift.png"), Note: "level, noise, hue and field rate over the soak", Marked: true}},
	}
	for _, r := range c.Stimuli {
		out.Text += r.Text + "\n"
	}
	out.Stimuli = kept(c.Stimuli)
	for _, g := range c.Gaps {
		out.Soak.GapS += g.Seconds
		out.Warnings = append(out.Warnings, fmt.Sprintf("%s: %s", g.At.Format("15:04:05"), g.Text))
	}
	for _, m := range c.Worst {
		for _, st := range m.Stills {
			out.Stills = append(out.Stills, job.NewStill{
				Path: filepath.Join(folder, st.File), Note: fmt.Sprintf("event %d, %s: %s", m.Number, st.Role, m.Text),
			})
		}
	}
	return out, nil
}
