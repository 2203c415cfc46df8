package capture

import (
	"fmt"

	"backporch/video"
	"backporch/video/capture/v4l2"
)

// packed gives a driver's raw frame as package picture takes it, without what pads its
// lines. A buffer that is not full is an error: the device or its bus has lost part of it.
func packed(data []byte, m v4l2.Mode) (p []byte, layout string, err error) {
	type plane struct{ width, stride, lines int }
	w, h, half := m.Width, m.Height, (m.Width+1)/2
	stride := m.Stride
	var planes []plane
	switch layout = m.Code; m.Code {
	case "YUYV", "UYVY", "YVYU", "VYUY":
		planes = []plane{{half * 4, max(stride, half*4), h}}
	case "422P":
		layout, stride = "Y42B", max(stride, w)
		planes = []plane{{w, stride, h}, {half, (stride + 1) / 2, h}, {half, (stride + 1) / 2, h}}
	case "YU12", "YV12":
		if m.Code == "YU12" {
			layout = "I420"
		}
		stride = max(stride, w)
		planes = []plane{{w, stride, h}, {half, (stride + 1) / 2, (h + 1) / 2}, {half, (stride + 1) / 2, (h + 1) / 2}}
	case "NV12":
		stride = max(stride, w)
		planes = []plane{{w, stride, h}, {half * 2, stride, (h + 1) / 2}}
	default:
		return nil, "", fmt.Errorf("its format %s can't be taken apart", m.Code)
	}
	need, padded := 0, false
	for _, q := range planes {
		need += q.stride * q.lines
		padded = padded || q.stride != q.width
	}
	if last := planes[len(planes)-1]; len(data) < need-(last.stride-last.width) { // the last line's padding may be left out
		return nil, "", fmt.Errorf("the buffer holds %d of %d bytes: part of the frame was lost on its way", len(data), need)
	}
	if !padded {
		return data[:need], layout, nil
	}
	for _, q := range planes {
		for range q.lines {
			p = append(p, data[:q.width]...)
			data = data[min(q.stride, len(data)):]
		}
	}
	return p, layout, nil
}

// weave puts the lines of two fields that lie one below the other into their places.
func weave(f *video.Frame) {
	woven := func(plane []uint8, width int) []uint8 {
		out := make([]uint8, len(plane))
		if width == 0 {
			return out
		}
		lines := len(plane) / width
		for y := range lines {
			from := y/2 + y%2*((lines+1)/2)
			copy(out[y*width:(y+1)*width], plane[from*width:])
		}
		return out
	}
	f.Y = woven(f.Y, f.Width)
	f.Cb, f.Cr = woven(f.Cb, f.ChromaWidth), woven(f.Cr, f.ChromaWidth)
}
