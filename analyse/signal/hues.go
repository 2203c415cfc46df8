package signal

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// hueApart, degrees, parts two hues: less than half of the least distance between two colours of colour bars, 43.6.
const hueApart = 20.0

// farTurn, degrees: turns beyond it are not meant, for half a turn puts every colour of bars on its complement.
const farTurn = 90.0

// sizeApart is how far a colour may be off one of the display's and still be it, parts of white: device gain, black and setup.
const sizeApart = 0.06

// sizes gives the least and the greatest size of the picture with which all colours seen are colours of the display; 0, 0 when
// none fits or none is seen. Few colours leave much open: a white alone may be a grey that is too high.
func sizes(spots []analyse.Spot, l analyse.Levels, p *display.Profile) (low, high float64) {
	full := 219.0
	if l.Full {
		full = 255
	}
	var seen []video.YUV
	for _, s := range spots {
		if s.Weight < 2 || s.Stroke || s.Chroma < 0.2*s.Weight {
			continue
		}
		c := video.YUVOfCodes(0, 128+(s.Cb-128)*219/full, 128+(s.Cr-128)*219/full)
		c.Y = (s.Y - l.Black) / full
		if c.Y > 2*sizeApart || c.Saturation() > 2*sizeApart {
			seen = append(seen, c)
		}
	}
	for size := 0.4; len(seen) > 0 && size < 1.7; size += 0.01 {
		fits := true
		for _, c := range seen {
			best := math.Inf(1)
			for _, q := range p.Colours {
				// Saturation is the device's own affair: hue and luma count, and whether there is a colour at all.
				d := math.Abs(c.Y/size - q.Y)
				if a, b := c.Saturation()/size > sizeApart, q.Saturation() > sizeApart; a != b {
					continue
				} else if a && math.Abs(apart(c.Hue(), q.Hue())) > hueApart {
					continue
				}
				best = math.Min(best, d)
			}
			if best > sizeApart {
				fits = false
				break
			}
		}
		if fits {
			if low == 0 {
				low = size
			}
			high = size
		}
	}
	return low, high
}

// apart is one angle less another, from -180 to 180 degrees.
func apart(a, b float64) float64 { return math.Mod(a-b+540, 360) - 180 }
