package picture

import (
	"errors"
	"fmt"
	"image"
	"image/draw"
	"math"

	"backporch/video"
)

// MaxSide is the longest side that is read: far above any capture of television,
// and small enough that a hostile header can't claim all memory.
const MaxSide = 4096

// CheckSize refuses sides that are not a picture's.
func CheckSize(width, height int) error {
	if width < 1 || height < 1 {
		return fmt.Errorf("the picture is %d x %d: nothing in it", width, height)
	}
	if width > MaxSide || height > MaxSide {
		return fmt.Errorf("the picture is %d x %d: larger than any capture (at most %d a side)", width, height, MaxSide)
	}
	return nil
}

// The BT.601 matrix between 8-bit R, G, B and codes, in 65536ths: 219/255 and 224/255
// stand between the full range and that of the codes.
const (
	one  = 1 << 16
	half = one / 2
)

func fixed(v float64) int32 { return int32(math.Round(v * one)) }

var (
	yr = fixed(0.299 * 219 / 255)
	yg = fixed(0.587 * 219 / 255)
	yb = fixed(0.114 * 219 / 255)

	cbr = fixed(0.299 * 0.5 / 0.886 * 224 / 255)
	cbg = fixed(0.587 * 0.5 / 0.886 * 224 / 255)
	cbb = cbr + cbg // so that grey is exactly neutral
	crg = fixed(0.587 * 0.5 / 0.701 * 224 / 255)
	crb = fixed(0.114 * 0.5 / 0.701 * 224 / 255)
	crr = crg + crb

	// Back: of luma, and of colour differences in 256ths of a code.
	ky  = fixed(255.0 / 219)
	krv = fixed(1.402 * 255 / 224 / 256)
	kgu = fixed(0.344136 * 255 / 224 / 256)
	kgv = fixed(0.714136 * 255 / 224 / 256)
	kbu = fixed(1.772 * 255 / 224 / 256)
)

// codesOfRGB gives BT.601 codes.
func codesOfRGB(r, g, b int32) (y, cb, cr uint8) {
	y = uint8((yr*r + yg*g + yb*b + 16*one + half) >> 16)
	cb = uint8((cbb*b - cbr*r - cbg*g + 128*one + half) >> 16)
	cr = uint8((crr*r - crg*g - crb*b + 128*one + half) >> 16)
	return y, cb, cr
}

// FromRGB makes a 4:4:4 frame of packed 8-bit samples, step bytes a pixel, with red,
// green and blue at these places in a pixel.
func FromRGB(pix []uint8, width, height, stride, step, red, green, blue int) (*video.Frame, error) {
	if err := CheckSize(width, height); err != nil {
		return nil, err
	}
	if step < 3 || stride < width*step || len(pix) < (height-1)*stride+width*step {
		return nil, errors.New("the picture's samples are fewer than its size says")
	}
	f := NewFrame(width, height, width, height)
	for y := range height {
		row := pix[y*stride:]
		luma, cb, cr := f.Y[y*width:(y+1)*width], f.Cb[y*width:(y+1)*width], f.Cr[y*width:(y+1)*width]
		for x := range luma {
			p := row[x*step : x*step+step]
			luma[x], cb[x], cr[x] = codesOfRGB(int32(p[red]), int32(p[green]), int32(p[blue]))
		}
	}
	return f, nil
}

// NewFrame makes a black frame; without chroma when chromaWidth is 0.
func NewFrame(width, height, chromaWidth, chromaHeight int) *video.Frame {
	f := &video.Frame{
		Y: make([]uint8, width*height), Width: width, Height: height,
		ChromaWidth: chromaWidth, ChromaHeight: chromaHeight,
	}
	if n := chromaWidth * chromaHeight; n > 0 {
		f.Cb, f.Cr = make([]uint8, n), make([]uint8, n)
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = 128, 128
		}
	}
	for i := range f.Y {
		f.Y[i] = 16
	}
	return f
}

// FromImage makes a frame of a decoded picture. YCbCr and the luma of a JPEG in grey
// (stored true) keep their codes; all else is taken as R, G, B, over black where it is
// transparent. rgb says that it came that way.
func FromImage(img image.Image, stored bool) (f *video.Frame, rgb bool, err error) {
	b := img.Bounds()
	if err := CheckSize(b.Dx(), b.Dy()); err != nil {
		return nil, false, err
	}
	switch m := img.(type) {
	case *image.YCbCr:
		return fromYCbCr(m), false, nil
	case *image.Gray:
		f := NewFrame(b.Dx(), b.Dy(), 0, 0)
		for y := range f.Height {
			row := f.Y[y*f.Width : (y+1)*f.Width]
			copy(row, m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):])
			if !stored {
				for x, v := range row {
					row[x], _, _ = codesOfRGB(int32(v), int32(v), int32(v))
				}
			}
		}
		return f, !stored, nil
	case *image.RGBA:
		f, err := FromRGB(m.Pix[m.PixOffset(b.Min.X, b.Min.Y):], b.Dx(), b.Dy(), m.Stride, 4, 0, 1, 2)
		return f, true, err
	}
	flat := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(flat, flat.Bounds(), image.Black, image.Point{}, draw.Src)
	draw.Draw(flat, flat.Bounds(), img, b.Min, draw.Over)
	f, err = FromRGB(flat.Pix, b.Dx(), b.Dy(), flat.Stride, 4, 0, 1, 2)
	return f, true, err
}

// fromYCbCr copies planes; the picture may be a part of a larger one, as image/jpeg
// gives when the size is not a multiple of its blocks.
func fromYCbCr(m *image.YCbCr) *video.Frame {
	b := m.Rect
	hs, vs := subsampling(m.SubsampleRatio)
	cw, ch := (b.Dx()+hs-1)/hs, (b.Dy()+vs-1)/vs
	f := &video.Frame{
		Y: make([]uint8, b.Dx()*b.Dy()), Width: b.Dx(), Height: b.Dy(),
		Cb: make([]uint8, cw*ch), Cr: make([]uint8, cw*ch), ChromaWidth: cw, ChromaHeight: ch,
	}
	for y := range f.Height {
		copy(f.Y[y*f.Width:(y+1)*f.Width], m.Y[m.YOffset(b.Min.X, b.Min.Y+y):])
	}
	for y := range ch {
		from := m.COffset(b.Min.X, b.Min.Y+y*vs)
		copy(f.Cb[y*cw:(y+1)*cw], m.Cb[from:])
		copy(f.Cr[y*cw:(y+1)*cw], m.Cr[from:])
	}
	return f
}

// subsampling is how many luma samples share a chroma sample, across and down.
func subsampling(r image.YCbCrSubsampleRatio) (across, down int) {
	switch r {
	case image.YCbCrSubsampleRatio422:
		return 2, 1
	case image.YCbCrSubsampleRatio420:
		return 2, 2
	case image.YCbCrSubsampleRatio440:
		return 1, 2
	case image.YCbCrSubsampleRatio411:
		return 4, 1
	case image.YCbCrSubsampleRatio410:
		return 4, 2
	}
	return 1, 1
}

// ToRGBA shows a frame as a viewer does: BT.601 codes to R, G, B, out of gamut
// clipped, chroma between its samples (the first stands on luma sample 0, BT.601
// Appendix 1) interpolated along the line.
func ToRGBA(f *video.Frame) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, f.Width, f.Height))
	mono := len(f.Cb) == 0 || f.ChromaWidth < 1 || f.ChromaHeight < 1
	// Place of each luma sample among a line's chroma samples, in 256ths.
	type place struct{ left, right, part int32 }
	places := make([]place, f.Width)
	for x := range places {
		if mono {
			break
		}
		at := x * f.ChromaWidth * 256 / f.Width
		left := at >> 8
		places[x] = place{int32(left), int32(min(left+1, f.ChromaWidth-1)), int32(at & 255)}
	}
	for y := range f.Height {
		luma := f.Y[y*f.Width : (y+1)*f.Width]
		pix := out.Pix[y*out.Stride:]
		var cb, cr []uint8
		if !mono {
			c := y * f.ChromaHeight / f.Height * f.ChromaWidth
			cb, cr = f.Cb[c:c+f.ChromaWidth], f.Cr[c:c+f.ChromaWidth]
		}
		for x, v := range luma {
			var u, w int32
			if !mono {
				p := places[x]
				u = int32(cb[p.left])*(256-p.part) + int32(cb[p.right])*p.part - 128*256
				w = int32(cr[p.left])*(256-p.part) + int32(cr[p.right])*p.part - 128*256
			}
			r, g, b := rgbOfCodes(int32(v), u, w)
			pix[4*x], pix[4*x+1], pix[4*x+2], pix[4*x+3] = r, g, b, 255
		}
	}
	return out
}

// rgbOfCodes is BT.601's inverse in 65536ths; u and v are 256 (C - 128).
func rgbOfCodes(y, u, v int32) (r, g, b uint8) {
	l := ky*(y-16) + half
	return clip(l + krv*v), clip(l - kgu*u - kgv*v), clip(l + kbu*u)
}

func clip(v int32) uint8 {
	return uint8(max(0, min(255, v>>16)))
}
