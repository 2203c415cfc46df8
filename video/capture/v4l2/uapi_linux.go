//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package v4l2

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// Structures and calls of linux/videodev2.h as 64-bit machines lay them out. A call's number
// holds the size of its structure (asm-generic/ioctl.h).

type capability struct {
	Driver       [16]byte
	Card         [32]byte
	BusInfo      [32]byte
	Version      uint32
	Capabilities uint32
	DeviceCaps   uint32
	_            [3]uint32
}

type input struct {
	Index        uint32
	Name         [32]byte
	Type         uint32
	Audioset     uint32
	Tuner        uint32
	Std          uint64
	Status       uint32
	Capabilities uint32
	_            [3]uint32
	_            uint32 // padding
}

type fmtdesc struct {
	Index       uint32
	Type        uint32
	Flags       uint32
	Description [32]byte
	PixelFormat uint32
	MbusCode    uint32
	_           [3]uint32
}

type frmsizeenum struct {
	Index       uint32
	PixelFormat uint32
	Type        uint32
	Width       uint32 // of a discrete size
	Height      uint32
	_           [4]uint32
	_           [2]uint32
}

type pixFormat struct {
	Width        uint32
	Height       uint32
	PixelFormat  uint32
	Field        uint32
	BytesPerLine uint32
	SizeImage    uint32
	Colorspace   uint32
	Priv         uint32
	Flags        uint32
	_            [3]uint32
}

type format struct {
	Type uint32
	_    uint32
	Pix  pixFormat
	_    [200 - unsafe.Sizeof(pixFormat{})]byte
}

type streamparm struct {
	Type        uint32
	Capability  uint32
	CaptureMode uint32
	Numerator   uint32 // of the seconds a frame
	Denominator uint32
	_           [200 - 16]byte
}

type requestbuffers struct {
	Count        uint32
	Type         uint32
	Memory       uint32
	Capabilities uint32
	_            uint32
}

type buffer struct {
	Index     uint32
	Type      uint32
	BytesUsed uint32
	Flags     uint32
	Field     uint32
	_         uint32
	Sec, Usec int64
	_         [16]byte // timecode
	Sequence  uint32
	Memory    uint32
	Offset    uint32 // of the union m
	_         uint32
	Length    uint32
	_         [2]uint32
	_         uint32
}

type subscription struct {
	Type  uint32
	ID    uint32
	Flags uint32
	_     [5]uint32
}

type event struct {
	Type     uint32
	_        uint32
	Data     [64]byte
	Pending  uint32
	Sequence uint32
	_        [2]int64
	ID       uint32
	_        [8]uint32
	_        uint32
}

const (
	reads  = 2 << 30
	writes = 1 << 30
	class  = 'V' << 8

	vidiocQuerycap        = reads | unsafe.Sizeof(capability{})<<16 | class
	vidiocEnumFmt         = reads | writes | unsafe.Sizeof(fmtdesc{})<<16 | class | 2
	vidiocSFmt            = reads | writes | unsafe.Sizeof(format{})<<16 | class | 5
	vidiocReqbufs         = reads | writes | unsafe.Sizeof(requestbuffers{})<<16 | class | 8
	vidiocQuerybuf        = reads | writes | unsafe.Sizeof(buffer{})<<16 | class | 9
	vidiocQbuf            = reads | writes | unsafe.Sizeof(buffer{})<<16 | class | 15
	vidiocDqbuf           = reads | writes | unsafe.Sizeof(buffer{})<<16 | class | 17
	vidiocStreamon        = writes | 4<<16 | class | 18
	vidiocStreamoff       = writes | 4<<16 | class | 19
	vidiocGParm           = reads | writes | unsafe.Sizeof(streamparm{})<<16 | class | 21
	vidiocGStd            = reads | 8<<16 | class | 23
	vidiocSStd            = writes | 8<<16 | class | 24
	vidiocEnuminput       = reads | writes | unsafe.Sizeof(input{})<<16 | class | 26
	vidiocGInput          = reads | 4<<16 | class | 38
	vidiocSInput          = reads | writes | 4<<16 | class | 39
	vidiocQuerystd        = reads | 8<<16 | class | 63
	vidiocEnumFramesizes  = reads | writes | unsafe.Sizeof(frmsizeenum{})<<16 | class | 74
	vidiocDqevent         = reads | unsafe.Sizeof(event{})<<16 | class | 89
	vidiocSubscribeEvent  = writes | unsafe.Sizeof(subscription{})<<16 | class | 90
	capVideoCapture       = 0x1
	capVideoCaptureMplane = 0x1000
	capDeviceCaps         = 0x80000000
	inputTuner            = 1
	typeVideoCapture      = 1
	memoryMmap            = 1
	frmsizeDiscrete       = 1
	bufFlagError          = 0x40
	bufFlagTimestampMask  = 0xE000
	bufFlagTimestampMono  = 0x2000
	eventSourceChange     = 5
	mostListed            = 64 // inputs, formats, sizes: against a driver that never ends its list
	mostBuffers           = 4
	mostBytes             = 64 << 20 // of a buffer
)

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
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}
