//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package v4l2

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"backporch/video"
)

// A Stream is a device that streams. It is used by one goroutine; none of its calls waits
// in the kernel for a frame.
type Stream struct {
	Device *Device        // as it is set for the stream
	Lines  video.Standard // what it decodes; asked for where it has no standards
	Mode   Mode

	fd      int
	maps    [][]byte
	events  bool // the driver tells of changes of its source
	queries bool // QUERYSTD has an answer while streaming
	errors  int  // EIO in a row
	on      bool // started
}

// ErrFormat: the device offers no pixel format that can be taken apart here.
var ErrFormat = errors.New("the device offers no raw 4:2:2 or 4:2:0 and no Motion JPEG")

// Open sets a device up and starts it.
func Open(path string, c Config) (*Stream, error) {
	fd, err := open(path)
	if err != nil {
		return nil, err
	}
	s := &Stream{fd: fd, queries: true}
	if err := s.set(path, c); err != nil {
		s.Close()
		return nil, busy(err)
	}
	if err := s.start(); err != nil {
		s.Close()
		return nil, busy(err)
	}
	return s, nil
}

func busy(err error) error {
	switch {
	case errors.Is(err, unix.EBUSY):
		return fmt.Errorf("%w; close that one, or give another device", video.ErrBusy)
	case errors.Is(err, unix.ENODEV):
		return video.ErrGone
	}
	return err
}

// Set chooses a device's input and standard for another program, such as OpenCV, to
// capture with. lines is the standard to ask a frame's size for.
func Set(path string, c Config) (d *Device, lines video.Standard, notes []string, err error) {
	fd, err := open(path)
	if err != nil {
		return nil, 0, nil, err
	}
	defer unix.Close(fd)
	s := &Stream{fd: fd}
	lines, err = s.choose(path, c)
	return s.Device, lines, s.Mode.Notes, busy(err)
}

// set chooses input, standard and format, in this order, since each may change the next.
func (s *Stream) set(path string, c Config) error {
	want, err := s.choose(path, c)
	if err != nil {
		return err
	}
	s.Lines = want
	code, ok, err := s.Device.Choose(c.Format)
	switch {
	case err != nil:
		return err
	case !ok:
		return ErrFormat
	}
	return s.format(code, want)
}

func (s *Stream) note(format string, args ...any) {
	s.Mode.Notes = append(s.Mode.Notes, fmt.Sprintf(format, args...))
}

// choose chooses input and standard.
func (s *Stream) choose(path string, c Config) (video.Standard, error) {
	d, err := query(s.fd, path)
	if err != nil {
		return 0, err
	}
	if c.Input != "" {
		in, err := d.FindInput(c.Input)
		if err != nil {
			return 0, err
		}
		if in.Number != d.Selected {
			n := int32(in.Number)
			if err := ioctl(s.fd, vidiocSInput, unsafe.Pointer(&n)); err != nil {
				return 0, fmt.Errorf("choosing input %s: %w", in.Name, err)
			}
			n = -1
			if ioctl(s.fd, vidiocGInput, unsafe.Pointer(&n)) == nil && int(n) != in.Number {
				s.note("the device was set to input %d and says that it uses %d", in.Number, n)
			}
			if d, err = query(s.fd, path); err != nil {
				return 0, err
			}
		}
	}
	s.Device = d
	return s.standard(d, c.Standard)
}

// standard sets the standard that is asked for, else the one that the device detects, and
// gives the scanning standard to ask a frame's size for.
func (s *Stream) standard(d *Device, name string) (video.Standard, error) {
	has := d.Input().Standards
	if name == "" {
		seen, set := d.Seen.Scan(), d.Standard.Scan()
		if seen == video.UnknownStandard || set == video.UnknownStandard || seen == set {
			return set, nil
		}
		if err := s.setStandard(d, d.Seen); err != nil {
			s.note("the device detects %s, and can't be set to it (%v): it decodes %s", seen, err, set)
			return set, nil
		}
		s.note("the device was set to %s and detected %s: it decodes that now", set, seen)
		return seen, nil
	}
	want, err := ParseStandard(name)
	if err != nil {
		return 0, err
	}
	if has == 0 && d.Standard == 0 {
		s.note("the device has no standards to choose from: %s only gives the size of the frames", name)
		return want.Scan(), nil
	}
	if has != 0 && has&want == 0 {
		return 0, fmt.Errorf("input %s has no standard %s; it has %s", d.Input().Name, name, strings.Join(has.Names(), ", "))
	}
	if err := s.setStandard(d, want); err != nil {
		return 0, fmt.Errorf("choosing standard %s: %w", name, err)
	}
	if seen := d.Seen.Scan(); seen != video.UnknownStandard && seen != want.Scan() {
		s.note("the device detects %s and decodes %s, as it was told", seen, want.Scan())
	}
	return want.Scan(), nil
}

func (s *Stream) setStandard(d *Device, want Standard) error {
	if has := d.Input().Standards; has != 0 && has&want != 0 {
		want &= has
	}
	if want == d.Standard {
		return nil
	}
	std := uint64(want)
	if err := ioctl(s.fd, vidiocSStd, unsafe.Pointer(&std)); err != nil {
		return err
	}
	if got := standardOf(s.fd, vidiocGStd); got.Scan() != want.Scan() {
		return fmt.Errorf("it says that it decodes %s all the same", got)
	}
	d.Standard = want
	return nil
}

func (s *Stream) format(code string, standard video.Standard) error {
	f := format{Type: typeVideoCapture}
	f.Pix = pixFormat{Width: 720, Height: 576, PixelFormat: codeOf(code), Field: fieldInterlaced}
	if standard == video.Std525 {
		f.Pix.Height = 480
	}
	asked := f.Pix
	if err := ioctl(s.fd, vidiocSFmt, unsafe.Pointer(&f)); err != nil {
		return fmt.Errorf("choosing format %s: %w", code, err)
	}
	got := f.Pix
	m := &s.Mode
	m.Code, m.Width, m.Height = letters(got.PixelFormat), int(got.Width), int(got.Height)
	m.Stride, m.Field = int(got.BytesPerLine), got.Field
	if !slices.Contains(preferred, m.Code) {
		return ErrFormat
	}
	if m.Code != code {
		s.note("the device was asked for %s and gives %s", code, m.Code)
	}
	if got.Width != asked.Width || got.Height != asked.Height {
		s.note("the device gives %d x %d where 720 x %d was asked for: the picture may be scaled", got.Width, got.Height, asked.Height)
	}
	p := streamparm{Type: typeVideoCapture}
	if ioctl(s.fd, vidiocGParm, unsafe.Pointer(&p)) == nil && p.Numerator > 0 {
		if rate := float64(p.Denominator) / float64(p.Numerator); rate >= 1 && rate <= 300 {
			m.Rate = rate
		}
	}
	return nil
}

func (s *Stream) start() error {
	r := requestbuffers{Count: mostBuffers, Type: typeVideoCapture, Memory: memoryMmap}
	if err := ioctl(s.fd, vidiocReqbufs, unsafe.Pointer(&r)); err != nil {
		if errors.Is(err, unix.EINVAL) {
			return errors.New("the device does not stream")
		}
		return fmt.Errorf("asking for buffers: %w", err)
	}
	if r.Count < 2 {
		return errors.New("the driver has no memory for frames")
	}
	for i := range min(r.Count, 32) {
		b := buffer{Index: i, Type: typeVideoCapture, Memory: memoryMmap}
		if err := ioctl(s.fd, vidiocQuerybuf, unsafe.Pointer(&b)); err != nil {
			return fmt.Errorf("asking for buffer %d: %w", i, err)
		}
		if b.Length == 0 || b.Length > mostBytes {
			return fmt.Errorf("the driver's buffers have %d bytes", b.Length)
		}
		m, err := unix.Mmap(s.fd, int64(b.Offset), int(b.Length), unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
		if err != nil {
			return fmt.Errorf("mapping buffer %d: %w", i, err)
		}
		s.maps = append(s.maps, m)
		if err := ioctl(s.fd, vidiocQbuf, unsafe.Pointer(&b)); err != nil {
			return fmt.Errorf("giving buffer %d to the driver: %w", i, err)
		}
	}
	sub := subscription{Type: eventSourceChange, ID: uint32(max(s.Device.Selected, 0))}
	s.events = ioctl(s.fd, vidiocSubscribeEvent, unsafe.Pointer(&sub)) == nil
	on := int32(typeVideoCapture)
	if err := ioctl(s.fd, vidiocStreamon, unsafe.Pointer(&on)); err != nil {
		return fmt.Errorf("starting the stream: %w", err)
	}
	s.on = true
	return nil
}

// A Buffer is a frame as the driver gives it; Data is the driver's memory until Release.
type Buffer struct {
	Data     []byte
	Damaged  bool          // by the driver's word
	Sequence uint32        // the driver's count of frames, those it lost among them
	Stamp    time.Duration // monotonic clock, when Stamped
	Stamped  bool
	raw      buffer
}

// What Wait gives beside a buffer.
var (
	ErrNothing = errors.New("nothing came in that time")
	ErrSource  = errors.New("the device's source has changed") // ask Reception
)

const broken = 8 // failed answers in a row that end a stream

// Wait waits so long for a frame, at most. Any error but ErrNothing and ErrSource ends
// the stream.
func (s *Stream) Wait(limit time.Duration) (Buffer, error) {
	end := time.Now().Add(limit)
	for {
		left := max(time.Until(end), 0)
		fds := []unix.PollFd{{Fd: int32(s.fd), Events: unix.POLLIN | unix.POLLPRI}}
		n, err := unix.Poll(fds, int((left+time.Millisecond-1)/time.Millisecond))
		switch {
		case errors.Is(err, unix.EINTR):
			continue
		case err != nil:
			return Buffer{}, fmt.Errorf("waiting for a frame: %w", err)
		case n == 0:
			return Buffer{}, ErrNothing
		}
		if s.events && fds[0].Revents&unix.POLLPRI != 0 && s.event() {
			return Buffer{}, ErrSource
		}
		b := buffer{Type: typeVideoCapture, Memory: memoryMmap}
		err = ioctl(s.fd, vidiocDqbuf, unsafe.Pointer(&b))
		switch {
		case err == nil:
			s.errors = 0
			return s.buffer(b)
		case errors.Is(err, unix.EAGAIN):
			if fds[0].Revents&(unix.POLLERR|unix.POLLHUP|unix.POLLNVAL) == 0 {
				continue
			}
		case errors.Is(err, unix.ENODEV), errors.Is(err, unix.ENXIO), errors.Is(err, unix.EBADF):
			return Buffer{}, video.ErrGone
		}
		// The kernel's documents let a driver go on after EIO; one that repeats it does not.
		if s.errors++; s.errors >= broken {
			if s.vanished() {
				return Buffer{}, video.ErrGone
			}
			return Buffer{}, fmt.Errorf("the driver broke the stream off (%v): %w", err, video.ErrGone)
		}
		time.Sleep(min(left, 5*time.Millisecond))
	}
}

// vanished: the device does not even say what it is.
func (s *Stream) vanished() bool {
	var c capability
	return ioctl(s.fd, vidiocQuerycap, unsafe.Pointer(&c)) != nil
}

// event takes the driver's events; true when its source has changed.
func (s *Stream) event() bool {
	changed := false
	for range mostListed {
		var e event
		if err := ioctl(s.fd, vidiocDqevent, unsafe.Pointer(&e)); err != nil {
			break
		}
		changed = changed || e.Type == eventSourceChange
		if e.Pending == 0 {
			break
		}
	}
	return changed
}

func (s *Stream) buffer(b buffer) (Buffer, error) {
	if int(b.Index) >= len(s.maps) {
		return Buffer{}, fmt.Errorf("the driver gives buffer %d of %d", b.Index, len(s.maps))
	}
	m := s.maps[b.Index]
	return Buffer{
		Data: m[:min(int(b.BytesUsed), len(m))], Damaged: b.Flags&bufFlagError != 0, Sequence: b.Sequence,
		Stamp:   time.Duration(b.Sec)*time.Second + time.Duration(b.Usec)*time.Microsecond,
		Stamped: b.Flags&bufFlagTimestampMask == bufFlagTimestampMono, raw: b,
	}, nil
}

// Release gives a buffer back to the driver.
func (s *Stream) Release(b Buffer) error {
	raw := buffer{Index: b.raw.Index, Type: typeVideoCapture, Memory: memoryMmap}
	if err := ioctl(s.fd, vidiocQbuf, unsafe.Pointer(&raw)); err != nil {
		return busy(fmt.Errorf("giving a buffer back: %w", err))
	}
	return nil
}

// Reception asks the device what reaches it.
func (s *Stream) Reception() video.Reception {
	r := video.Reception{Set: s.Device.Standard.Scan()}
	if s.Device.Selected >= 0 {
		in := input{Index: uint32(s.Device.Selected)}
		if ioctl(s.fd, vidiocEnuminput, unsafe.Pointer(&in)) == nil {
			r.Words = words(in.Status)
		}
	}
	if s.queries && s.Device.Standard != 0 {
		var std uint64
		err := ioctl(s.fd, vidiocQuerystd, unsafe.Pointer(&std))
		switch {
		case err == nil && Standard(std) != s.Device.Input().Standards:
			r.Seen = Standard(std).Scan()
		case err != nil && !errors.Is(err, unix.ENODATA):
			s.queries = false // some drivers can't detect, or not while they stream
		}
	}
	return r
}

// Now is the clock of the stamps.
func Now() time.Duration {
	var ts unix.Timespec
	if unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts) != nil {
		return 0
	}
	return time.Duration(ts.Nano())
}

// Close stops the stream and frees the device.
func (s *Stream) Close() error {
	if s.fd < 0 {
		return nil
	}
	if s.on { // a handle that never streamed must not stop another's: some drivers don't tell them apart
		off := int32(typeVideoCapture)
		_ = ioctl(s.fd, vidiocStreamoff, unsafe.Pointer(&off)) // fails on a device that is gone
	}
	for _, m := range s.maps {
		_ = unix.Munmap(m)
	}
	err := unix.Close(s.fd)
	s.fd, s.maps = -1, nil
	if err != nil {
		return os.NewSyscallError("close", err)
	}
	return nil
}
