package cells

import (
	"math"

	"backporch/video"
	"backporch/video/display"
)

// A colour as it is seen, and the levels that a device is believed to give it: what path.go weighs changes of the display's colours by.

// A sight is one colour as seen, parts of white, chroma as U and V.
type sight struct {
	seen         video.YUV
	sy, sc       float64 // scatter of luma and of chroma
	none         float64 // and of a colour difference that the machine does not send
	meanY, meanC float64 // of the mean of cells drawn differently, of each of which the scatter is sy and sc; 0: there is none
	chroma       bool    // false: only luma is known
	target       int     // the colour that stands there; -1: one of the first so many
	colours      int
	whole        bool       // of the border: too large to be misread
	low, high    bool       // luma is at an end of the codes: it may be less, or more
	cutU, cutV   float64    // the sign of a colour difference that is at an end of the codes; 0: it is not
	normY        float64    // ln of the densities' norms, see norm
	normC        [3]float64 // by how many of both colour differences are not sent
}

// norm works out what the scatters alone say, for fits.
func (s *sight) norm() {
	s.normY = math.Log(s.sy * math.Sqrt(2*math.Pi))
	for i, v := range [3]float64{s.sc * s.sc, s.sc * s.none, s.none * s.none} {
		s.normC[i] = math.Log(2 * math.Pi * v)
	}
}

// An unsent tells which colour differences of a colour a machine does not send: what is not sent has no size to be wrong, so that it scatters by the
// device's doing alone.
type unsent struct{ u, v bool }

// unsentOf are those of a colour; the least that counts is a code's half.
func unsentOf(c video.YUV) unsent {
	return unsent{math.Abs(c.U) < topUnits/2, math.Abs(c.V) < topUnits/2}
}

const (
	oddSight  = 0.01  // how often a colour is none of the display's: misread, or another fault's
	oddBorder = 1e-3  // and how often a border's is
	evenShare = 0.35  // and of these none that a decoder makes a colour of
	fineShare = 0.03  // how often one is a pattern too fine to be seen
	borderC   = 0.03  // scatter of a border's chroma: no edge is near
	noneC     = 0.015 // of chroma that is not sent: a device's offset, and what strokes leave; and
	noneEdge  = 0.01  // of a border's
	fewCells  = 2.5   // cells that a colour needs to say anything
	plainGrey = 2.0   // how much commoner each grey is on screens than each colour
	usualTurn = 60.0  // degrees
	endCode   = 253.5 // from here on luma is cut off
	topUnits  = 1 / 219.0
	besideCut = 0.04 // of white: how much worse luma is known beside what is cut off
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
const ownHue, ownHueSwitched = 4.5, 3.5

// devices are the priors of a capture that nothing is compared with.
func devices(p *display.Profile, blanking float64) []believed {
	hue := ownHue
	if p.Standard == video.Std625 {
		hue = ownHueSwitched
	}
	limited := believed{transform{16, 1, 1, 0}, blackSpread, gainSpread, saturationSpread, hue, 0}
	full := believed{transform{0, 255.0 / 219, 255.0 / 224, 0}, blackSpread, gainSpread * 255 / 219, saturationSpread, hue, fullCost}
	if !math.IsNaN(blanking) && p.Standard == video.Std625 { // 525/60 may have a pedestal
		for _, b := range []*believed{&limited, &full} {
			// The product of two Gaussians, and what they lie apart by.
			w, v := 1/square(b.black), 1/square(3.0)
			b.cost += square(b.centre.black-blanking) / (square(b.black) + 9) / 2
			b.centre.black = (w*b.centre.black + v*blanking) / (w + v)
			b.black = 1 / math.Sqrt(w+v)
		}
	}
	return []believed{limited, full}
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
		u, v := s.seen.U-c.U, s.seen.V-c.V
		if s.cutU*u < 0 {
			u = 0
		}
		if s.cutV*v < 0 {
			v = 0
		}
		su, sv := s.sc, s.sc
		n := 0
		if off.u {
			su = s.none
			n++
		}
		if off.v {
			sv = s.none
			n++
		}
		sum -= square(u/su)/2 + square(v/sv)/2 + s.normC[n]
	}
	return sum
}

// odd is the log-density of a sight that is none of the colours: anything.
func (s *sight) odd() float64 {
	v := math.Log(oddSight)
	if s.whole {
		v = math.Log(oddBorder)
	}
	if s.chroma { // U and V reach to 0.44 and 0.62 of white (ITU-R BT.601 codes)
		v -= math.Log(4 * 0.44 * 0.62)
	}
	return v
}
