package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"
	"time"

	"backporch/video"
	"backporch/video/capture"
	"backporch/video/picture"
	"backporch/video/waveform"
)

// MinSide is the shortest side that a capture of a display can have and be read: fewer
// samples than machine pixels show nothing.
const MinSide = 64

// Options are Open's; zero reads all, as the source says of itself.
type Options struct {
	Seconds  float64               // to read; 0: to the end
	Order    *video.FieldOrder     // instead of the source's; nil: as it is
	Standard video.Standard        // instead of the source's; unknown: as it is
	Device   capture.DeviceOptions // of a capture device; an error for anything else
	Waveform waveform.Options      // what a sampled waveform may not say of itself
}

// Open opens a SOURCE word. Its errors are one line: what, where, and what to do.
func Open(ctx context.Context, spec string, o Options) (video.Source, error) {
	if o.Seconds < 0 || math.IsNaN(o.Seconds) || math.IsInf(o.Seconds, 0) {
		return nil, fmt.Errorf("opening %s: %v seconds to read: use more than 0", spec, o.Seconds)
	}
	src, err := open(ctx, spec, o)
	if err != nil {
		return nil, err
	}
	info := src.Info()
	if info.Width < MinSide || info.Height < MinSide {
		_ = src.Close()
		return nil, fmt.Errorf("opening %s: the picture is %d x %d: too small for a capture (at least %d a side)", spec, info.Width, info.Height, MinSide)
	}
	if o.Order != nil {
		info.Order = *o.Order
	}
	if o.Standard != video.UnknownStandard {
		info.Standard = o.Standard
	}
	if o.Seconds > 0 && info.Rate > 0 && info.Frames > 0 {
		info.Frames = int(min(float64(info.Frames), math.Ceil(o.Seconds*info.Rate-1e-6)))
	}
	return &limited{Source: src, info: info, limit: time.Duration(min(o.Seconds*1e9, math.MaxInt64/2))}, nil
}

func open(ctx context.Context, spec string, o Options) (video.Source, error) {
	if spec == "" {
		return nil, errors.New("opening the source: no name given")
	}
	if _, ok := capture.DevicePath(spec); ok {
		return device(ctx, spec, o)
	}
	st, err := os.Stat(spec)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", spec, cause(err))
	}
	if o.Device != (capture.DeviceOptions{}) && st.Mode()&fs.ModeCharDevice == 0 {
		return nil, fmt.Errorf("opening %s: it is no capture device: it has no input, standard or format to choose", spec)
	}
	switch {
	case st.IsDir():
		return openFolder(ctx, spec)
	case st.Mode()&fs.ModeCharDevice != 0:
		return device(ctx, spec, o)
	case st.Mode().IsRegular():
		format, _, err := formatOf(spec)
		if err != nil {
			return nil, fmt.Errorf("opening %s: %w", spec, cause(err))
		}
		if format != notStill {
			return openStill(spec)
		}
		if waveform.Is(spec) || o.Waveform.Format != "" || o.Waveform.Rate > 0 {
			return openWaveform(spec, o.Waveform, o.Standard)
		}
	}
	f, err := capture.OpenFile(spec)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func device(ctx context.Context, spec string, o Options) (video.Source, error) {
	if o.Device.Standard == "" && o.Standard != video.UnknownStandard {
		o.Device.Standard = o.Standard.String()
	}
	d, err := capture.OpenDevice(ctx, spec, o.Device)
	if err != nil {
		return nil, err
	}
	return d, nil
}

// Again gives a function that opens a SOURCE word, as often as it is called. A device that
// has a lasting name is opened by that from the second time on: numbers wander when it is
// plugged in again.
func Again(spec string, o Options) func(context.Context) (video.Source, error) {
	name := spec
	return func(ctx context.Context) (video.Source, error) {
		s, err := Open(ctx, name, o)
		if err != nil {
			return nil, err
		}
		if i := s.Info(); i.Kind == video.KindDevice && strings.HasPrefix(i.Device, "/dev/") {
			name = i.Device
		}
		return s, nil
	}
}

// cause takes the path out of an error that has one in front.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// limited ends a source after its seconds and tells what was asked for instead of what
// the source says.
type limited struct {
	video.Source
	info    video.Info
	limit   time.Duration // 0: none
	start   time.Duration
	started bool
}

func (l *limited) Info() video.Info { return l.info }

func (l *limited) Next(ctx context.Context) (*video.Frame, error) {
	f, err := l.Source.Next(ctx)
	if err != nil {
		return nil, err
	}
	if !l.started {
		l.started, l.start = true, f.Time
	}
	if l.limit > 0 && f.Time-l.start >= l.limit-time.Microsecond {
		return nil, io.EOF
	}
	return f, nil
}

// Reception is the device's, nothing for other sources.
func (l *limited) Reception() video.Reception {
	if r, ok := l.Source.(video.Receiver); ok {
		return r.Reception()
	}
	return video.Reception{}
}

// checkSize refuses a still whose size is no capture's.
func checkSize(f *video.Frame) error {
	if err := picture.CheckSize(f.Width, f.Height); err != nil {
		return err
	}
	if f.Width < MinSide || f.Height < MinSide {
		return fmt.Errorf("the picture is %d x %d: too small for a capture (at least %d a side)", f.Width, f.Height, MinSide)
	}
	return nil
}
