//go:build !(linux && (amd64 || arm64 || riscv64 || loong64))

package capture

import (
	"fmt"
	"strconv"
	"strings"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/capture/v4l2"
)

// run reads a device through OpenCV, which is all that this system has.
func (d *Device) run(word, path string, o DeviceOptions, opened chan<- error) {
	d.info.Spec, d.info.Kind = word, video.KindDevice
	if o.Input != "" {
		opened <- fmt.Errorf("an input can't be chosen here: %w", v4l2.ErrUnsupported)
		return
	}
	c := opencvDevice{name: path, api: gocv.VideoCaptureAny, format: o.Format}
	if n, err := strconv.Atoi(strings.TrimPrefix(path, "/dev/video")); err == nil {
		c.name = n
	}
	if o.Standard != "" {
		want, err := v4l2.ParseStandard(o.Standard)
		if err != nil {
			opened <- err
			return
		}
		c.standard = want.Scan()
		d.info.Notes = append(d.info.Notes, "the device's standard can't be set here: it only gives the size of the frames")
	}
	d.info.Notes = append(d.info.Notes, v4l2.ErrUnsupported.Error())
	d.runOpenCV(c, opened)
}
