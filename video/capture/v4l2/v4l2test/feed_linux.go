//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package v4l2test

import (
	"fmt"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// format is struct v4l2_format of linux/videodev2.h with its pix member.
type format struct {
	Type, _                            uint32
	Width, Height, PixelFormat, Field  uint32
	BytesPerLine, SizeImage, Colorspec uint32
	_                                  [200 - 28]byte
}

const (
	vidiocQuerycap  = 0x80685600
	vidiocSFmt      = 0xC0D05605
	vidiocStreamon  = 0x40045612
	typeVideoOutput = 2
	fieldNone       = 1
	yuyv            = 0x56595559
)

// A Feeder writes frames to a loopback device at a steady rate.
type Feeder struct {
	fd   int
	stop chan struct{}
	done chan struct{}
	once sync.Once
	err  error
}

// Feed starts to feed YUYV frames of this size, 25 a second, the n-th being frame(n); a nil
// frame leaves its turn out.
func Feed(path string, width, height int, frame func(n int) []byte) (*Feeder, error) {
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("opening %s to feed it: %w", path, err)
	}
	f := format{Type: typeVideoOutput, Width: uint32(width), Height: uint32(height), PixelFormat: yuyv, Field: fieldNone,
		BytesPerLine: uint32(2 * width), SizeImage: uint32(2 * width * height)}
	var about [104]byte
	kind := int32(typeVideoOutput)
	for _, call := range []struct {
		name   string
		number uintptr
		arg    unsafe.Pointer
	}{
		{"asking", vidiocQuerycap, unsafe.Pointer(&about)}, // turns it back to one that is fed when it has captured
		{"setting up", vidiocSFmt, unsafe.Pointer(&f)},
		{"starting", vidiocStreamon, unsafe.Pointer(&kind)}, // without, v4l2loopback 0.12 takes no other feeder after this one
	} {
		if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), call.number, uintptr(call.arg)); errno != 0 {
			_ = unix.Close(fd)
			return nil, fmt.Errorf("%s %s to feed it: %w", call.name, path, errno)
		}
	}
	out := &Feeder{fd: fd, stop: make(chan struct{}), done: make(chan struct{})}
	go out.run(frame)
	return out, nil
}

func (f *Feeder) run(frame func(n int) []byte) {
	defer close(f.done)
	defer unix.Close(f.fd)
	const period = 40 * time.Millisecond
	next := time.Now()
	for n := 0; ; n++ {
		if data := frame(n); data != nil {
			if _, err := unix.Write(f.fd, data); err != nil {
				f.err = fmt.Errorf("feeding frame %d: %w", n, err)
				return
			}
		}
		if next = next.Add(period); time.Until(next) < -period {
			next = time.Now() // fallen behind: no burst
		}
		select {
		case <-f.stop:
			return
		case <-time.After(time.Until(next)):
		}
	}
}

// Stop ends feeding; its error is what had ended it before.
func (f *Feeder) Stop() error {
	f.once.Do(func() { close(f.stop) })
	<-f.done
	return f.err
}
