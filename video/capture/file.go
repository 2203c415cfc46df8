package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/capture/libav"
	"backporch/video/picture"
)

// codecPixelFormat is CAP_PROP_CODEC_PIXEL_FORMAT, which gocv does not name.
const codecPixelFormat gocv.VideoCaptureProperties = 46

// route is how a file's frames come.
type route int

const (
	packets route = iota // JPEG packets
	planes               // raw packets
	codes                // decoded by FFmpeg's libraries, codes as they are
	bgr                  // decoded by FFmpeg and made B, G, R
)

// File is a recording.
type File struct {
	info    video.Info
	vc      *gocv.VideoCapture
	mat     gocv.Mat
	route   route
	layout  string           // of raw packets
	held    bool             // mat, or first, holds a frame that was read while opening
	decoder *libav.Recording // of codes
	first   *video.Frame
	index   int // of the next frame
	good    int // frames that could be read
	last    time.Duration
	missing int64 // bytes the file lacks by its own account
	ended   bool
}

// OpenFile opens a recorded file.
func OpenFile(path string) (*File, error) {
	missing, err := container(path)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, plain(err))
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	quiet()
	f := &File{missing: missing, mat: gocv.NewMat()}
	if err := f.open(full); err != nil {
		_ = f.Close()
		if missing > 0 {
			err = fmt.Errorf("%w; the file was cut off, %d bytes are missing", err, missing)
		}
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	f.info.Spec, f.info.Kind = path, video.KindFile
	f.describe()
	return f, nil
}

// quiet keeps FFmpeg's own lines off standard error: what they say is in our errors. The
// level is AV_LOG_QUIET; who sets the variable keeps it.
var quiet = sync.OnceFunc(func() {
	if os.Getenv("OPENCV_FFMPEG_LOGLEVEL") == "" {
		_ = os.Setenv("OPENCV_FFMPEG_LOGLEVEL", "-8")
		libav.Quiet()
	}
})

func (f *File) open(path string) error {
	url := "file:" + path // a name with a colon is no protocol
	if err := f.start(url, true); err != nil {
		return err
	}
	if !f.vc.Read(&f.mat) {
		return errors.New("there is no picture in it that can be read")
	}
	data, err := f.mat.DataPtrUint8()
	if err != nil {
		return err
	}
	pixels := letters(f.vc.Get(codecPixelFormat))
	switch w, h := f.size(); {
	case picture.IsJPEG(data):
		f.route, f.held = packets, true
	case picture.IsPacked(pixels, w, h, len(data)):
		f.route, f.layout, f.held = planes, pixels, true
	default:
		if f.decode(path) {
			return nil
		}
		f.route = bgr
		if err := f.start(url, false); err != nil {
			return err
		}
		if !f.vc.Read(&f.mat) {
			return fmt.Errorf("no frame of it can be decoded (codec %q)", letters(f.vc.Get(gocv.VideoCaptureFOURCC)))
		}
		f.held = true
	}
	return nil
}

// decode opens the file for its codes; false where it has none, or the libraries can't give them.
func (f *File) decode(path string) bool {
	r, err := libav.Open(path)
	if err != nil {
		return false
	}
	frame, err := r.Next()
	if err != nil {
		r.Close()
		return false
	}
	f.route, f.decoder, f.first, f.held = codes, r, frame, true
	return true
}

// start opens the file anew: for its packets, or decoded.
func (f *File) start(url string, raw bool) error {
	if f.vc != nil {
		_ = f.vc.Close()
	}
	vc, err := gocv.OpenVideoCaptureWithAPI(url, gocv.VideoCaptureFFmpeg)
	f.vc = vc // to be closed even when it did not open
	if err != nil || !vc.IsOpened() {
		return errors.New("it is damaged, or no video that OpenCV can read")
	}
	if raw {
		vc.Set(gocv.VideoCaptureFormat, -1)
	}
	w, h := f.size()
	return picture.CheckSize(w, h)
}

func (f *File) size() (width, height int) {
	return int(f.vc.Get(gocv.VideoCaptureFrameWidth)), int(f.vc.Get(gocv.VideoCaptureFrameHeight))
}

// letters are the four of a code, without padding.
func letters(code float64) string {
	if code < 0 || code >= 1<<32 {
		return ""
	}
	v := uint32(code)
	out := []byte{byte(v), byte(v >> 8), byte(v >> 16), byte(v >> 24)}
	for i, b := range out {
		if b < ' ' || b > '~' {
			out[i] = ' '
		}
	}
	return strings.TrimSpace(string(out))
}

func (f *File) describe() {
	i := &f.info
	i.Width, i.Height = f.size()
	if f.first != nil {
		i.Width, i.Height = f.first.Width, f.first.Height
	} else if frame, err := f.frame(); err == nil {
		i.Width, i.Height = frame.Width, frame.Height
	}
	if rate := f.vc.Get(gocv.VideoCaptureFPS); rate >= 1 && rate <= 300 {
		i.Rate = rate
	}
	if n := f.vc.Get(gocv.VideoCaptureFrameCount); n >= 1 && n < 1e8 {
		i.Frames = int(n)
	}
	i.Codec = letters(f.vc.Get(gocv.VideoCaptureFOURCC))
	i.Order = video.OrderOf(i.Width, i.Height).At(i.Rate)
	i.Standard = video.StandardOf(i.Width, i.Height, i.Rate)
	switch f.route {
	case packets:
		i.Codec, i.Block = "MJPG", 8 // whatever the container calls it
	case bgr:
		i.RGB = true
		i.Notes = append(i.Notes, fmt.Sprintf("codec %s came by way of RGB: colours outside its gamut are clipped", i.Codec))
	}
	if f.missing > 0 {
		i.Notes = append(i.Notes, fmt.Sprintf("the file was cut off: %d bytes are missing at its end", f.missing))
	}
}

// Info says what is known of the recording.
func (f *File) Info() video.Info { return f.info }

// Next gives the next frame.
func (f *File) Next(ctx context.Context) (*video.Frame, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if f.vc == nil || f.ended {
		return nil, io.EOF
	}
	frame, at, err := f.read()
	if errors.Is(err, io.EOF) {
		return nil, f.end()
	}
	index := f.index
	f.index++
	at = f.time(index, at)
	if err == nil && (frame.Width != f.info.Width || frame.Height != f.info.Height) {
		err = fmt.Errorf("it is %d x %d, the recording %d x %d", frame.Width, frame.Height, f.info.Width, f.info.Height)
	}
	if err != nil {
		return nil, &video.BadFrame{Index: index, Err: fmt.Errorf("reading %s, frame %d: %w", f.info.Spec, index, err)}
	}
	f.good++
	frame.Index, frame.Time = index, at
	return frame, nil
}

// read gives the next frame with the file's own stamp, io.EOF after the last one.
func (f *File) read() (frame *video.Frame, at time.Duration, err error) {
	held := f.held
	f.held = false
	if f.decoder != nil {
		if frame, f.first = f.first, nil; !held {
			frame, err = f.decoder.Next()
		}
		if frame != nil {
			at = frame.Time
		}
		return frame, at, err
	}
	if !held && !f.vc.Read(&f.mat) {
		return nil, 0, io.EOF
	}
	at = time.Duration(f.vc.Get(gocv.VideoCapturePosMsec) * float64(time.Millisecond))
	frame, err = f.frame()
	return frame, at, err
}

// time is the file's own stamp where it has one that goes on, else the rate's.
func (f *File) time(index int, at time.Duration) time.Duration {
	if at <= f.last && index > 0 {
		at = f.last
		if f.info.Rate > 0 {
			at += time.Duration(float64(time.Second) / f.info.Rate)
		}
	}
	f.last = at
	return at
}

// frame makes a frame of what mat holds.
func (f *File) frame() (*video.Frame, error) {
	return frameOf(&f.mat, f.route, f.layout, f.info.Width, f.info.Height)
}

// end is called once: a damaged end is told before io.EOF.
func (f *File) end() error {
	f.ended = true
	if f.missing == 0 {
		return io.EOF
	}
	err := fmt.Errorf("reading %s: the file was cut off after frame %d, %d bytes are missing: %w", f.info.Spec, f.index-1, f.missing, io.ErrUnexpectedEOF)
	if f.good == 0 {
		return err
	}
	return &video.BadFrame{Index: f.index, Err: err}
}

// Close frees what the file holds.
func (f *File) Close() error {
	if f.vc == nil {
		return nil
	}
	if f.decoder != nil {
		f.decoder.Close()
	}
	err := errors.Join(f.vc.Close(), f.mat.Close())
	f.vc = nil
	return err
}
