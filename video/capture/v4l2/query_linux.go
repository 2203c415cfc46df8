//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package v4l2

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"backporch/video"
)

// A Listed is one device of List: what it says of itself, or why it says nothing.
type Listed struct {
	Path   string
	Device *Device
	Err    error
}

// answers is how long a device may take to say what it is.
const answers = 2 * time.Second

// List asks all video devices of this machine, in the order of their numbers; those that
// do not capture are left out.
func List(ctx context.Context) ([]Listed, error) {
	paths, err := filepath.Glob("/dev/video*")
	if err != nil {
		return nil, err
	}
	number := func(path string) int {
		n, err := strconv.Atoi(strings.TrimPrefix(path, "/dev/video"))
		if err != nil {
			return 1 << 30
		}
		return n
	}
	slices.SortFunc(paths, func(a, b string) int { return number(a) - number(b) })
	var out []Listed
	for _, path := range paths {
		if number(path) == 1<<30 {
			continue
		}
		d, err := ask(ctx, path)
		if errors.Is(err, ErrNotCapture) {
			continue
		}
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
		out = append(out, Listed{Path: path, Device: d, Err: err})
	}
	return out, nil
}

// ask is Query for devices that may not answer: the goroutine then ends when the driver
// lets it go.
func ask(ctx context.Context, path string) (*Device, error) {
	type answer struct {
		d   *Device
		err error
	}
	c := make(chan answer, 1)
	go func() {
		d, err := Query(path)
		c <- answer{d, err}
	}()
	limit := time.NewTimer(answers)
	defer limit.Stop()
	select {
	case a := <-c:
		return a.d, a.err
	case <-limit.C:
		return nil, errors.New("it does not answer: unplug it and plug it in again")
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Query asks a device by its path.
func Query(path string) (*Device, error) {
	fd, err := open(path)
	if err != nil {
		return nil, err
	}
	defer unix.Close(fd)
	return query(fd, path)
}

func open(path string) (int, error) {
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	switch {
	case err == nil:
		return fd, nil
	case errors.Is(err, unix.ENOENT):
		return -1, errors.New("there is no such device; plug it in, or see which there are with 'backporch devices'")
	case errors.Is(err, unix.EACCES):
		return -1, errors.New("not allowed; add yourself to the group 'video' and log in again")
	case errors.Is(err, unix.EBUSY):
		return -1, video.ErrBusy
	case errors.Is(err, unix.ENODEV), errors.Is(err, unix.ENXIO):
		return -1, video.ErrGone
	}
	return -1, err
}

func query(fd int, path string) (*Device, error) {
	var c capability
	if err := ioctl(fd, vidiocQuerycap, unsafe.Pointer(&c)); err != nil {
		if errors.Is(err, unix.ENODEV) {
			return nil, video.ErrGone
		}
		return nil, fmt.Errorf("it is no video device: %w", ErrNotCapture)
	}
	caps := c.Capabilities
	if caps&capDeviceCaps != 0 {
		caps = c.DeviceCaps
	}
	if caps&(capVideoCapture|capVideoCaptureMplane) == 0 {
		return nil, fmt.Errorf("it is a video device (%s), and %w; its neighbour may", text(c.Card[:]), ErrNotCapture)
	}
	d := &Device{Path: path, ByID: ByID(path), Card: text(c.Card[:]), Driver: text(c.Driver[:]), Bus: text(c.BusInfo[:]), Selected: -1}
	var selected int32
	if ioctl(fd, vidiocGInput, unsafe.Pointer(&selected)) == nil {
		d.Selected = int(selected)
	}
	for i := range mostListed {
		in := input{Index: uint32(i)}
		if ioctl(fd, vidiocEnuminput, unsafe.Pointer(&in)) != nil {
			break
		}
		item := Input{Number: i, Name: text(in.Name[:]), Tuner: in.Type == inputTuner, Standards: Standard(in.Std)}
		if i == d.Selected {
			item.Status = words(in.Status)
		}
		d.Inputs = append(d.Inputs, item)
	}
	d.Standard = standardOf(fd, vidiocGStd)
	d.Seen = standardOf(fd, vidiocQuerystd)
	if d.Seen == d.Input().Standards { // all that it knows: no answer
		d.Seen = 0
	}
	for i := range mostListed {
		f := fmtdesc{Index: uint32(i), Type: typeVideoCapture}
		if ioctl(fd, vidiocEnumFmt, unsafe.Pointer(&f)) != nil {
			break
		}
		d.Formats = append(d.Formats, Format{Code: letters(f.PixelFormat), Name: text(f.Description[:]), Sizes: sizes(fd, f.PixelFormat)})
	}
	return d, nil
}

func standardOf(fd int, call uintptr) Standard {
	var std uint64
	if ioctl(fd, call, unsafe.Pointer(&std)) != nil {
		return 0
	}
	return Standard(std)
}

func sizes(fd int, code uint32) []Size {
	var out []Size
	for i := range mostListed {
		s := frmsizeenum{Index: uint32(i), PixelFormat: code}
		if ioctl(fd, vidiocEnumFramesizes, unsafe.Pointer(&s)) != nil || s.Type != frmsizeDiscrete {
			break
		}
		out = append(out, Size{int(s.Width), int(s.Height)})
	}
	return out
}

// ByID gives the lasting name of a device: the link that the system has made from its maker's
// name and serial number, else from the socket it is plugged into; "" without either.
func ByID(path string) string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	for _, folder := range []string{"/dev/v4l/by-id", "/dev/v4l/by-path"} {
		entries, err := os.ReadDir(folder)
		if err != nil {
			continue
		}
		for _, e := range entries {
			link := filepath.Join(folder, e.Name())
			if to, err := filepath.EvalSymlinks(link); err == nil && to == real {
				return link
			}
		}
	}
	return ""
}
