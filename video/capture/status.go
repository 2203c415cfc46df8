package capture

import (
	"errors"
	"fmt"
	"os"
	"unsafe"

	"golang.org/x/sys/unix"

	"backporch/video"
)

// Calls of linux/videodev2.h; the numbers hold the sizes of their structures, which are
// the same on every 64-bit machine with this layout.
const (
	vidiocQuerycap  = 0x80685600
	vidiocGInput    = 0x80045626
	vidiocEnuminput = 0xC050561A
	vidiocGStd      = 0x80085617

	capVideoCapture       = 0x1
	capVideoCaptureMplane = 0x1000
	capDeviceCaps         = 0x80000000

	std525 = 0xF900     // V4L2_STD_525_60
	std625 = 0xFF06FF   // V4L2_STD_625_50
	stdAll = 0xFFFFFFFF // more than any answer of one standard
)

type v4l2Capability struct {
	Driver       [16]byte
	Card         [32]byte
	BusInfo      [32]byte
	Version      uint32
	Capabilities uint32
	DeviceCaps   uint32
	_            [3]uint32
}

type v4l2Input struct {
	Index        uint32
	Name         [32]byte
	Type         uint32
	Audioset     uint32
	Tuner        uint32
	Std          uint64
	Status       uint32
	Capabilities uint32
	_            [4]uint32
}

// statusWords are the flags of V4L2's ENUMINPUT that bear on a signal.
var statusWords = []struct {
	flag uint32
	word string
}{
	{0x1, "no power"}, {0x2, "no signal"}, {0x4, "no colour"}, {0x100, "no horizontal lock"},
	{0x200, "colour killer on"}, {0x400, "no vertical lock"}, {0x800, "no lock to the standard"},
	{0x10000, "no sync"},
}

// Status is what a device says of itself and of its selected input.
type Status struct {
	Card, Input string
	Standard    video.Standard // as it is set, not as it is seen
	Words       []string       // what it says of the signal; empty is no proof of a good one
}

// DeviceStatus asks a capture device; most say nothing of their signal.
func DeviceStatus(path string) (Status, error) {
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	switch {
	case errors.Is(err, unix.ENOENT):
		return Status{}, errors.New("there is no such device; plug it in, or see which there are with 'ls /dev/video*'")
	case errors.Is(err, unix.EACCES):
		return Status{}, errors.New("not allowed; add yourself to the group 'video' and log in again")
	case err != nil:
		return Status{}, &os.PathError{Op: "open", Path: path, Err: err}
	}
	defer unix.Close(fd)
	var c v4l2Capability
	if err := ioctl(fd, vidiocQuerycap, unsafe.Pointer(&c)); err != nil {
		return Status{}, errors.New("it is no video device")
	}
	caps := c.Capabilities
	if caps&capDeviceCaps != 0 {
		caps = c.DeviceCaps
	}
	if caps&(capVideoCapture|capVideoCaptureMplane) == 0 {
		return Status{}, fmt.Errorf("it is a video device that does not capture (%s); its neighbour may", text(c.Card[:]))
	}
	s := Status{Card: text(c.Card[:])}
	var number int32
	if ioctl(fd, vidiocGInput, unsafe.Pointer(&number)) == nil && number >= 0 {
		in := v4l2Input{Index: uint32(number)}
		if ioctl(fd, vidiocEnuminput, unsafe.Pointer(&in)) == nil {
			s.Input = text(in.Name[:])
			for _, w := range statusWords {
				if in.Status&w.flag != 0 {
					s.Words = append(s.Words, w.word)
				}
			}
		}
	}
	var std uint64
	if ioctl(fd, vidiocGStd, unsafe.Pointer(&std)) == nil && std != 0 && std < stdAll {
		switch {
		case std&std525 == 0:
			s.Standard = video.Std625
		case std&std625 == 0:
			s.Standard = video.Std525
		}
	}
	return s, nil
}

func ioctl(fd int, call uintptr, arg unsafe.Pointer) error {
	for {
		_, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), call, uintptr(arg))
		switch errno {
		case 0:
			return nil
		case unix.EINTR:
			continue
		}
		return errno
	}
}

func text(b []byte) string {
	if i := unix.ByteSliceToString(b); len(i) < len(b) {
		return i
	}
	return string(b)
}
