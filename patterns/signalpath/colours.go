package signalpath

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A ColourReading is one colour of the display as the capture shows it.
type ColourReading struct {
	Index         int
	Target, Seen  video.YUV
	HueErrorDeg   *float64 // nil for greys
	SaturationPct *float64
	Pixels        float64
}

// ColourReadings sets the colours seen against the display's.
func ColourReadings(s *analyse.Survey, p *display.Profile) []ColourReading {
	turn := 0.0
	if f := fitOf(s, "hue-shift"); f != nil && f.Gain > 6 && bestFit(s) == "hue-shift" {
		turn = f.Amount.Value
	}
	size, full := 1.0, 219.0
	if l := levelOf(s); l != nil && l.Value > 10 {
		size = l.Value / 100
	}
	if s.Levels.Full {
		full = 255
	}
	best := map[int]analyse.Spot{}
	sin, cos := math.Sincos(-turn * math.Pi / 180)
	for _, spot := range s.Signal.Spots {
		if spot.Weight < 2 || spot.Stroke || spot.Chroma < 0.2*spot.Weight {
			continue
		}
		seen := seenColour(spot, s.Levels.Black, full)
		back := video.YUV{Y: seen.Y / size, U: (seen.U*cos - seen.V*sin) / size, V: (seen.U*sin + seen.V*cos) / size}
		index, least := -1, 0.02
		for i, c := range p.Colours {
			if spot.Border && p.Kind == display.Attr && i >= 8 {
				break
			}
			if d := sq(back.Y-c.Y) + 0.5*(sq(back.U-c.U)+sq(back.V-c.V)); d < least {
				index, least = i, d
			}
		}
		if old, ok := best[index]; index >= 0 && (!ok || spot.Chroma > old.Chroma) {
			best[index] = spot
		}
	}
	var out []ColourReading
	for i, c := range p.Colours {
		spot, ok := best[i]
		if !ok {
			continue
		}
		r := ColourReading{Index: i, Target: c.YUV, Seen: seenColour(spot, s.Levels.Black, full), Pixels: 64 * spot.Weight}
		if t := c.Saturation(); t > 0.02 {
			percent := 100 * r.Seen.Saturation() / t
			r.SaturationPct = &percent
			if r.Seen.Saturation() > 0.03 {
				d := math.Mod(r.Seen.Hue()-c.Hue()+540, 360) - 180
				r.HueErrorDeg = &d
			}
		}
		out = append(out, r)
	}
	return out
}

func sq(x float64) float64 { return x * x }

func seenColour(s analyse.Spot, black, full float64) video.YUV {
	c := video.YUVOfCodes(0, 128+(s.Cb-128)*219/full, 128+(s.Cr-128)*219/full)
	c.Y = (s.Y - black) / full
	return c
}
