package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"backporch/video"
	"backporch/video/picture"
)

const (
	openLimit  = 6 * time.Second         // some drivers take seconds over their first frame
	frameLimit = 1500 * time.Millisecond // dozens of frames late: the device has stalled
	closeLimit = 2 * time.Second
	queue      = 8 // frames kept for a slow reader; then the oldest goes
)

// DeviceOptions are OpenDevice's; zero leaves a device as it is set.
type DeviceOptions struct {
	Input    string // number or name of its input
	Standard string // what to decode: a name of v4l2.StandardNames; "": what the device detects
	Format   string // four letters of the pixel format; "": the best on offer
}

// A Device is a capture device that is streaming.
type Device struct {
	info      video.Info
	reception atomic.Pointer[video.Reception]
	frames    chan reading
	stop      chan struct{} // closed by Close
	gone      chan struct{} // closed when the reader has gone
	once      sync.Once
}

// A reading is a frame, or a packet that is one when decoded, or the error that ends it all.
type reading struct {
	frame  *video.Frame
	packet []byte // Motion JPEG; index, time and loss are those of frame
	err    error
}

// DevicePath gives the path of a device's number, and of a path itself.
func DevicePath(word string) (path string, ok bool) {
	if n, err := strconv.Atoi(word); err == nil && n >= 0 && n < 1024 && word == strconv.Itoa(n) {
		return "/dev/video" + word, true
	}
	return word, strings.HasPrefix(word, "/dev/")
}

// OpenDevice opens a capture device by path, or by number, and starts it; it returns when
// the first frame has come.
func OpenDevice(ctx context.Context, word string, o DeviceOptions) (*Device, error) {
	path, _ := DevicePath(word)
	d := &Device{
		frames: make(chan reading, queue),
		stop:   make(chan struct{}),
		gone:   make(chan struct{}),
	}
	d.reception.Store(&video.Reception{})
	opened := make(chan error, 1)
	go func() {
		defer close(d.gone)
		defer close(d.frames)
		d.run(word, path, o, opened)
	}()
	limit := time.NewTimer(openLimit)
	defer limit.Stop()
	var err error
	select {
	case err = <-opened:
	case <-ctx.Done():
		err = ctx.Err()
	case <-limit.C:
		err = errors.New("the device gives no frame: is anything feeding it? Unplug it and plug it in again")
	}
	if err != nil {
		_ = d.Close()
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	return d, nil
}

// Info says what was known of the device when it was opened.
func (d *Device) Info() video.Info { return d.info }

// Reception is what the device says of its signal, asked twice a second.
func (d *Device) Reception() video.Reception { return *d.reception.Load() }

// Next waits for the next frame. Frames that a slow caller missed are left out; Index
// counts them all.
func (d *Device) Next(ctx context.Context) (*video.Frame, error) {
	limit := time.NewTimer(frameLimit)
	defer limit.Stop()
	select {
	case r, ok := <-d.frames:
		if !ok {
			return nil, io.EOF
		}
		return d.open(r)
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-limit.C:
		return nil, fmt.Errorf("reading %s: no frame for %.1f s: %w", d.info.Spec, frameLimit.Seconds(), video.ErrStalled)
	}
}

// open makes a frame of a reading.
func (d *Device) open(r reading) (*video.Frame, error) {
	var bad *video.BadFrame
	switch {
	case errors.As(r.err, &bad):
		return nil, bad
	case r.err != nil:
		return nil, fmt.Errorf("reading %s: %w", d.info.Spec, r.err)
	case r.packet == nil:
		return r.frame, nil
	}
	f, _, err := picture.DecodeJPEG(r.packet, d.info.Height)
	if err == nil && (f.Width != d.info.Width || f.Height != d.info.Height) {
		err = fmt.Errorf("it is %d x %d, those before it %d x %d", f.Width, f.Height, d.info.Width, d.info.Height)
	}
	if err != nil { // damaged on its way; the next may be whole
		return nil, d.bad(r.frame.Index, err)
	}
	f.Index, f.Time, f.Lost = r.frame.Index, r.frame.Time, r.frame.Lost
	return f, nil
}

func (d *Device) bad(index int, err error) error {
	return &video.BadFrame{Index: index, Err: fmt.Errorf("reading %s, frame %d: %w", d.info.Spec, index, err)}
}

// Close ends reading and waits until the device is free; a reader that the driver does
// not let go is given up after two seconds and ends by itself.
func (d *Device) Close() error {
	d.once.Do(func() { close(d.stop) })
	select {
	case <-d.gone:
	case <-time.After(closeLimit):
	}
	return nil
}

// send keeps the newest frames; false when the device is being closed.
func (d *Device) send(r reading) bool {
	for {
		select {
		case <-d.stop:
			return false
		case d.frames <- r:
			return true
		default:
		}
		select {
		case <-d.frames:
		default:
		}
	}
}

// stopped says whether the device is being closed.
func (d *Device) stopped() bool {
	select {
	case <-d.stop:
		return true
	default:
		return false
	}
}

// rates settles an open device's order, standard and rate. The rate is the standard's: a
// driver may claim any, and the frames' stamps tell when some are missing.
func rates(i *video.Info, set video.Standard, claimed float64, order video.FieldOrder, stated bool) {
	i.Order = video.OrderOf(i.Width, i.Height)
	if stated && i.Height > 313 {
		i.Order = order
	}
	i.Standard = set
	if set == video.UnknownStandard {
		i.Standard = video.StandardOf(i.Width, i.Height, claimed)
	}
	switch {
	case i.Standard == video.UnknownStandard:
		i.Rate = claimed
	case i.Order == video.Progressive:
		i.Rate = i.Standard.Scan().FieldHz
	default:
		i.Rate = i.Standard.Scan().FieldHz / 2
	}
}

const jpegNote = "the device sends Motion JPEG, not raw frames: its 8 x 8 blocks can beat with the display's cells"
