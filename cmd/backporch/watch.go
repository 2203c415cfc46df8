package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/monitor"
	"backporch/cmd/backporch/internal/term"
	"backporch/video/live"
)

func newWatch(s *invocation) *cobra.Command {
	var o options
	var k watching
	c := &cobra.Command{
		Use:   "watch SOURCE",
		Short: "Watch live: lock, verdict, what changed; --listen opens the monitor in a browser",
		Long: `Watch looks at every field of a source while you work on the board: it tells whether
the picture is locked, gives the verdict anew as the picture changes, and writes a line
for each change. A recording plays at its own speed.

With --listen a monitor opens for a browser, on a tablet too: the live picture with grid
and findings, the verdict and what to test next in letters to be read from two metres,
ticks for bad fields, buttons to keep stills and to mark the moment. It answers this
computer alone; give another address, such as 0.0.0.0:8093, to let others in by a link
with a token.

A line on standard input, such as 'cooled U14', marks the moment as the monitor's button
does. The rate of bad fields before and after it is compared by an exact test, and the
verdict takes it in: a fault that changes when one part is cooled or pressed is that
part's or a contact's. With --board a mark may name the part. With --job it is kept
there, and 'backporch check --job' takes it in too.

Hands near a board under power: one hand where voltages are high, nothing conducting on
it, freezer spray away from anything hot or live.

Exit status:
  0  watched, nothing changed and nothing wrong
  1  a fault was found, or the picture had events
  2  could not run: usage, input or device
  3  watched, but the picture does not settle it`,
		Example: `  backporch watch capture.avi --seconds 3
  backporch watch /dev/video0 --bell --listen localhost:8093`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			return k.run(c.Context(), s, &o, args[0])
		},
	}
	o.addLasting(c)
	c.Flags().StringVar(&k.listen, "listen", "", "open the monitor at `HOST:PORT`; localhost:0 takes a free port")
	c.Flags().BoolVar(&k.bell, "bell", false, "ring the terminal's bell at each change")
	c.Flags().BoolVar(&k.loop, "loop", false, "play a recording over and over")
	o.addOut(c, "", "keep stills in the folder `DIR`")
	o.job.add(c)
	o.addJSON(c, "what happens as JSON, an object a line")
	o.addDevice(c)
	o.addQuiet(c)
	return c
}

// watching are watch's own flags.
type watching struct {
	listen     string
	bell, loop bool
}

func (k *watching) run(ctx context.Context, s *invocation, o *options, spec string) error {
	e, limit, err := o.lasting()
	if err != nil {
		return err
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
	stream, err := openStream(ctx, spec, streaming{loop: k.loop, pace: true, late: 12, device: e.device})
	if err != nil {
		return err
	}
	defer stream.Close()
	b := newBench(s, e, spec, stream)
	b.keep, b.onJob, b.json, b.bell = kept, onJob, o.json, k.bell
	defer b.surveys.Wait()
	if k.listen != "" {
		mo := monitor.Options{Mark: b.mark}
		if kept != nil || onJob != nil {
			mo.Keep = func(role string) (string, error) { return b.keepStill(ctx, role) }
		}
		if b.page, err = monitor.Listen(k.listen, mo); err != nil {
			return withHint(fmt.Errorf("--listen: %w", err), "--listen localhost:0 takes any port that is free")
		}
		defer b.page.Close()
		for _, link := range b.page.Links() {
			fmt.Fprintf(s.err, "monitor: %s\n", link)
		}
		if !strings.HasPrefix(k.listen, "localhost") && len(b.page.Links()) > 0 && strings.Contains(b.page.String(), "token=") {
			fmt.Fprintln(s.err, "monitor: whoever has the link can look and keep stills; on a shared network it can be overheard")
		}
	}
	status := term.NewStatus(s.err, o.quiet)
	onJob.under(status)
	defer status.Done()
	marks := readMarks(ctx, os.Stdin, b.mark)
	defer marks()
	err = b.watch(ctx, limit, status)
	status.Done()
	if err != nil {
		return err
	}
	// An interrupt ends the watching, not the keeping of what it saw.
	return b.end(context.WithoutCancel(ctx))
}

// patience is how much longer than --seconds is watched until so much was checked, seconds, before the picture is
// learned and after: a slow computer takes its time, and a device may be away.
const patience = 10

// watch takes the stream until its end, limit or an interrupt. The limit is of what was checked.
func (b *bench) watch(ctx context.Context, limit float64, status *term.Status) error {
	begun, learned := time.Now(), false
	for {
		item, err := nextItem(ctx, b.stream)
		switch {
		case ctx.Err() != nil, errors.Is(err, io.EOF):
			return nil
		case errors.Is(err, errNothingYet):
		case err != nil:
			return err
		case item.Event != nil:
			if item.Event.Kind == live.Ended && item.Event.Err != nil && b.fields() == 0 {
				return item.Event.Err
			}
			b.event(item.Event)
		default:
			b.frame(item.Frame)
		}
		status.Set("%s", b.line())
		if !learned && b.learned() {
			begun, learned = time.Now(), true
		}
		if limit > 0 && (b.checked() >= limit-1e-6 || time.Since(begun).Seconds() > limit+patience) {
			return nil
		}
	}
}
