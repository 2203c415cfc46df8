package signal

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// How far hue, saturation and level are off is read from the colours seen: each is one of the display's, nobody knows which. What is likely of a device and of
// a faulty machine, and a mixture over all that each colour may be, give the distribution of the three together; a figure is told where it has one peak.

// A Tint is what all colours seen say together.
type Tint struct {
	Turn       Peak      // of hues, degrees
	Saturation Peak      // 1 is right
	Level      Peak      // picture against sync, 1 is right
	White      Peak      // white less black in the device's codes, 219 is 1
	Hues       int       // colours other than greys that were looked at
	Least      float64   // degrees, by which hues are turned at the least, one way or the other; 0: they may be right
	Turns      []float64 // degrees, all that fit, the likeliest first
}

// Tell writes what the colours seen say of hue, saturation and level into a capture's signal.
func Tell(out *analyse.Signal, p *display.Profile) {
	out.HueTold, out.HueOff, out.HueSpread, out.HueLeast, out.HueTurns, out.SaturationSeen, out.LevelSeen, out.WhiteSeen = false, 0, 0, 0, nil, nil, nil, nil
	t := Tinted(out.Spots, p)
	if t == nil {
		return
	}
	out.LevelSeen = t.Level.told("codes")
	out.WhiteSeen = t.White.told("codes")
	if t.Hues == 0 {
		return
	}
	if t.Turn.Part > onePeak {
		if out.HueErrorDeg == nil { // so far turned that no colour was taken for one of the display's
			out.HueErrorDeg = &t.Turn.At
		}
		out.HueTold, out.HueOff, out.HueSpread = true, apart(t.Turn.At, *out.HueErrorDeg), t.Turn.Spread
	} else {
		out.HueLeast, out.HueTurns = t.Least, t.Turns
	}
	out.SaturationSeen = t.Saturation.told("chroma")
}

// told is a peak that holds nearly all, or the mean and deviation of all of it, in percent.
func (p Peak) told(limit string) *analyse.Estimate {
	if p.Part > onePeak {
		return &analyse.Estimate{Value: 100 * p.At, Spread: 100 * p.Spread, Limit: limit}
	}
	return &analyse.Estimate{Value: 100 * p.Mean, Spread: 100 * p.All, Limit: limit}
}

// apart is one angle less another, from -180 to 180 degrees.
func apart(a, b float64) float64 { return math.Mod(a-b+540, 360) - 180 }

// farTurn, degrees: turns beyond it are not meant, for half a turn puts every colour of bars on its complement.
const farTurn = 90.0

// onePeak is the part of a distribution that must lie at its peak for the rest not to count.
const onePeak = 0.95

// A Peak is where a distribution is highest, its deviation there, the part of it that lies there, and mean and deviation of all of it.
type Peak struct{ At, Spread, Part, Mean, All float64 }

// What devices and machines do to all colours. A device's own: gain 5 % about right, black 4 codes, colour setting 10 %, hue 3.5 degrees; codes of the full
// range in one device of five; 525/60's setup wrong in one of five either way (ITU-R BT.470, BT.1700 have it both ways). What a fault does is spread evenly
// over what is looked at, of hue the less the more it is turned. Common practice, no source.
const (
	tintGain, tintBlack = 0.05, 4.0
	tintColour, tintHue = 0.10, 3.5
	tintFull, tintSetup = 0.2, 0.2
	tintRight           = 0.8     // of level, saturation and hue each: how often nothing is wrong with it
	tintBurst           = 1.0 / 3 // where the level is wrong: how often the burst is with it, which takes chroma back
	tintFault           = 60.0    // degrees, to 1/e
	pedestal            = 0.075   // of white (7.5 IRE)
)

// The grid: steps of parts of the level and the saturation, and degrees.
const (
	levelStep, chromaStep, turnStep = 0.025, 0.08, 4.0
	leastLevel, mostLevel           = 0.25, 2.1
	leastChroma, mostChroma         = 0.2, 2.2
)

// A tinted is one colour as seen, parts of white for the codes 16 to 235.
type tinted struct {
	y, u, v   float64
	sy        float64 // scatter of luma
	size      float64 // scatters of chroma: of its size as a part, and less than it should be,
	pale      float64
	turn      float64 // of its hue, radians, and
	none      float64 // of what is not there at all
	chroma    bool
	high, low bool // luma at an end of the codes
	border    bool
	beside    bool    // other colours, whose chroma is mixed in
	odd       float64 // how often it is none of the display's colours
}

// tintedOf are the colours that count, the commonest first; what is the same again tells nothing new.
func tintedOf(spots []analyse.Spot) []tinted {
	const most, mostBeside = 12, 4
	var out []tinted
	beside := 0
	for _, s := range spots {
		if s.Weight < leastTinted || len(out) == most {
			continue
		}
		c := video.YUVOfCodes(s.Y, s.Cb, s.Cr)
		t := tinted{y: c.Y, u: c.U, v: c.V, sy: 0.02, size: 0.12, pale: 0.40, turn: 0.06, none: 0.012, border: s.Border, odd: 0.05,
			high: s.Y > endCodes, low: s.Y < 1.5}
		switch part := s.Chroma / s.Weight; {
		case s.Stroke:
			t.sy, t.odd = 0.08, 0.2
		case s.Border:
			t.sy, t.size, t.pale, t.turn, t.none, t.chroma, t.odd = 0.015, 0.08, 0.08, 0.05, 0.010, true, 1e-3
		case part >= 0.2:
			t.chroma = true
		case part >= 0.05: // beside others, whose chroma is mixed in
			t.chroma, t.beside, t.size, t.pale, t.turn, t.none, t.odd = true, true, 0.3, 0.6, 0.15, 0.06, 0.3
		}
		again := slices.ContainsFunc(out, func(o tinted) bool {
			return !t.chroma && math.Abs(o.y-t.y) < 0.025 || t.chroma && o.chroma && math.Abs(o.y-t.y) < 0.02 && math.Hypot(o.u-t.u, o.v-t.v) < 0.04 && !(t.border && !o.border)
		})
		if again || t.beside && beside == mostBeside {
			continue
		}
		if t.beside {
			beside++
		}
		out = append(out, t)
	}
	return out
}

// leastTinted is the pixels, in cells of 64, that a colour needs; endCodes, from which on luma is cut off.
const leastTinted, endCodes = 2.5, 253.0

// luma is the density of its luma where the display's shows at y.
func (t *tinted) luma(y float64) float64 {
	d := t.y - y
	if t.high && d < 0 || t.low && d > 0 {
		d = 0
	}
	return math.Exp(-square(d/t.sy)/2) / (t.sy * math.Sqrt(2*math.Pi))
}

// colours is the density of its chroma where the display's shows at u and v: small areas have lost some of it to narrow filters, and none of their hue.
func (t *tinted) colours(u, v float64) float64 {
	size := math.Hypot(u, v)
	cos, sin := 1.0, 0.0
	if size > 0 {
		cos, sin = u/size, v/size
	}
	along, aside := (t.u-u)*cos+(t.v-v)*sin, (t.v-v)*cos-(t.u-u)*sin
	sizes, turns := math.Hypot(t.none, t.size*size), math.Hypot(t.none, t.turn*size)
	norm := sizes
	if t.pale > t.size { // a normal distribution of two halves
		less := math.Hypot(t.none, t.pale*size)
		norm = (sizes + less) / 2
		if along < 0 {
			sizes = less
		}
	}
	q := square(along/sizes) + square(aside/turns)
	if t.border {
		return math.Exp(-q/2) / (2 * math.Pi * norm * turns)
	}
	// What is about it and blurred into it: a t distribution of two dimensions and four degrees of freedom.
	x := 1 + q/4
	return 1 / (2 * math.Pi * norm * turns * x * x * x)
}

// oddly is the density of one that is none of the display's: anything.
func (t *tinted) oddly() float64 {
	if t.chroma { // U and V reach to 0.44 and 0.62 of white (ITU-R BT.601 codes)
		return t.odd / (4 * 0.44 * 0.62)
	}
	return t.odd
}

// A stand is one way in which luma may stand to the display's.
type stand struct {
	level float64 // of the picture, by its logarithm
	white float64 // white less black in codes, by the logarithm of its part of 219
	wide  int     // 1: codes of the full range
	prior float64
	like  [][]chance // by sight: the colours that it may be
}

// A chance is a colour, and how likely luma is with it.
type chance struct {
	colour int
	like   float64
}

// chromaOfFull is how much larger colour differences are in codes of the full range.
const chromaOfFull = 255.0 / 224

// stands are all ways in which luma may stand to the display's, those that luma speaks against left out.
func stands(seen []tinted, p *display.Profile) []stand {
	type device struct {
		black, gain, prior float64
		wide               int
	}
	devices := []device{{0, 1, 1 - tintFull, 0}, {-16.0 / 219, 255.0 / 219, tintFull, 1}}
	if p.Standard == video.Std525 {
		for _, d := range slices.Clone(devices) {
			devices = append(devices,
				device{d.black + pedestal*d.gain, (1 - pedestal) * d.gain, d.prior * tintSetup, d.wide},
				device{d.black - pedestal/(1-pedestal)*d.gain, d.gain / (1 - pedestal), d.prior * tintSetup, d.wide})
		}
	}
	common := commonness(p)
	var out []stand
	var likes []float64
	best := 0.0
	for x := math.Log(leastLevel); x < math.Log(mostLevel); x += levelStep {
		prior := tintRight*normal(x/tintGain)/tintGain + (1-tintRight)/math.Log(mostLevel/leastLevel)
		for _, d := range devices {
			for off := -1.2; off <= 1.2; off += 1.2 {
				black, gain := d.black+off*tintBlack/219, d.gain*math.Exp(x)
				st := stand{level: x, white: math.Log(gain), wide: d.wide, prior: prior * d.prior * normal(off)}
				like := st.prior
				for i := range seen {
					s := &seen[i]
					var row []chance
					sum := s.odd
					for j, c := range p.Colours {
						if s.border && p.Kind == display.Attr && j >= 8 {
							break
						}
						if v := common[j] * s.luma(black+gain*c.Y); v > 1e-6 {
							row = append(row, chance{j, v})
							sum += v
						}
					}
					st.like = append(st.like, row)
					like *= sum
				}
				best = math.Max(best, like)
				out, likes = append(out, st), append(likes, like)
			}
		}
	}
	kept := out[:0]
	for k, st := range out {
		if likes[k] > best*hardly {
			kept = append(kept, st)
		}
	}
	return kept
}

// hardly is the part of the best below which luma rules a way out.
const hardly = 1e-4

// commonness is how common each colour is on screens: greys are twice as.
func commonness(p *display.Profile) []float64 {
	out, sum := make([]float64, len(p.Colours)), 0.0
	for j, c := range p.Colours {
		if out[j] = 1; c.Saturation() < 0.02 {
			out[j] = 2
		}
		sum += out[j]
	}
	for j := range out {
		out[j] /= sum
	}
	return out
}

func normal(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// Tinted reads the colours of a capture against the display's; nil where none is seen.
func Tinted(spots []analyse.Spot, p *display.Profile) *Tint {
	seen := tintedOf(spots)
	if len(seen) == 0 {
		return nil
	}
	out := &Tint{}
	for _, s := range seen {
		if s.chroma && !s.beside && math.Hypot(s.u, s.v) > 0.03 {
			out.Hues++
		}
	}
	// Coarsely first: most ways in which luma may stand chroma rules out.
	list := stands(seen, p)
	coarse := newColourGrid(2)
	coarse.add(seen, list, p)
	list = coarse.kept(list)
	fine := newColourGrid(1)
	fine.add(seen, list, p)
	out.Turn, out.Saturation, out.Level = fine.turns.peak(20), fine.sizes.peak(0.35).exp(), fine.levels.peak(0.2).exp()
	out.White = fine.whites.peak(0.2).exp()
	out.Least, out.Turns = fine.turns.least(), fine.turns.peaks(20, 0.1)
	return out
}
