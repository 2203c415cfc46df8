package main

import (
	"context"
	"errors"
	"io"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/term"
	"backporch/video/live"
)

func newPowerup(s *invocation) *cobra.Command {
	var o options
	var k poweringUp
	c := &cobra.Command{
		Use:   "powerup SOURCE",
		Short: "Compare several power-ups, and measure how long memory lasts without power",
		Long: `Powerup watches a source over times without power, and keeps the half second after the
picture has come and the last one before it went. It compares the memory that the
power-ups show: what changes each time is memory that nothing has written; what is the
same each time is written by a program, or a line or a lane.

With --retention it compares the memory before each time without power with that after
it. Memory keeps its contents for a moment: from how much of each lane has decayed
follows how long its cells last, with an interval; a lane is named only if it stands out
from the others. On a capture device:

  1. Put a busy screen up, and hold the machine in reset or stop its program from
     clearing the screen; what was cleared can't be compared.
  2. Switch off and on again, each time for longer: a quarter of a second, half, one,
     one. On a character display once for a minute too, which shows memory at rest.
     End with Ctrl-C.

Switching quickly strains a supply and what it feeds. Use the machine's own switch or a
switched supply, never a bare plug; leave 5 s of running between two times; never do it
on a board whose rails are in doubt; stop if anything gets hot, smells or sounds odd.

To practise, 'backporch simulate --power-off' makes a capture of such a machine.

Exit status:
  0  done, and nothing stands out
  1  done, a fault was found: unwritten memory, or a lane that stands out
  2  could not run: usage, input or device
  3  done, but the capture does not settle it`,
		Example: `  backporch powerup capture.avi --display attr-256x192-50
  backporch powerup /dev/video0 --seconds 60 --retention`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			return k.run(c.Context(), s, &o, args[0])
		},
	}
	o.addLasting(c)
	c.Flags().BoolVar(&k.retention, "retention", false, "measure how each lane decays without power")
	o.job.add(c)
	o.addJSON(c, "what was found, as JSON")
	o.addDevice(c)
	o.addQuiet(c)
	return c
}

// poweringUp are powerup's own flags.
type poweringUp struct {
	retention bool
}

func (k *poweringUp) run(ctx context.Context, s *invocation, o *options, spec string) error {
	e, limit, err := o.lasting()
	if err != nil {
		return err
	}
	onJob, err := o.job.open(ctx, s)
	if err != nil {
		return err
	}
	defer onJob.close()
	stream, err := openStream(ctx, spec, streaming{late: soakQueue, device: e.device})
	if err != nil {
		return err
	}
	defer stream.Close()
	status := term.NewStatus(s.err, o.quiet)
	onJob.under(status)
	defer status.Done()
	runs, err := powerRuns(ctx, stream, limit, status)
	if err != nil {
		return err
	}
	status.Set("measuring %d power-ups", len(runs))
	found, err := k.judge(e, runs, stream)
	status.Done()
	if err != nil {
		return err
	}
	found.Source = spec
	if m := found.machine; m.survey != nil {
		if err := onJob.recognise(ctx, m.fields, stream.Info(), m.survey, m.profile); err != nil {
			return err
		}
	}
	s.status = found.status
	if err := found.attach(context.WithoutCancel(ctx), onJob); err != nil {
		return err
	}
	if o.json {
		return writeJSON(s.out, found)
	}
	return found.text(s.out)
}

// powerRuns reads the stream and gives the times with a picture.
func powerRuns(ctx context.Context, stream *live.Reader, limit float64, status *term.Status) ([]*powerRun, error) {
	w := newPowerWatch(stream.Info())
	for {
		item, err := nextItem(ctx, stream)
		switch {
		case ctx.Err() != nil, errors.Is(err, io.EOF):
			return w.end(), nil
		case errors.Is(err, errNothingYet):
		case err != nil:
			return nil, err
		case item.Event != nil:
			if item.Event.Kind == live.Ended && item.Event.Err != nil && w.frames == 0 {
				return nil, item.Event.Err
			}
		default:
			w.frame(item.Frame)
		}
		status.Set("%s", w.line())
		if limit > 0 && w.seconds() >= limit-1e-6 {
			return w.end(), nil
		}
	}
}
