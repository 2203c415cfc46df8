package picture

import (
	"fmt"

	"backporch/video"
)

// Layouts of raw packets by the four letters that name them in AVI and V4L2, with the
// bytes of a frame.
var layouts = map[string]struct {
	size   func(width, height int) int
	unpack func(f *video.Frame, p []uint8)
	half   bool // chroma on every second line only
}{
	"YUYV": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 0, 1, 3) }, false},
	"YUY2": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 0, 1, 3) }, false},
	"UYVY": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 1, 0, 2) }, false},
	"Y422": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 1, 0, 2) }, false},
	"YVYU": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 0, 3, 1) }, false},
	"VYUY": {packedSize, func(f *video.Frame, p []uint8) { unpack422(f, p, 1, 2, 0) }, false},
	"I420": {planarSize(2), func(f *video.Frame, p []uint8) { unpackPlanar(p, f.Y, f.Cb, f.Cr) }, true},
	"IYUV": {planarSize(2), func(f *video.Frame, p []uint8) { unpackPlanar(p, f.Y, f.Cb, f.Cr) }, true},
	"YV12": {planarSize(2), func(f *video.Frame, p []uint8) { unpackPlanar(p, f.Y, f.Cr, f.Cb) }, true},
	"Y42B": {planarSize(1), func(f *video.Frame, p []uint8) { unpackPlanar(p, f.Y, f.Cb, f.Cr) }, false},
	"NV12": {planarSize(2), unpackNV12, true},
}

func packedSize(width, height int) int { return (width + 1) / 2 * 4 * height }

func planarSize(down int) func(width, height int) int {
	return func(width, height int) int {
		return width*height + 2*((width+1)/2)*((height+down-1)/down)
	}
}

// IsPacked says whether a raw packet of this many bytes is a frame of that layout.
func IsPacked(layout string, width, height, bytes int) bool {
	l, ok := layouts[layout]
	return ok && width > 0 && height > 0 && width <= MaxSide && height <= MaxSide && bytes == l.size(width, height)
}

// FromPacked makes a frame of a raw packet, codes as they are.
func FromPacked(p []uint8, layout string, width, height int) (*video.Frame, error) {
	if !IsPacked(layout, width, height, len(p)) {
		return nil, fmt.Errorf("a raw frame of %d bytes is not %s of %d x %d", len(p), layout, width, height)
	}
	l := layouts[layout]
	ch := height
	if l.half {
		ch = (height + 1) / 2
	}
	f := NewFrame(width, height, (width+1)/2, ch)
	l.unpack(f, p)
	return f, nil
}

// unpack422 takes four bytes for two luma samples: luma at y and y+2, then Cb and Cr.
func unpack422(f *video.Frame, p []uint8, y, cb, cr int) {
	stride := f.ChromaWidth * 4
	for line := range f.Height {
		row := p[line*stride : (line+1)*stride]
		luma := f.Y[line*f.Width : (line+1)*f.Width]
		u := f.Cb[line*f.ChromaWidth : (line+1)*f.ChromaWidth]
		v := f.Cr[line*f.ChromaWidth : (line+1)*f.ChromaWidth]
		for i := range u {
			q := row[4*i : 4*i+4]
			luma[2*i], u[i], v[i] = q[y], q[cb], q[cr]
			if 2*i+1 < len(luma) {
				luma[2*i+1] = q[y+2]
			}
		}
	}
}

func unpackPlanar(p []uint8, planes ...[]uint8) {
	for _, plane := range planes {
		n := copy(plane, p)
		p = p[n:]
	}
}

func unpackNV12(f *video.Frame, p []uint8) {
	n := copy(f.Y, p)
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = p[n+2*i], p[n+2*i+1]
	}
}
