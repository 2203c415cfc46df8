package signal

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// The least that colour figures are uncertain by: hue in degrees, saturation in percent. Cells blur into each
// other, and a device has a gain of its own (common practice, no source).
const (
	leastHue        = 2.0
	leastSaturation = 8.0
)

// hueApart, degrees, parts two hues: less than half of the least distance between two colours of colour bars, 43.6.
const hueApart = 20.0

// hues counts the hues that a capture shows, and tells how far the colours one by one are off what is said of all of
// them: saturation in percent, hue error in degrees.
func hues(spots []analyse.Spot, l analyse.Levels, p *display.Profile, saturation, hue float64) (n int, ofSaturation, ofHue float64) {
	full := 219.0
	if l.Full {
		full = 255
	}
	best := map[int]analyse.Spot{} // by colour, the most of it
	for _, s := range spots {
		if s.Index < 0 || s.Index >= len(p.Colours) || s.Weight < 2 || s.Stroke || s.Chroma < 0.2*s.Weight || p.Colours[s.Index].Saturation() <= 0.02 {
			continue
		}
		if s.Chroma > best[s.Index].Chroma {
			best[s.Index] = s
		}
	}
	var seen []float64
	var sum, turned float64
	for i, c := range p.Colours {
		s, ok := best[i]
		if !ok {
			continue
		}
		v := video.YUVOfCodes(0, 128+(s.Cb-128)*219/full, 128+(s.Cr-128)*219/full)
		if v.Saturation() < 0.03 {
			continue
		}
		other := true
		for _, h := range seen {
			other = other && math.Abs(apart(h, v.Hue())) > hueApart
		}
		if other {
			n++
		}
		seen = append(seen, v.Hue())
		sum += 100 * v.Saturation() / c.Saturation()
		turned += apart(v.Hue(), c.Hue())
	}
	ofSaturation, ofHue = leastSaturation, leastHue
	if k := float64(len(seen)); k > 0 {
		ofSaturation = math.Hypot(ofSaturation, sum/k-saturation)
		if !math.IsNaN(hue) {
			ofHue = math.Hypot(ofHue, turned/k-hue)
		}
	}
	return n, ofSaturation, ofHue
}

// apart is one angle less another, from -180 to 180 degrees.
func apart(a, b float64) float64 { return math.Mod(a-b+540, 360) - 180 }
