package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"backporch/video"
	"backporch/video/capture"
	"backporch/video/display"
	"backporch/video/simulator"
	"backporch/video/still"
	"backporch/video/waveform"
)

// A sink takes the frames of a recording.
type sink interface {
	Write(*video.Frame) error
	Close() error // the recording is whole
	Discard()     // gives it up; nothing after Close
}

// A recording is what record wrote.
type recording struct {
	File   string    `json:"file"`
	Frames int       `json:"frames"`
	Width  int       `json:"width"`
	Height int       `json:"height"`
	Rate   float64   `json:"rate"` // frames a second; of a waveform samples a second
	Seed   uint64    `json:"seed"`
	Truth  truthJSON `json:"truth"`

	Power *switchedJSON `json:"power,omitempty"` // how it was switched

	Fields    int     `json:"fields,omitempty"`     // of a waveform
	FullScale float64 `json:"full_scale,omitempty"` // volts (peak) of a waveform's greatest code
}

// record captures a scenario to its end and writes it as out says: a recording when
// the name ends in .avi, the sampled waveform when it ends in .wav, else a folder of stills. frame is called after each frame.
func record(ctx context.Context, sc simulator.Scenario, out string, frame func(n int)) (*recording, error) {
	bench, err := simulator.New(sc)
	if err != nil {
		return nil, fmt.Errorf("simulating: %w", err)
	}
	if isWAV(out) {
		return recordWaveform(ctx, bench, sc, out, frame)
	}
	r := &recording{File: out, Seed: sc.Seed, Rate: frameRate(sc.Display), Power: switchedOf(sc.Power)}
	var to sink
	for {
		if err = ctx.Err(); err != nil {
			break
		}
		var f *video.Frame
		if f, err = bench.Next(); err != nil {
			break
		}
		if to == nil {
			r.Width, r.Height = f.Width, f.Height
			if to, err = openSink(out, f, r.Rate, sc.Order); err != nil {
				return nil, err
			}
			defer to.Discard()
		}
		if err = to.Write(f); err != nil {
			break
		}
		r.Frames++
		frame(r.Frames)
	}
	if !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("simulating %s: %w", out, err)
	}
	if to == nil {
		return nil, fmt.Errorf("simulating %s: no frame came of it", out)
	}
	r.Truth = truthOf(bench.Truth())
	return r, to.Close()
}

func isWAV(name string) bool { return strings.EqualFold(filepath.Ext(name), ".wav") }

// fullScale is the volts (peak) of a simulated WAV: twice the level, as without a load, fits.
const fullScale = 4

// recordWaveform writes what leaves the machine's composite output as a WAV, field by field.
func recordWaveform(ctx context.Context, bench *simulator.Bench, sc simulator.Scenario, out string, field func(n int)) (*recording, error) {
	r := &recording{File: out, Seed: sc.Seed, Rate: bench.Rate(), FullScale: fullScale, Power: switchedOf(sc.Power)}
	w, err := waveform.NewWriter(out, r.Rate, fullScale)
	if err != nil {
		return nil, err
	}
	defer w.Discard()
	for n := range sc.Fields {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("simulating %s: %w", out, err)
		}
		if err := w.Write(bench.Waveform()); err != nil {
			return nil, fmt.Errorf("simulating %s: %w", out, err)
		}
		r.Fields = n + 1
		field(r.Fields)
	}
	r.Truth = truthOf(bench.Truth())
	return r, w.Close()
}

// frameRate is the woven frames a second that a recording of a display claims: the
// standard's, whatever the machine's own rate.
func frameRate(p *display.Profile) float64 { return p.Standard.Scan().FieldHz / 2 }

// orderOf is the field order that a capture device weaves with.
func orderOf(p *display.Profile) video.FieldOrder {
	if p.Standard == video.Std525 {
		return video.BottomFirst
	}
	return video.TopFirst
}

func openSink(out string, f *video.Frame, rate float64, order video.FieldOrder) (sink, error) {
	if strings.EqualFold(filepath.Ext(out), ".avi") {
		return capture.NewWriter(out, f.Width, f.Height, rate, capture.WriterOptions{})
	}
	return newStills(out, order)
}

// stills is a new folder with one still a frame.
type stills struct {
	folder string
	made   []string
	n      int
	order  video.FieldOrder
	done   bool
}

func newStills(folder string, order video.FieldOrder) (*stills, error) {
	if err := os.Mkdir(folder, 0o777); err != nil {
		if errors.Is(err, os.ErrExist) {
			return nil, withHint(fmt.Errorf("writing stills: %s is there already", folder), "give the name of a new folder, or FILE.avi for a recording")
		}
		return nil, fmt.Errorf("writing stills: %w", plainPath(err))
	}
	return &stills{folder: folder, order: order}, nil
}

func (s *stills) Write(f *video.Frame) error {
	name := filepath.Join(s.folder, fmt.Sprintf("frame%05d.png", s.n))
	if _, err := still.Save(name, f, still.Text{
		Source: "simulation", Time: f.Time, Frame: f.Index, Field: -1, Order: s.order, Tool: toolVersion(),
	}); err != nil {
		return err
	}
	s.made = append(s.made, name)
	s.n++
	return nil
}

func (s *stills) Close() error { s.done = true; return nil }

func (s *stills) Discard() {
	if s.done {
		return
	}
	for _, name := range s.made {
		_ = os.Remove(name)
	}
	_ = os.Remove(s.folder)
}
