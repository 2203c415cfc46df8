package cells

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// What two captures of one screen may differ by though nothing is wrong: the range of codes, what red, green and blue can't hold, and a border that is
// another.

// otherRange is the good machine's device where it gave the other range of codes, 0 to 255 or 16 to 235 (ITU-R BT.601): files say so or not, and what is stored as red,
// green and blue has been put into the one of the two.
func otherRange(l analyse.Levels, gain float64) believed {
	luma, chroma := 255.0/219, 255.0/224
	black := (l.Black - 16) * luma
	if l.Full {
		luma, chroma = 1/luma, 1/chroma
		black = 16 + l.Black*luma
	}
	return believed{transform{16 + (black-l.Black)/gain, luma, chroma, 0}, againstBlack, againstGain, againstSize, againstHue, rangeCost}
}

// rangeCost, nats, is what it takes that two files of one device have different ranges of codes: one in six. Common practice, no source.
const rangeCost = 1.8

// What a picture stored as red, green and blue has lost of a colour beyond these: up to so much luma, and parts of its size and hue. Common practice, no source.
const cutY, cutSize, cutTurn = 0.02, 0.2, 0.06

// atGamutsEdge tells whether a colour is just as large as red, green or blue can be (BT.601 codes), to half a code: where a still or a file is stored by these, what was
// larger has been cut off, and who took the capture apart can't tell. Greys lie there as well.
func atGamutsEdge(s side) bool {
	c := video.YUVOfCodes(s.y, s.cb, s.cr)
	if c.Saturation() < greyTarget {
		return false
	}
	r, g, b := c.RGB()
	return math.Abs(max(r, g, b)-1) < 0.5/219
}

// otherBorders are the colours that a border of this one may have instead; none where it is not known.
func otherBorders(border int, p *display.Profile) (out []int) {
	if border < 0 {
		return nil
	}
	for c := range p.Colours {
		if c != border && (p.Kind != display.Attr || c < display.BrightBit) {
			out = append(out, c)
		}
	}
	return out
}
