package main

import (
	"context"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/term"
	"backporch/video/still"
)

func newGrab(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "grab SOURCE",
		Short: "Take one clean still",
		Long: `Grab takes one still of a source: the mean of all frames that show the same
picture, which takes the noise out, else the sharpest frame. The still is a lossless
PNG that says in itself where it came from. Nothing is overwritten. With --job it is kept
with a job, and in --out only if that is given.

` + failHelp,
		Example: `  backporch grab capture.avi
  backporch grab capture.avi --seconds 1 --out stills
  backporch grab /dev/video0 --seconds 2`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.checkSeconds(); err != nil {
				return err
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
			captured, err := readSource(c.Context(), args[0], o.seconds, status)
			status.Done()
			if err != nil {
				return err
			}
			return grab(c.Context(), s, a, keep, captured, o.json)
		},
	}
	o.addSeconds(c, 2, "read `N` seconds of the source")
	o.addOut(c, ".", "the folder `DIR` for the still")
	o.addJSON(c, "what was written, as JSON")
	o.addQuiet(c)
	o.job.add(c)
	return c
}

// grabbed is what grab --json says.
type grabbed struct {
	Still    string `json:"still"`
	SHA256   string `json:"sha256"`
	Width    int    `json:"width"`
	Height   int    `json:"height"`
	Read     int    `json:"frames"`
	Averaged int    `json:"averaged"` // 1: a single frame
	Frame    int    `json:"frame"`    // the frame, or the sharpest of those averaged
}

func grab(ctx context.Context, s *invocation, a *attachment, keep *folder, c *footage, asJSON bool) error {
	frame, n := clean(c.frames)
	g := grabbed{Width: frame.Width, Height: frame.Height, Read: len(c.frames), Averaged: n, Frame: frame.Index}
	how := fmt.Sprintf("frame %d, the sharpest of %d: no two show the same picture", g.Frame, g.Read)
	switch {
	case g.Read == 1:
		how = "the only frame"
	case n == g.Read:
		how = fmt.Sprintf("mean of all %d frames", n)
	case n > 1:
		how = fmt.Sprintf("mean of %d of %d frames, those that show one picture", n, g.Read)
	}
	g.Still = free(filepath.Join(keep.path, stem(c.info.Spec)+"-still"), stillEnding) + stillEnding
	var err error
	g.SHA256, err = still.Save(g.Still, frame, still.Text{
		Source: c.info.Spec, Time: frame.Time, Frame: frame.Index, Field: -1, Order: c.info.Order,
		Tool: toolVersion(), Note: how,
	})
	if err != nil {
		return fmt.Errorf("keeping the still: %w", err)
	}
	if g.Still, err = a.keepStill(ctx, g.Still, how, c.info); err != nil {
		return err
	}
	if asJSON {
		return writeJSON(s.out, g)
	}
	_, err = fmt.Fprintf(s.out, "%s: %dx%d, %s\nSHA-256 %s\n", g.Still, g.Width, g.Height, how, g.SHA256)
	return err
}
