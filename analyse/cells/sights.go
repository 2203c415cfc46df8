package cells

import (
	"math"
	"slices"

	"backporch/video"
	"backporch/video/display"
)

// A colour as it is seen, and the levels that a device is believed to give it: what path.go weighs changes of the display's colours by.

// A sight is one colour as seen, parts of white, chroma as U and V.
type sight struct {
	seen         video.YUV
	sy, sc       float64 // scatter of luma and of chroma
	size, turn   float64 // and what of it grows with the colour: of its size, and to its sides, which is its hue
	pale         float64 // that of its size where it is less than it should be; 0: the same
	strokes      bool    // told from strokes
	shares       float64 // how many observations its chroma is, where several err together; 0: one
	tails        bool    // chroma scatters as under a t distribution: some are seen by strokes, or beside others
	none         float64 // and of a colour difference that the machine does not send
	meanY, meanC float64 // of the mean of cells drawn differently, of each of which the scatter is sy and sc; 0: there is none
	chroma       bool    // false: only luma is known
	target       int     // the colour that stands there; -1: one of the first so many
	colours      int
	whole        bool    // of the border: too large to be misread
	low, high    bool    // luma is at an end of the codes: it may be less, or more
	cutU, cutV   float64 // the sign of a colour difference that is at an end of the codes; 0: it is not
	normY        float64 // ln of luma's norm, see norm
}

// norm works out what the scatter of luma alone says, for fits.
func (s *sight) norm() { s.normY = math.Log(s.sy * math.Sqrt(2*math.Pi)) }

// A hueFrame is how a colour's chroma lies about where it should be: what is off its size, and what is off its hue.
type hueFrame struct {
	u, v         float64 // the direction of the colour
	along, aside float64 // off its size and its hue, as parts of the scatters there
	sizes, turns float64 // these scatters
	norm         float64 // that of the size in the mean of more and of less
}

// off is how far the chroma seen lies from a colour's. Narrow filters leave less of a colour, by as much as its areas are small, and its hue as it is.
func (s *sight) off(c video.YUV, not unsent) hueFrame {
	f := hueFrame{u: 1}
	size := math.Hypot(c.U, c.V)
	if size > 0 {
		f.u, f.v = c.U/size, c.V/size
	}
	f.sizes, f.turns = math.Hypot(s.sc, s.size*size), math.Hypot(s.sc, s.turn*size)
	switch {
	case not.u && not.v:
		f.sizes, f.turns = s.none, s.none
	case not.u || not.v:
		f.turns = s.none
	}
	u, v := beyond(s.seen.U, c.U, s.cutU)-c.U, beyond(s.seen.V, c.V, s.cutV)-c.V
	f.along, f.aside = u*f.u+v*f.v, (v*f.u-u*f.v)/f.turns
	f.norm = f.sizes
	if s.pale > s.size && !(not.u && not.v) { // a normal distribution of two halves
		less := math.Hypot(s.sc, s.pale*size)
		f.norm = (f.sizes + less) / 2
		if f.along < 0 {
			f.sizes = less
		}
	}
	f.along /= f.sizes
	return f
}

// of is the log-density of it, and how much it counts for the levels.
func (f *hueFrame) of(tails bool) (ln, weight float64) {
	q := square(f.along) + square(f.aside)
	norm := math.Log(2 * math.Pi * f.norm * f.turns)
	if tails { // a t distribution of two dimensions (Gelman and others, Bayesian Data Analysis, appendix A, from memory)
		return -(freedom+2)/2*math.Log1p(q/freedom) - norm, (freedom + 2) / (freedom + q)
	}
	return -q/2 - norm, 1
}

// counts is how many observations a sight's chroma is.
func (s *sight) counts() float64 {
	if s.shares > 0 {
		return s.shares
	}
	return 1
}

// freedom is the degrees of freedom of the t distribution of colours in the picture. Common practice, no source.
const freedom = 4.0

// An unsent tells which colour differences of a colour a machine does not send: what is not sent has no size to be wrong, so that it scatters by the
// device's doing alone.
type unsent struct{ u, v bool }

// unsentOf are those of a colour; the least that counts is a code's half.
func unsentOf(c video.YUV) unsent {
	return unsent{math.Abs(c.U) < topUnits/2, math.Abs(c.V) < topUnits/2}
}

const (
	oddSight     = 0.01  // how often a colour is none of the display's: misread, or another fault's
	oddBorder    = 1e-3  // and how often a border's is,
	oddStrokes   = 0.15  // and what is solved for from strokes: in textures of two colours it is mostly something between these
	evenShare    = 0.35  // and of these none that a decoder makes a colour of
	fineShare    = 0.03  // how often one is a pattern too fine to be seen, where few are
	anyPart      = 0.3   // how often such a pattern is not half of the one and half of the other
	noneC        = 0.010 // scatter of chroma that is not sent: a device's offset, and what strokes leave; and
	noneEdge     = 0.008 // of a border's
	apartStrokes = 3.0   // sights from strokes that err by themselves; all others do with these, for they are parts of the same few textures
	fewCells     = 2.5   // cells that a colour needs to say anything
	plainGrey    = 2.0   // how much commoner each grey is on screens than each colour
	usualTurn    = 60.0  // degrees
	endCode      = 253.5 // from here on luma is cut off
	wholeY       = 0.015 // scatter of luma of even areas and of the border
	topUnits     = 1 / 219.0
	besideCut    = 0.04 // of white: how much worse luma is known beside what is cut off
)

// What the chroma of an even area and of the border scatters by, of white; and of the colour: of its size, which narrow filters make less in small areas,
// and, in radians, of its hue. A machine's parts of 5 % put a colour that is mixed of two or three off by as much, so 3 degrees;
// broadcasters' coders were allowed 10 degrees and 20 % at most (47 CFR 73.682). Common practice, no source, else.
const (
	areaC, borderC       = 0.010, 0.007
	areaSize, borderSize = 0.12, 0.08
	areaPale             = 0.40 // areas of a few cells have lost up to half of it and more
	partTurn             = 0.05
)

// sightOf takes codes to parts of white.
func sightOf(y, cb, cr float64) sight {
	s := sight{seen: video.YUVOfCodes(y, cb, cr), target: -1, low: y < 1.5, high: y > endCode}
	cut := func(v float64) float64 {
		switch {
		case v < 2:
			return -1
		case v > 253:
			return 1
		}
		return 0
	}
	s.cutU, s.cutV = cut(cb), cut(cr)
	return s
}

// A believed is where a device's levels lie: Gaussian priors.
type believed struct {
	centre                 transform
	black, gain, size, hue float64 // deviations
	cost                   float64 // nats, for being this kind of device
}

// unlikely is minus the log-density of a transform, but for a constant.
func (b *believed) unlikely(t transform) float64 {
	return b.cost + (square((t.black-b.centre.black)/b.black)+square((t.gain-b.centre.gain)/b.gain)+
		square((t.saturation-b.centre.saturation)/b.size)+square((t.hue-b.centre.hue)/b.hue))/2
}

// fullCost is minus ln of how often a device gives codes of the full range: JPEG's are so by definition (ITU-T T.871), and drivers leave it at that
// or turn it back. Common practice, no source.
const fullCost = 1.5

// How far a good chain's hue is off, degrees. In 625/50 V changes sides from line to line, so that an error of phase pales colours
// and does not turn them (ITU-R BT.470), and devices have no setting of it. Sizes: common practice, no source.
const ownHue, ownHueSwitched = 4.5, 3.0

// ownGain is how far a good chain's gain is off: of 42 pairs of captures of good machines, by simulators that others wrote, the two differ by 7 % rms.
const ownGain = 0.055

// devices are the priors of a capture that nothing is compared with.
func devices(p *display.Profile, blanking float64) []believed {
	hue := ownHue
	if p.Standard == video.Std625 {
		hue = ownHueSwitched
	}
	limited := believed{transform{16, 1, 1, 0}, blackSpread, ownGain, saturationSpread, hue, 0}
	full := believed{transform{0, 255.0 / 219, 255.0 / 224, 0}, blackSpread, ownGain * 255 / 219, saturationSpread, hue, fullCost}
	if !math.IsNaN(blanking) && p.Standard == video.Std625 { // 525/60 may have a pedestal
		for _, b := range []*believed{&limited, &full} {
			// The product of two Gaussians, and what they lie apart by.
			w, v := 1/square(b.black), 1/square(3.0)
			b.cost += square(b.centre.black-blanking) / (square(b.black) + 9) / 2
			b.centre.black = (w*b.centre.black + v*blanking) / (w + v)
			b.black = 1 / math.Sqrt(w+v)
		}
	}
	return setups([]believed{limited, full}, p)
}

// setup is the pedestal of black above blanking in 525/60, of white: 7.5 IRE, which some machines and countries leave out (ITU-R BT.470, BT.1700). A device
// that takes none off where there is one shows it, one that takes it off where there is none goes below black; setupCost is minus ln of how often either is so.
// Common practice, no source.
const setup, setupCost = 0.075, 1.5

// setups adds to devices those that do not have their setup as the machine has it.
func setups(list []believed, p *display.Profile) []believed {
	if p.Standard == video.Std625 {
		return list
	}
	for _, b := range slices.Clone(list) {
		more, less := b, b
		more.centre.black, more.centre.gain = b.centre.black+setup*b.centre.gain/topUnits, (1-setup)*b.centre.gain
		less.centre.black, less.centre.gain = b.centre.black-setup/(1-setup)*b.centre.gain/topUnits, b.centre.gain/(1-setup)
		more.cost += setupCost
		less.cost += setupCost
		list = append(list, more, less)
	}
	return list
}

// shown is a colour as a device with these levels gives it.
func (t transform) shown(c video.YUV) video.YUV {
	sin, cos := math.Sincos(t.hue * math.Pi / 180)
	return video.YUV{
		Y: (t.black-16)*topUnits + t.gain*c.Y,
		U: t.saturation * (cos*c.U - sin*c.V), V: t.saturation * (sin*c.U + cos*c.V),
	}
}

// fits is the log-density of a sight where this colour is shown.
func (s *sight) fits(c video.YUV, off unsent) float64 {
	d := s.seen.Y - c.Y
	if s.high && d < 0 || s.low && d > 0 {
		d = 0
	}
	sum := -square(d/s.sy)/2 - s.normY
	if s.chroma {
		f := s.off(c, off)
		ln, _ := f.of(s.tails)
		sum += s.counts() * ln
	}
	return sum
}

// odd is the log-density of a sight that is none of the colours: anything.
func (s *sight) odd() float64 {
	v := math.Log(oddSight)
	switch {
	case s.whole:
		v = math.Log(oddBorder)
	case s.strokes:
		v = math.Log(oddStrokes)
	}
	if s.chroma { // U and V reach to 0.44 and 0.62 of white (ITU-R BT.601 codes)
		v -= s.counts() * math.Log(4*0.44*0.62)
	}
	return v
}
