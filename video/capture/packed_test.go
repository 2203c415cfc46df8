package capture

import (
	"bytes"
	"strings"
	"testing"

	"backporch/video/capture/v4l2"
	"backporch/video/picture"
)

// A driver's buffers: lines with padding, more bytes than a frame needs, and too few. The
// layouts are V4L2's (Linux kernel, userspace-api/media/v4l, 'Image Formats').
func TestPacked(t *testing.T) {
	const w, h = 6, 4
	for _, c := range []struct {
		code   string
		stride int   // of the buffer
		planes []int // widths and lines of its planes, in bytes
	}{
		{"YUYV", 12, []int{12, 4}}, {"YUYV", 16, []int{12, 4}}, {"UYVY", 0, []int{12, 4}},
		{"422P", 8, []int{6, 4, 3, 4, 3, 4}}, {"YU12", 8, []int{6, 4, 3, 2, 3, 2}}, {"YV12", 6, []int{6, 4, 3, 2, 3, 2}},
		{"NV12", 8, []int{6, 4, 6, 2}},
	} {
		var buffer, want []byte
		value := byte(0)
		for i := 0; i < len(c.planes); i += 2 {
			stride := max(c.stride, c.planes[0])
			if i > 0 && c.code != "NV12" {
				stride /= 2
			}
			for range c.planes[i+1] {
				for x := range stride {
					b := byte(0xEE) // padding
					if x < c.planes[i] {
						value++
						b = value
						want = append(want, b)
					}
					buffer = append(buffer, b)
				}
			}
		}
		m := v4l2.Mode{Code: c.code, Width: w, Height: h, Stride: c.stride}
		got, layout, err := packed(append(bytes.Clone(buffer), 1, 2, 3), m)
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s, stride %d: %v, %v, want %v", c.code, c.stride, got, err, want)
			continue
		}
		if !picture.IsPacked(layout, w, h, len(got)) {
			t.Errorf("%s: %d bytes are no %s", c.code, len(got), layout)
		}
		for _, n := range []int{0, 1, len(buffer) / 2, len(buffer) - max(c.stride, 6) - 1} {
			if _, _, err := packed(buffer[:max(n, 0)], m); err == nil || !strings.Contains(err.Error(), "part of the frame was lost") {
				t.Errorf("%s: %d of %d bytes: %v", c.code, n, len(buffer), err)
			}
		}
	}
	if _, _, err := packed(nil, v4l2.Mode{Code: "BGR3", Width: w, Height: h}); err == nil {
		t.Error("BGR3 was taken apart")
	}
}

// Two fields one below the other come into their lines; an odd line goes to the first.
func TestWeaveStacked(t *testing.T) {
	f := picture.NewFrame(2, 5, 1, 5)
	for y := range 5 {
		f.Y[2*y], f.Y[2*y+1], f.Cb[y], f.Cr[y] = byte(y), byte(y), byte(10+y), byte(20+y)
	}
	weave(f)
	for y, want := range []byte{0, 3, 1, 4, 2} {
		if f.Y[2*y] != want || f.Y[2*y+1] != want || f.Cb[y] != 10+want || f.Cr[y] != 20+want {
			t.Errorf("line %d is that of place %d, want %d", y, f.Y[2*y], want)
		}
	}
}
