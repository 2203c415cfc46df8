package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/cmd/backporch/internal/exhibit"
	"backporch/cmd/backporch/internal/term"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/source"
)

// Footage is what was read of a source: its frames as they came, and their fields.
type footage struct {
	info   video.Info
	frames []*video.Frame
	fields []*video.Field // the older one of each frame first
	bad    int            // frames that were there but could not be read
}

// readSource opens a source, reads so many seconds of it and closes it.
func readSource(ctx context.Context, spec string, seconds float64, status *term.Status) (*footage, error) {
	return readWith(ctx, spec, source.Options{Seconds: seconds}, status)
}

// readWith is readSource for a capture device that is to be set up.
func readWith(ctx context.Context, spec string, o source.Options, status *term.Status) (*footage, error) {
	src, err := source.Open(ctx, spec, o)
	if err != nil {
		return nil, err
	}
	c, err := (*footage)(nil), oddSize(src.Info())
	if err == nil {
		c, err = readFrames(ctx, src, status)
	}
	if closing := src.Close(); err == nil && closing != nil {
		err = fmt.Errorf("closing %s: %w", spec, closing)
	}
	return c, err
}

// deviceFor is how one of several sources is to be set up: a recording beside a device takes no settings.
func (e *examination) deviceFor(spec string) capture.DeviceOptions {
	if isDevice(spec) {
		return e.device
	}
	return capture.DeviceOptions{}
}

// oddSize refuses a picture that no capture device gives: 4:2:2 has an even number of
// samples a line, and two woven fields an even number of lines. One field alone may have
// 243 lines.
func oddSize(info video.Info) error {
	if info.Width%2 == 0 && (info.Height%2 == 0 || info.Order == video.Progressive) {
		return nil
	}
	return withHint(fmt.Errorf("reading %s: no capture device gives a picture of %d x %d", info.Spec, info.Width, info.Height),
		"give it as it was captured, neither cut nor scaled")
}

// mostBad is how many frames in a row may be unreadable before reading is given up:
// ten seconds of them.
const mostBad = 250

func readFrames(ctx context.Context, src video.Source, status *term.Status) (*footage, error) {
	info := src.Info()
	c := &footage{info: info}
	heard := hearing{}
	defer func() { heard.tell(&c.info) }()
	var firstBad, lastBad error // lastBad: of the frame read last
	inARow := 0
	for {
		f, err := src.Next(ctx)
		var bad *video.BadFrame
		switch {
		case err == nil:
			c.frames = append(c.frames, f)
			heard.ask(src)
			c.fields = append(c.fields, f.Fields(info.Order, info.Rate)...)
			lastBad, inARow = nil, 0
			status.Set("reading %s: frame %d", info.Spec, len(c.frames)+c.bad)
			continue
		case errors.As(err, &bad):
			c.bad++
			lastBad = err
			if firstBad == nil {
				firstBad = err
			}
			if inARow++; inARow >= mostBad {
				return nil, fmt.Errorf("%w; so are the %d frames before it", err, mostBad-1)
			}
			continue
		case !errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
			return nil, c.cutOff(err)
		case errors.Is(lastBad, io.ErrUnexpectedEOF): // the end came inside a frame
			return nil, c.cutOff(lastBad)
		}
		break
	}
	switch {
	case len(c.frames) > 0:
		return c, nil
	case firstBad != nil:
		return nil, fmt.Errorf("%w; no frame could be read", firstBad)
	}
	return nil, fmt.Errorf("reading %s: no frame in it", info.Spec)
}

// cutOff adds to an error that ended the reading how much is good before it. Sources
// name themselves in their errors.
func (c *footage) cutOff(err error) error {
	if len(c.frames) == 0 || c.info.Rate <= 0 {
		return err
	}
	good := math.Floor(float64(len(c.frames))/c.info.Rate*100) / 100
	return withHint(err, "--seconds %.2f reads only the %d frames that are good before that", good, len(c.frames))
}

// shown is the field that shows the finding best, and its frame.
func (c *footage) shown(s *analyse.Survey) (*video.Field, *video.Frame) {
	field := c.fields[exhibit.Show(c.fields, s)]
	for _, f := range c.frames {
		if f.Index == field.Frame {
			return field, f
		}
	}
	return field, c.frames[0]
}

// A hearing is what a device said of its signal, by word, with how many frames long.
type hearing struct {
	words    map[string]int
	frames   int
	detected video.Standard // last
}

func (h *hearing) ask(src video.Source) {
	r, ok := src.(video.Receiver)
	if !ok {
		return
	}
	h.frames++
	now := r.Reception()
	h.detected = now.Seen
	for _, w := range now.Words {
		if h.words == nil {
			h.words = map[string]int{}
		}
		h.words[w]++
	}
}

// tell keeps what was said for most of the time; what was said for less is noted. A device
// that was only just set to its input has not locked yet when it is first asked.
func (h *hearing) tell(i *video.Info) {
	if i.Kind != video.KindDevice || h.frames == 0 {
		return
	}
	i.DeviceStatus, i.Detected = nil, h.detected
	for _, w := range slices.Sorted(maps.Keys(h.words)) {
		if 2*h.words[w] > h.frames {
			i.DeviceStatus = append(i.DeviceStatus, w)
		} else {
			i.Notes = append(i.Notes, fmt.Sprintf("for %d of %d frames the device said: %s", h.words[w], h.frames, w))
		}
	}
}

// aboutFrames says what was done about a picture that does not hold, and what a device does to the two pictures of a frame, where it does something.
func aboutFrames(survey *analyse.Survey) (notes []string) {
	s := &survey.Sync
	if survey.Straightened {
		notes = append(notes, "the picture does not hold; its lines and fields were laid straight by what shows how they lie, and read so")
	}
	if n := s.Step; n != 0 {
		notes = append(notes, fmt.Sprintf("the device takes every second field %d line(s) aside; they were laid level", max(n, -n)))
	}
	switch s.Weave {
	case analyse.WeaveOne:
		notes = append(notes, "both fields of each frame are one and the same picture: the device drops every second one, so that what lasts one field may be missed")
	case analyse.WeaveMixed:
		notes = append(notes, "the device mixes the two fields of a frame: what lasts one field is seen at half its strength; switch off its deinterlacing, or give another --format")
	}
	return notes
}
