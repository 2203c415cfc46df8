package videotest

import (
	"context"
	"fmt"
	"io"
	"sync"
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

	Every  time.Duration           // between two frames; 0: as fast as they are taken
	Repeat bool                    // Frames over and over, without an end
	Stuck  map[int]<-chan struct{} // Next does not return until it is closed, whatever the context: a driver that blocks
	Lost   map[int]int             // frames lost before this one by the device's own count
	Heard  map[int]video.Reception // what the device says of its signal from this frame on

	next   int
	ended  error
	Closed int // how often it was closed

	mu        sync.Mutex
	reception video.Reception
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
	if r, ok := p.Heard[index]; ok {
		p.mu.Lock()
		p.reception = r
		p.mu.Unlock()
	}
	if free := p.Stuck[index]; free != nil {
		<-free
	}
	if p.Every > 0 && index > 0 {
		select {
		case <-time.After(p.Every):
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
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
	if len(p.Frames) == 0 || index >= len(p.Frames) && !p.Repeat || p.Closed > 0 {
		p.ended = io.EOF
		return nil, io.EOF
	}
	f := *p.Frames[index%len(p.Frames)]
	f.Index, f.Lost = index, p.Lost[index]
	if f.Time == 0 || p.Repeat {
		f.Time = time.Duration(float64(index) / p.Info().Rate * float64(time.Second))
	}
	return &f, nil
}

// Reception is that of Heard at the frame asked for last.
func (p *Playback) Reception() video.Reception {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.reception
}

// Close counts.
func (p *Playback) Close() error {
	p.Closed++
	return nil
}
