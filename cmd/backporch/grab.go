package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/term"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/source"
	"backporch/video/still"
)

func newGrab(s *invocation) *cobra.Command {
	var o options
	flash := "one"
	c := &cobra.Command{
		Use:   "grab SOURCE",
		Short: "Take one clean still",
		Long: `Grab takes one still of a source: the mean of all frames that show the same
picture, which takes the noise out; of a picture that moves the sharpest field. A capture
device is given a second more to settle its levels. --flash both takes two stills of a
picture that flashes, one a phase.

The still is a lossless PNG that says in itself where it came from. Nothing is
overwritten. With --job it is kept with a job, and in --out only if that is given.

` + failHelp,
		Example: `  backporch grab capture.avi
  backporch grab capture.avi --seconds 1 --out stills
  backporch grab capture.avi --flash both
  backporch grab /dev/video0 --input 0 --standard pal`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := errors.Join(o.checkSeconds(), o.checkDevice()); err != nil {
				return err
			}
			if flash != "one" && flash != "both" {
				return fmt.Errorf("reading --flash: %q is neither one nor both", flash)
			}
			a, err := o.job.open(c.Context(), s)
			if err != nil {
				return err
			}
			defer a.close()
			if a != nil && !c.Flags().Changed("out") {
				if o.out, err = a.folder(""); err != nil {
					return err
				}
			}
			keep, err := openFolder(o.out)
			if err != nil {
				return err
			}
			defer keep.leave()
			status := term.NewStatus(s.err, o.quiet)
			a.under(status)
			captured, err := readSettled(c.Context(), args[0], source.Options{Seconds: o.seconds, Device: o.device, Waveform: o.waveform}, status)
			status.Done()
			if err != nil {
				return err
			}
			if err := a.recogniseAny(c.Context(), captured); err != nil {
				return err
			}
			g := grabbing{invocation: s, job: a, keep: keep, footage: captured}
			return g.run(c.Context(), flash == "both", o.json)
		},
	}
	o.addSeconds(c, 2, "read `N` seconds of the source")
	o.addOut(c, ".", "the folder `DIR` for the still")
	o.addJSON(c, "what was written, as JSON")
	c.Flags().StringVar(&flash, "flash", flash, "of a picture that flashes: `one` phase, or both")
	complete(c, "flash", func() []string { return []string{"one", "both"} })
	o.addDevice(c)
	o.addWaveform(c)
	o.addQuiet(c)
	o.job.add(c)
	return c
}

// settling is how much longer a device is read, so that its levels can settle first.
const settling = 1.0 // seconds

// readSettled is readWith, less what a device shows while its levels settle.
func readSettled(ctx context.Context, spec string, o source.Options, status *term.Status) (*footage, error) {
	live := isDevice(spec)
	if live {
		o.Seconds += settling
	}
	c, err := readWith(ctx, spec, o, status)
	if err == nil && live {
		c.frames = c.frames[settled(c.frames):]
	}
	return c, err
}

// isDevice says whether a SOURCE word names a capture device.
func isDevice(spec string) bool {
	if _, ok := capture.DevicePath(spec); ok {
		return true
	}
	st, err := os.Stat(spec)
	return err == nil && st.Mode()&os.ModeCharDevice != 0
}

// grabbed is what grab --json says.
type grabbed struct {
	Still    string   `json:"still"`
	SHA256   string   `json:"sha256"`
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	Read     int      `json:"frames"`
	Averaged int      `json:"averaged"` // 1: a single frame, or field
	Frame    int      `json:"frame"`    // the frame, or the sharpest of those averaged
	Field    *int     `json:"field"`    // the one that was kept: 0 or 1; null: the whole frame
	Other    *grabbed `json:"other"`    // the still of the other flash phase
	how      string
}

// A grabbing is one capture on its way to stills.
type grabbing struct {
	*invocation
	job  *attachment
	keep *folder
	*footage
}

func (g *grabbing) run(ctx context.Context, both, asJSON bool) error {
	var out *grabbed
	var err error
	if both {
		if one, other, ok := phases(g.frames); ok {
			if out, err = g.save(ctx, one, "mean of %d of %d frames, one phase of what flashes"); err != nil {
				return err
			}
			if out.Other, err = g.save(ctx, other, "mean of %d of %d frames, the other phase of what flashes"); err != nil {
				return err
			}
		}
	}
	if out == nil {
		if out, err = g.save(ctx, clean(g.frames, g.info.Order), ""); err != nil {
			return err
		}
		if both {
			out.how += "; nothing flashes in this capture"
		}
	}
	if asJSON {
		return writeJSON(g.out, out)
	}
	for s := out; s != nil; s = s.Other {
		if _, err := fmt.Fprintf(g.out, "%s: %dx%d, %s\nSHA-256 %s\n", s.Still, s.Width, s.Height, s.how, s.SHA256); err != nil {
			return err
		}
	}
	return nil
}

// save keeps one still; how says what it is where it is not plain from the shot.
func (g *grabbing) save(ctx context.Context, s shot, how string) (*grabbed, error) {
	out := &grabbed{Width: s.frame.Width, Height: s.frame.Height, Read: len(g.frames), Averaged: s.averaged, Frame: s.frame.Index}
	order := g.info.Order
	switch n := s.averaged; {
	case how != "":
		out.how = fmt.Sprintf(how, n, out.Read)
	case s.parity >= 0:
		out.Field, order = &s.parity, video.Progressive
		out.how = fmt.Sprintf("field %d of frame %d, the sharpest of %d frames: the picture moves", s.parity, out.Frame, out.Read)
	case out.Read == 1:
		out.how = "the only frame"
	case n == out.Read:
		out.how = fmt.Sprintf("mean of all %d frames", n)
	case n > 1:
		out.how = fmt.Sprintf("mean of %d of %d frames, those that show one picture", n, out.Read)
	default:
		out.how = fmt.Sprintf("frame %d, the sharpest of %d: no two show the same picture", out.Frame, out.Read)
	}
	out.Still = free(filepath.Join(g.keep.path, stem(g.info.Spec)+"-still"), stillEnding) + stillEnding
	note := out.how
	if g.info.Device != "" {
		note += "; device " + g.info.Device
	}
	var err error
	out.SHA256, err = still.Save(out.Still, s.frame, still.Text{
		Source: g.info.Spec, Time: s.frame.Time, Frame: s.frame.Index, Field: s.parity, Order: order,
		Tool: toolVersion(), Note: note,
	})
	if err != nil {
		return nil, fmt.Errorf("keeping the still: %w", err)
	}
	out.Still, err = g.job.keepStill(ctx, out.Still, out.how, g.info)
	return out, err
}
