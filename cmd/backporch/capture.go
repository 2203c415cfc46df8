package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"backporch/cmd/backporch/internal/term"
	"backporch/video"
)

// A capture is what was read of a source: its frames as they came, and their fields.
type capture struct {
	info   video.Info
	frames []*video.Frame
	fields []*video.Field // the older one of each frame first
	bad    int            // frames that were there but could not be read
}

// nominalRate is the frames a second assumed of a source that does not say.
const nominalRate = 25

// readCapture opens a source, reads so many seconds of it and closes it.
func readCapture(ctx context.Context, spec string, seconds float64, status *term.Status) (*capture, error) {
	src, err := openSource(ctx, spec)
	if err != nil {
		return nil, err
	}
	c, err := readFrames(ctx, src, seconds, status)
	if closing := src.Close(); err == nil && closing != nil {
		err = fmt.Errorf("closing %s: %w", spec, closing)
	}
	return c, err
}

func readFrames(ctx context.Context, src video.Source, seconds float64, status *term.Status) (*capture, error) {
	info := src.Info()
	c := &capture{info: info}
	rate := info.Rate
	if rate <= 0 {
		rate = nominalRate
	}
	most := max(int(math.Round(seconds*rate)), 1)
	var firstBad error
	for len(c.frames)+c.bad < most {
		f, err := src.Next(ctx)
		var bad *video.BadFrame
		switch {
		case err == nil:
			c.frames = append(c.frames, f)
			c.fields = append(c.fields, f.Fields(info.Order, info.Rate)...)
			status.Set("reading %s: frame %d of %d", info.Spec, len(c.frames)+c.bad, most)
			continue
		case errors.As(err, &bad):
			c.bad++
			if firstBad == nil {
				firstBad = err
			}
			continue
		case errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		case len(c.frames) > 0 && info.Rate > 0:
			return nil, withHint(fmt.Errorf("reading %s, after %d frames: %w", info.Spec, len(c.frames), err),
				"--seconds %.2g reads only what is good before it", math.Floor(float64(len(c.frames))/rate*10)/10)
		default:
			return nil, fmt.Errorf("reading %s: %w", info.Spec, err)
		}
		break
	}
	switch {
	case len(c.frames) > 0:
		return c, nil
	case firstBad != nil:
		return nil, fmt.Errorf("reading %s: no frame could be read: %w", info.Spec, firstBad)
	}
	return nil, fmt.Errorf("reading %s: no frame in it", info.Spec)
}
