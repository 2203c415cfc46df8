package videotest

import (
	"context"
	"fmt"
	"io"
	"time"

	"backporch/video"
)

// Playback plays frames as a source does.
type Playback struct {
	Frames []*video.Frame
	// Fail has errors by the index at which they come; the frame there is not given. What is
	// neither io.EOF nor in Fatal comes as a *video.BadFrame, and reading may go on.
	Fail  map[int]error
	Fatal map[int]error // ends it: nothing comes after
	Wait  map[int]bool  // blocks until the context ends, as a device that has stalled
	Meta  video.Info    // what Info gives; size, frames, order and standard are filled in where zero

	next   int
	ended  error
	Closed int // how often it was closed
}

// OfFields makes a source of fields, two successive ones woven into each frame.
func OfFields(fields []*video.Field) *Playback {
	p := &Playback{}
	for i := 0; i+1 < len(fields); i += 2 {
		p.Frames = append(p.Frames, Weave(fields[i], fields[i+1]))
	}
	return p
}

// Weave makes a frame of two fields of one size, the first on lines 0, 2, 4 ...
func Weave(a, b *video.Field) *video.Frame {
	f := &video.Frame{
		Y: make([]uint8, 2*len(a.Y)), Cb: make([]uint8, 2*len(a.Cb)), Cr: make([]uint8, 2*len(a.Cr)),
		Width: a.Width, Height: 2 * a.Height, ChromaWidth: a.ChromaWidth, ChromaHeight: 2 * a.Height, Time: a.Time,
	}
	if len(a.Cb) == 0 {
		f.ChromaWidth, f.ChromaHeight = 0, 0
	}
	for parity, field := range []*video.Field{a, b} {
		for y := range a.Height {
			to := 2*y + parity
			copy(f.Y[to*f.Width:], field.Line(y))
			c := f.ChromaWidth
			copy(f.Cb[to*c:], field.Cb[y*c:(y+1)*c])
			copy(f.Cr[to*c:], field.Cr[y*c:(y+1)*c])
		}
	}
	return f
}

// Info gives Meta, filled in.
func (p *Playback) Info() video.Info {
	i := p.Meta
	if i.Kind == "" {
		i.Kind = video.KindFile
	}
	if i.Rate == 0 {
		i.Rate = 25
	}
	if len(p.Frames) > 0 && i.Width == 0 {
		f := p.Frames[0]
		i.Width, i.Height = f.Width, f.Height
		i.Order = video.OrderOf(f.Width, f.Height)
	}
	if i.Frames == 0 {
		i.Frames = len(p.Frames)
	}
	if i.Standard == video.UnknownStandard {
		i.Standard = video.StandardOf(i.Width, i.Height, i.Rate)
	}
	return i
}

// Next gives the next frame or failure.
func (p *Playback) Next(ctx context.Context) (*video.Frame, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if p.ended != nil {
		return nil, p.ended
	}
	index := p.next
	p.next++
	if p.Wait[index] {
		<-ctx.Done()
		return nil, ctx.Err()
	}
	if err := p.Fatal[index]; err != nil {
		p.ended = err
		return nil, err
	}
	if err := p.Fail[index]; err != nil {
		return nil, &video.BadFrame{Index: index, Err: fmt.Errorf("frame %d: %w", index, err)}
	}
	if index >= len(p.Frames) || p.Closed > 0 {
		p.ended = io.EOF
		return nil, io.EOF
	}
	f := *p.Frames[index]
	f.Index = index
	if f.Time == 0 {
		f.Time = time.Duration(float64(index) / p.Info().Rate * float64(time.Second))
	}
	return &f, nil
}

// Close counts.
func (p *Playback) Close() error {
	p.Closed++
	return nil
}
