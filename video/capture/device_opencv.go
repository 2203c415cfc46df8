package capture

import (
	"errors"
	"fmt"
	"io"
	"time"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/picture"
)

const retries = 25 // quick refusals in a row before the device counts as gone

// An opencvDevice is what OpenCV alone can make of a device: frames, without the driver's count
// and stamps, and without a limit to a read.
type opencvDevice struct {
	name     any // path, or number
	api      gocv.VideoCaptureAPI
	standard video.Standard // to ask the frame's height for
	known    bool           // it is the device's own
	format   string
}

// runOpenCV owns the VideoCapture and the Mat; it alone touches them. opened gets one
// value, after which info is not written again.
func (d *Device) runOpenCV(o opencvDevice, opened chan<- error) {
	quiet()
	vc, err := gocv.OpenVideoCaptureWithAPI(o.name, o.api)
	if vc != nil {
		defer vc.Close()
	}
	if err != nil || !vc.IsOpened() {
		opened <- errors.New("OpenCV can't open it: is it there, and does another program hold it?")
		return
	}
	height := 576
	if o.standard == video.Std525 {
		height = 480
	}
	// The format before the size: with the size alone OpenCV takes B, G, R where there is some.
	format := "YUYV"
	if o.format != "" {
		format = o.format
	}
	vc.Set(gocv.VideoCaptureFOURCC, vc.ToCodec(format))
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
	d.describe(vc, how, height, o)
	opened <- nil
	for index := 0; ; index++ {
		at := time.Since(start)
		f, err := how.frame(&m)
		r := reading{frame: f}
		if err != nil { // damaged on its way; the next may be whole
			r.err = d.bad(index, err)
		} else {
			f.Index, f.Time = index, at
		}
		if !d.send(r) {
			return
		}
		if err := d.read(vc, &m); err != nil {
			d.send(reading{err: err})
			return
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
			return video.ErrStalled
		}
		select {
		case <-d.stop:
			return io.EOF
		case <-time.After(10 * time.Millisecond):
		}
	}
	return video.ErrGone
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

func (d *Device) describe(vc *gocv.VideoCapture, how way, asked int, o opencvDevice) {
	i := &d.info
	i.Width, i.Height = how.width, how.height
	claimed := 0.0
	if rate := vc.Get(gocv.VideoCaptureFPS); rate >= 1 && rate <= 300 {
		claimed = rate
	}
	i.Codec = letters(vc.Get(gocv.VideoCaptureFOURCC))
	set := video.UnknownStandard
	if o.known {
		set = o.standard
	}
	rates(i, set, claimed, 0, false)
	switch how.route {
	case packets:
		i.Block = 8
		i.Notes = append(i.Notes, jpegNote)
	case bgr:
		i.RGB = true
		i.Notes = append(i.Notes, "the device's frames came by way of RGB: colours outside its gamut are clipped")
	}
	if i.Width != 720 || i.Height != asked {
		i.Notes = append(i.Notes, fmt.Sprintf("the device gives %d x %d where 720 x %d was asked for: the picture may be scaled", i.Width, i.Height, asked))
	}
}
