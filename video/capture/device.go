package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/picture"
)

const (
	openLimit  = 10 * time.Second // some drivers take seconds over their first frame
	frameLimit = 2 * time.Second  // 50 frames late: the device has stalled
	queue      = 8                // frames kept for a slow reader; then the oldest goes
	retries    = 25               // quick refusals in a row before the device counts as gone
)

// ErrStalled is a device that gives no more frames; it may do again once opened anew.
var ErrStalled = errors.New("no frame came for two seconds: the device has stalled")

// DeviceOptions are OpenDevice's; zero asks the device.
type DeviceOptions struct {
	Standard video.Standard // to ask the frame's height for; unknown: the device's own setting
}

// A Device is a capture device that is streaming.
type Device struct {
	info   video.Info
	frames chan reading
	stop   chan struct{} // closed by Close
	gone   chan struct{} // closed when the reader has gone
	once   sync.Once
}

// A reading is a frame, or the error that ends it all.
type reading struct {
	frame *video.Frame
	err   error
}

// DevicePath gives the path of a device's number, and of a path itself.
func DevicePath(word string) (path string, ok bool) {
	if n, err := strconv.Atoi(word); err == nil && n >= 0 && n < 1024 && word == strconv.Itoa(n) {
		return "/dev/video" + word, true
	}
	return word, strings.HasPrefix(word, "/dev/")
}

// OpenDevice opens a capture device by path, or by number, and starts it.
func OpenDevice(ctx context.Context, word string, o DeviceOptions) (*Device, error) {
	path, _ := DevicePath(word)
	status, err := DeviceStatus(path)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, plain(err))
	}
	standard := o.Standard
	if standard == video.UnknownStandard {
		standard = status.Standard
	}
	d := &Device{
		frames: make(chan reading, queue),
		stop:   make(chan struct{}),
		gone:   make(chan struct{}),
	}
	opened := make(chan error, 1)
	go d.run(path, standard, opened)
	limit := time.NewTimer(openLimit)
	defer limit.Stop()
	select {
	case err = <-opened:
	case <-ctx.Done():
		err = ctx.Err()
	case <-limit.C:
		err = errors.New("the device gave no frame: is another program using it, is anything feeding it?")
	}
	if err != nil {
		_ = d.Close()
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	d.info.Spec, d.info.Kind = word, video.KindDevice
	d.info.DeviceStatus = status.Words
	if status.Standard != video.UnknownStandard && d.info.Standard == video.UnknownStandard {
		d.info.Standard = status.Standard
	}
	return d, nil
}

// Info says what was known of the device when it was opened.
func (d *Device) Info() video.Info { return d.info }

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
		var bad *video.BadFrame
		if errors.As(r.err, &bad) {
			return nil, bad
		}
		if r.err != nil {
			return nil, fmt.Errorf("reading %s: %w", d.info.Spec, r.err)
		}
		return r.frame, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-limit.C:
		return nil, fmt.Errorf("reading %s: %w", d.info.Spec, ErrStalled)
	}
}

// Close ends reading and waits until the device is free; a reader that the driver does
// not let go is given up after two seconds and ends by itself.
func (d *Device) Close() error {
	d.once.Do(func() { close(d.stop) })
	select {
	case <-d.gone:
	case <-time.After(frameLimit):
	}
	return nil
}

// run owns the VideoCapture and the Mat; it alone touches them. opened gets one
// value, after which info is not written again.
func (d *Device) run(path string, standard video.Standard, opened chan<- error) {
	defer close(d.gone)
	defer close(d.frames)
	vc, err := gocv.OpenVideoCaptureWithAPI(path, gocv.VideoCaptureV4L2)
	if vc != nil {
		defer vc.Close()
	}
	if err != nil || !vc.IsOpened() {
		opened <- errors.New("OpenCV can't open it: another program may hold it")
		return
	}
	height := 576
	if standard == video.Std525 {
		height = 480
	}
	// The format before the size: with the size alone OpenCV takes B, G, R where there is some.
	vc.Set(gocv.VideoCaptureFOURCC, vc.ToCodec("YUYV"))
	vc.Set(gocv.VideoCaptureFrameWidth, 720)
	vc.Set(gocv.VideoCaptureFrameHeight, float64(height))
	vc.Set(gocv.VideoCaptureConvertRGB, 0)
	m := gocv.NewMat()
	defer m.Close()

	start := time.Now()
	how, err := d.first(vc, &m)
	if err != nil {
		opened <- err
		return
	}
	d.describe(vc, how, height)
	opened <- nil
	for index := 0; ; index++ {
		at := time.Since(start)
		f, err := how.frame(&m)
		r := reading{f, nil}
		if err != nil { // damaged on its way; the next may be whole
			r.err = &video.BadFrame{Index: index, Err: fmt.Errorf("reading %s, frame %d: %w", path, index, err)}
		} else {
			f.Index, f.Time = index, at
		}
		if !d.send(r) {
			return
		}
		if err := d.read(vc, &m); err != nil {
			d.send(reading{nil, err})
			return
		}
	}
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

// read reads a frame. OpenCV answers false at once when a signal interrupts its wait
// (Go's runtime sends itself some), after ten seconds when the device stalls, and at once,
// every time, when it is gone.
func (d *Device) read(vc *gocv.VideoCapture, m *gocv.Mat) error {
	for range retries {
		begin := time.Now()
		if vc.Read(m) {
			return nil
		}
		if time.Since(begin) > frameLimit {
			return ErrStalled
		}
		select {
		case <-d.stop:
			return io.EOF
		case <-time.After(10 * time.Millisecond):
		}
	}
	return errors.New("the device gives no frames any more: was it unplugged?")
}

// A way is how this device's frames are told apart.
type way struct {
	route         route
	layout        string
	width, height int
}

func (w way) frame(m *gocv.Mat) (*video.Frame, error) {
	return frameOf(m, w.route, w.layout, w.width, w.height)
}

// first reads the first frame and says what it is.
func (d *Device) first(vc *gocv.VideoCapture, m *gocv.Mat) (way, error) {
	if err := d.read(vc, m); err != nil {
		return way{}, fmt.Errorf("it opened and gave no frame: %w", err)
	}
	code := letters(vc.Get(gocv.VideoCaptureFOURCC))
	if m.Type() == gocv.MatTypeCV8UC2 {
		if code != "UYVY" {
			code = "YUYV"
		}
		return way{planes, code, m.Cols(), m.Rows()}, nil
	}
	if data, err := m.DataPtrUint8(); err == nil && picture.IsJPEG(data) {
		w := way{packets, "", 0, int(vc.Get(gocv.VideoCaptureFrameHeight))}
		f, err := w.frame(m)
		if err != nil {
			return way{}, fmt.Errorf("its first frame is damaged: %w", err)
		}
		w.width, w.height = f.Width, f.Height
		return w, nil
	}
	if m.Type() == gocv.MatTypeCV8UC1 && code != "GREY" {
		// Planar 4:2:0 comes as one plane, half as high again as the picture.
		if code == "YU12" {
			code = "I420"
		}
		if !picture.IsPacked(code, m.Cols(), m.Rows()*2/3, m.Total()) {
			return way{}, fmt.Errorf("it sends %s, which can't be taken apart", code)
		}
		return way{planes, code, m.Cols(), m.Rows() * 2 / 3}, nil
	}
	return way{bgr, "", m.Cols(), m.Rows()}, nil
}

func (d *Device) describe(vc *gocv.VideoCapture, how way, asked int) {
	i := &d.info
	i.Width, i.Height = how.width, how.height
	if rate := vc.Get(gocv.VideoCaptureFPS); rate >= 1 && rate <= 300 {
		i.Rate = rate
	}
	i.Codec = letters(vc.Get(gocv.VideoCaptureFOURCC))
	i.Order = video.OrderOf(i.Width, i.Height)
	i.Standard = video.StandardOf(i.Width, i.Height, i.Rate)
	switch how.route {
	case packets:
		i.Block = 8
		i.Notes = append(i.Notes, "the device sends Motion JPEG, not raw frames: its 8 x 8 blocks can beat with the display's cells")
	case bgr:
		i.RGB = true
		i.Notes = append(i.Notes, "the device's frames came by way of RGB: colours outside its gamut are clipped")
	}
	if i.Width != 720 || i.Height != asked {
		i.Notes = append(i.Notes, fmt.Sprintf("the device gives %d x %d where 720 x %d was asked for: the picture may be scaled", i.Width, i.Height, asked))
	}
}
