package video

import "math"

// YUV is a colour as luma and weighted colour differences, all as parts of
// white less black: U = 0.493 (B-Y), V = 0.877 (R-Y) (ITU-R BT.1700).
type YUV struct{ Y, U, V float64 }

// The scale between U, V and the BT.601 colour differences: Cb' = (Cb-128)/224
// = 0.5/0.886 (B-Y), Cr' = 0.5/0.701 (R-Y) (ITU-R BT.601 3.5).
const (
	uOfCb = 0.493 * 0.886 / 0.5
	vOfCr = 0.877 * 0.701 / 0.5
)

// YUVOfRGB converts gamma-corrected R, G, B, 0 to 1.
func YUVOfRGB(r, g, b float64) YUV {
	y := 0.299*r + 0.587*g + 0.114*b
	return YUV{y, 0.493 * (b - y), 0.877 * (r - y)}
}

// Codes gives the BT.601 codes, not rounded: Y 16 to 235, Cb and Cr about 128.
func (c YUV) Codes() (y, cb, cr float64) {
	return 16 + 219*c.Y, 128 + 224*c.U/uOfCb, 128 + 224*c.V/vOfCr
}

// YUVOfCodes is the inverse of Codes.
func YUVOfCodes(y, cb, cr float64) YUV {
	return YUV{(y - 16) / 219, (cb - 128) / 224 * uOfCb, (cr - 128) / 224 * vOfCr}
}

// RGB converts back to gamma-corrected R, G, B; out of 0 to 1 outside the gamut.
func (c YUV) RGB() (r, g, b float64) {
	r, b = c.Y+c.V/0.877, c.Y+c.U/0.493
	return r, (c.Y - 0.299*r - 0.114*b) / 0.587, b
}

// Hue is the angle on the U-V plane in degrees, 0 to 360, from +U towards +V.
func (c YUV) Hue() float64 {
	h := math.Atan2(c.V, c.U) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

// Saturation is the length of the colour difference, as a part of white.
func (c YUV) Saturation() float64 { return math.Hypot(c.U, c.V) }
