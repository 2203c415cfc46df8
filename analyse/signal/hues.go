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

// hues counts the hues that a capture shows, and tells how uncertain the saturation that is said of all of them is by what the
// colours say one by one, percent.
func hues(spots []analyse.Spot, l analyse.Levels, p *display.Profile, saturation float64) (n int, spread float64) {
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
	var sum float64
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
	}
	spread = leastSaturation
	if k := float64(len(seen)); k > 0 {
		spread = math.Hypot(spread, sum/k-saturation)
	}
	return n, spread
}

// What hues scatter by about the display's, degrees: blur and a device's own errors (common practice, no source); and how much
// worse than the best another turn may fit and still be meant.
const (
	hueScatter = 8.0
	hueDoubt   = 1.6
	farTurn    = 90  // turns beyond this are not meant: half a turn puts every colour of bars on its complement
	lumaApart  = 0.1 // parts of white, within which a colour may be one of the display's
)

// turn is the turn of all hues together that fits best, degrees, and its uncertainty; not ok when another fits nearly as well:
// turned by a sixth of a circle most colours are near others.
func turn(spots []analyse.Spot, l analyse.Levels, p *display.Profile) (degrees, spread float64, ok bool) {
	full, size := 219.0, (l.White-l.Black)/219
	if l.Full {
		full, size = 255, (l.White-l.Black)/255
	}
	if !(size > 0.3 && size < 2) {
		size = 1
	}
	type seenHue struct {
		hue, weight float64
		of          []float64 // hues of the display that it may be
	}
	var seen []seenHue
	for _, s := range spots {
		c := video.YUVOfCodes(0, 128+(s.Cb-128)*219/full, 128+(s.Cr-128)*219/full)
		if s.Weight < 2 || s.Stroke || s.Chroma < 0.2*s.Weight || c.Saturation() < 0.06 {
			continue
		}
		h := seenHue{hue: c.Hue(), weight: math.Min(s.Chroma, 40)}
		for _, q := range p.Colours {
			if q.Saturation() > 0.02 && math.Abs((s.Y-l.Black)/full/size-q.Y) < lumaApart {
				h.of = append(h.of, q.Hue())
			}
		}
		if len(h.of) > 0 {
			seen = append(seen, h)
		}
	}
	if len(seen) < 2 {
		return 0, 0, false
	}
	cost := make([]float64, 2*farTurn+1)
	best := 0
	for i := range cost {
		t := i - farTurn
		var sum, weights float64
		for _, h := range seen {
			least := math.Inf(1)
			for _, q := range h.of {
				least = math.Min(least, math.Abs(apart(h.hue, q+float64(t))))
			}
			sum += h.weight * math.Min(least*least, 900) // one misread colour is not to decide
			weights += h.weight
		}
		cost[i] = math.Sqrt(sum / weights)
		if cost[i] < cost[best] {
			best = i
		}
	}
	doubt := math.Max(hueDoubt*cost[best], hueScatter)
	for i, c := range cost {
		if c < doubt && math.Abs(float64(i-best)) > hueApart {
			return 0, 0, false
		}
	}
	// Finer: the mean of what is left.
	var sum, weights float64
	for _, h := range seen {
		off := math.Inf(1)
		for _, q := range h.of {
			if d := apart(h.hue, q+float64(best-farTurn)); math.Abs(d) < math.Abs(off) {
				off = d
			}
		}
		if math.Abs(off) < 30 {
			sum += h.weight * off
			weights += h.weight
		}
	}
	fine := 0.0
	if weights > 0 {
		fine = sum / weights
	}
	return float64(best-farTurn) + fine, math.Hypot(leastHue, cost[best]/math.Sqrt(float64(len(seen)))), true
}

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
