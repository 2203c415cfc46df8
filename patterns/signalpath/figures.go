package signalpath

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// The path's kinds are weighed by figures of the capture. Each figure has a distribution on a good path
// and one where its kind of fault is there; both are common practice, no source, but for what stands beside them.

// A trait is a figure of a capture, its distribution on good paths and on those with the fault of its kind.
type trait struct {
	kind      string
	good, bad figure
	least     float64 // the least that a capture tells
	edges     bool    // read from edges, which must hold still
	ofType    float64 // spread between good machines of one type, where one was captured; 0: that says nothing
	// read gives the value and its uncertainty; nil: not measured.
	read func(s *analyse.Survey) *analyse.Estimate
	// disturbs says how often other kinds change this figure as well.
	disturbs map[string]float64
	why      func(s *analyse.Survey) string
}

var traits = []trait{
	{
		// Cable systems allow 3 % peak to peak (47 CFR 76.605, quoted); a device's clamp takes most of it off, more or less, of good captures
		// and of others.
		kind: "hum", good: figure{0.08, 0.8}, bad: figure{3, 1}, least: 0.05,
		read: func(s *analyse.Survey) *analyse.Estimate {
			h := s.Signal.Hum
			if h == nil {
				return nil
			}
			// What does not follow the sines is not the mains'.
			e := h.Pct
			e.Value *= math.Pow(max(h.Share, 0.05), 2)
			if hz := h.Hz.Value; !math.IsNaN(hz) && !nearMains(hz, math.Max(4, 4*h.Hz.Spread)) {
				e.Value *= 0.1
			}
			return &e
		},
		disturbs: map[string]float64{"sync-weak": 0.1, "no-signal": 0.5, "interference": 0.1, "ghost": 0.02},
		why: func(s *analyse.Survey) string {
			h := s.Signal.Hum
			return fmt.Sprintf("the border's brightness follows the mains from top to bottom, %.1f %% of white peak to peak%s", h.Pct.Value, atHz(h.Hz.Value))
		},
	},
	{
		// Bars of 1 code in 219 show on a flat area (0.5 %); clock crosstalk that somebody looks for is 1 to some 10 percent. What a type of machine
		// has by itself differs by less from one to the next than between types.
		kind: "fixed-bars", good: figure{0.2, 0.7}, bad: figure{4, 0.8}, least: 0.1, ofType: 0.6,
		read:     func(s *analyse.Survey) *analyse.Estimate { return toneOf(s, true) },
		disturbs: map[string]float64{"sync-weak": 0.02, "no-signal": 0.5}, // lines that move have even borders
		why: func(s *analyse.Survey) string {
			t := firstTone(s, true)
			return fmt.Sprintf("upright bars stand still on border and picture, one every %.2f pixels, %.1f %% of white peak to peak", t.PeriodPx, t.Pct.Value)
		},
	},
	{
		// What stands out of the noise of a good path is small: of 105 captures without such a fault, by simulators that others wrote, three had
		// a tone above 0.25 %, one above 0.5 %.
		kind: "interference", good: figure{0.12, 0.7}, bad: figure{6, 0.7}, least: 0.1,
		read: func(s *analyse.Survey) *analyse.Estimate { return toneOf(s, false) },
		disturbs: map[string]float64{"sync-weak": 0.02, "no-signal": 0.5, // lines that move have even borders
			"clipping": 0.05, "level-high": 0.05}, // a colour whose waves are cut off has multiples of the subcarrier, which samples fold down
		why: func(s *analyse.Survey) string {
			t := firstTone(s, false)
			return fmt.Sprintf("one frequency stands out of the border's noise and moves on the picture: %s, %.1f %% of white peak to peak", patterns.InHz(t.Hz.Value), t.Pct.Value)
		},
	},
	{
		// A decoder of 4.6 to 6 MHz gives 75 to 100 ns (0.4458/B), with its trap 110 to 170, and with one of 0.9 MHz to either side of 3.58 MHz
		// 230; one pole of 1.75 MHz 200 ns (0.3497/B). Where the edge's shape is known, it says more (tailLike).
		kind: "low-bandwidth", good: figure{130, 0.22}, bad: figure{290, 0.3}, least: 60, edges: true,
		read: func(s *analyse.Survey) *analyse.Estimate {
			if e := s.Signal.Rise; e != nil && e.Value < 900 && s.Signal.SlowGain == nil {
				return e
			}
			return nil
		},
		disturbs: map[string]float64{"sync-weak": 0.1, "no-signal": 0.5, "ringing": 0.03, "ghost": 0.1, "noise": 0.03, "level-high": 0.02, "clipping": 0.02},
		why: func(s *analyse.Survey) string {
			return fmt.Sprintf("edges take %.0f ns from 10 to 90 %%; a good chain's take 70 to 150, some decoders' up to 230", s.Signal.Rise.Value)
		},
	},
}

// nearMains tells whether a frequency is that of mains, or twice it.
func nearMains(hz, within float64) bool {
	for _, f := range [4]float64{50, 60, 100, 120} {
		if math.Abs(hz-f) <= within {
			return true
		}
	}
	return false
}

func atHz(hz float64) string {
	if math.IsNaN(hz) {
		return ""
	}
	return fmt.Sprintf(" at %.0f Hz", hz)
}

// firstTone is the strongest tone that stands still, or that moves.
func firstTone(s *analyse.Survey, fixed bool) *analyse.Tone {
	for i := range s.Signal.Tones {
		if t := &s.Signal.Tones[i]; t.Fixed == fixed {
			return t
		}
	}
	return nil
}

// toneOf is its size; none is less than shows, where the border was looked at.
func toneOf(s *analyse.Survey, fixed bool) *analyse.Estimate {
	if t := firstTone(s, fixed); t != nil {
		return &t.Pct
	}
	if len(s.Signal.Curves.Spectrum) == 0 {
		return nil
	}
	return &analyse.Estimate{Value: 0.1, Spread: 0.1}
}

// of is the log-density of an estimate: its own uncertainty widens the distribution. What is known worse than to
// a factor says next to nothing.
func (f figure) of(e *analyse.Estimate, least float64) float64 {
	if e == nil || math.IsNaN(e.Value) {
		return 0
	}
	v := math.Max(e.Value, least)
	width := math.Hypot(f.spread, math.Min(e.Spread/v, 2))
	return nats.Gauss(math.Log(v), math.Log(f.median), width)
}

// goodOf is the same on a good path: less than usual is as good as usual.
func (f figure) goodOf(e *analyse.Estimate, least float64) float64 {
	if e == nil || math.IsNaN(e.Value) {
		return 0
	}
	g := *e
	g.Value = math.Max(e.Value, f.median)
	return f.of(&g, least)
}

// badOf is the same with the fault: more than usual is no less the fault's.
func (f figure) badOf(e *analyse.Estimate, least float64) float64 {
	if e == nil || math.IsNaN(e.Value) {
		return 0
	}
	b := *e
	b.Value = math.Min(e.Value, f.median)
	return f.of(&b, least)
}

// traitLike is the log-likelihood of all figures under a kind, "" for a good path.
func traitLike(s *analyse.Survey, kind string) float64 {
	sum := 0.0
	for i := range traits {
		t := &traits[i]
		e := t.read(s)
		if e == nil || s.Sync.State != analyse.Locked && t.edges {
			continue
		}
		usual := t.good
		if g := s.Signal.Good; g != nil && t.ofType > 0 {
			if own := t.read(&analyse.Survey{Signal: *g}); own != nil {
				usual = figure{math.Max(own.Value, 1.5*t.least), t.ofType}
			}
		}
		good, bad := usual.goodOf(e, t.least), t.bad.badOf(e, t.least)
		switch {
		case t.kind == kind:
			sum += bad
		case t.disturbs[kind] > 0:
			part := t.disturbs[kind]
			sum += nats.LogSum(good+math.Log1p(-part), bad+math.Log(part))
		default:
			sum += good
		}
	}
	return sum + tailLike(s, kind)
}

// oddTail is how often something that nobody thought of looks like one of the three in what follows an edge, and by kind how often
// that comes with what they do to edges.
const oddTail = 1e-4

var oddTails = map[string]float64{"noise": 0.002, "clipping": 0.005, "level-high": 0.005, "level-low": 0.005, "hue-shift": 0.002, "colour-lost": 0.002, "sync-weak": 0.003, "no-signal": 0.01}

// tailLike is the log-likelihood of what follows an edge, against that on a good path.
func tailLike(s *analyse.Survey, kind string) float64 {
	locked := s.Sync.State == analyse.Locked
	if !locked && !s.Straightened {
		return 0
	}
	gains := map[string]float64{}
	most := 0.0
	add := func(kind string, gain float64) {
		gains[kind] = tempered(gain)
		most = math.Max(most, gains[kind])
	}
	if r := s.Signal.Ringing; r != nil && locked {
		add("ringing", r.Gain)
	}
	if g := s.Signal.Ghost; g != nil {
		add("ghost", g.Gain)
	}
	if s.Signal.SlowGain != nil && locked { // lines that are laid straight are a part of a sample off, which softens edges; a copy lies apart
		add("low-bandwidth", *s.Signal.SlowGain)
	}
	odd := oddTail
	if v, ok := oddTails[kind]; ok {
		odd = v
	}
	return nats.LogSum(gains[kind]+math.Log1p(-odd), most+math.Log(odd))
}

// tempered is what a gain of many nats is worth where the model of it is only nearly right: its excess counts as under a t distribution
// rather than a normal one (Gelman and others, Bayesian Data Analysis, chapter 17, from memory).
func tempered(gain float64) float64 {
	const scale = 12.0
	return math.Copysign(scale*math.Log1p(math.Abs(gain)/scale), gain)
}

// colourLike is how far the colours speak for a kind, nats. One capture's colours and levels are few: what a device
// does to them that nobody thought of bounds it.
func colourLike(s *analyse.Survey, kind string) float64 {
	if s.Sync.State != analyse.Locked {
		return 0 // a picture that moves is misread
	}
	for _, f := range s.Signal.ColourFits {
		if f.Kind == kind {
			return tempered(f.Gain)
		}
	}
	return 0
}

// blurredColours is how far colours that seem off speak for a kind that smears or doubles areas: their levels are mixed then, mostly a
// little, and by no more than what lies over them. What is off by more is another fault beside it.
func blurredColours(s *analyse.Survey, kind string) float64 {
	best, off, worst := 0.0, 0.0, ""
	for i := range s.Signal.ColourFits {
		f := &s.Signal.ColourFits[i]
		if like := colourLike(s, f.Kind); like > best {
			best, off, worst = like, colourOff(f), f.Kind
		}
	}
	reach := math.Inf(1) // ringing and soft edges take the subcarrier's colours up or down by any part
	if g := s.Signal.Ghost; kind == "ghost" && g != nil {
		reach = 0.05 + 1.5*math.Abs(g.Pct.Value)/100
	}
	part := 0.1
	switch {
	case off > reach:
		part = otherBeside
	case takesColour(s, kind) && worst == "colour-lost":
		part = 0.5
	}
	return nats.LogSum(math.Log(0.9), math.Log(part)+best-1)
}

// takesColour tells whether a kind may leave so little of the subcarrier that a device finds no burst: what softens edges much does, and what rings
// well below the subcarrier, for a resonance passes little of what is above it, 1/((f/f0)^2 - 1) of it.
func takesColour(s *analyse.Survey, kind string) bool {
	if r := s.Signal.Ringing; kind == "ringing" {
		return r != nil && r.Hz.Value < halfColour
	}
	return kind == "low-bandwidth"
}

// halfColour, Hz, is the resonance of which the lower of the two subcarriers, 3.58 MHz, is half: that over the root of 3.
const halfColour = 315e6 / 88 / 1.7320508

// otherBeside is how often one fault of the path comes with another by chance: as often as alone.
const otherBeside = 0.01

// colourOff is how far off, of white, a fit has the colours.
func colourOff(f *analyse.ColourFit) float64 {
	switch f.Kind {
	case "hue-shift":
		return math.Abs(f.Amount.Value) * math.Pi / 180 * 0.5
	case "colour-lost":
		return 0.5
	}
	return math.Abs(1 - f.Amount.Value)
}

// Chroma that is nowhere but neutral, not even by noise: a device switches it off where it finds no burst. On a grey screen a
// decoder without noise, a codec, or luma and chroma that came by wires of their own, may leave none either; with edges of luma there it is
// rarer: of 125 captures of good paths, by simulators that others wrote, none was so, of those without a burst all. ln of the odds; common practice, no source, else.
const (
	deadColour = 1.5
	offColour  = 4.0
	liveColour = -2.5 // the burst is there, so the chroma alone must be gone
)

// killedColour is what the presence of chroma says for lost colour.
func killedColour(s *analyse.Survey) float64 {
	switch {
	case s.Signal.ChromaOff:
		return offColour
	case s.Signal.ChromaDead:
		return deadColour
	}
	return liveColour
}

// fitOf is the colour fit of a kind, nil when colours were not read.
func fitOf(s *analyse.Survey, kind string) *analyse.ColourFit {
	for i := range s.Signal.ColourFits {
		if s.Signal.ColourFits[i].Kind == kind {
			return &s.Signal.ColourFits[i]
		}
	}
	return nil
}
