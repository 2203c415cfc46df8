package fingerprint

import (
	"fmt"
	"math"
)

// A trait is how one thing varies, between machines and on the same machine from capture to capture.
// Common practice, no source, unless a comment says otherwise.
type trait struct {
	name, unit string
	of         func(p *Print) *Value
	within     float64 // standard deviation on the same machine, beyond that of the measurement
	between    float64 // standard deviation over machines with this display
	stray      float64 // how often it changes for a reason of its own, a repair above all
	alike      float64 // how often two machines are built alike in it
}

var traits = []trait{
	{"field rate", "ppm", func(p *Print) *Value { return p.FieldRate }, 6, 40, 0.01, 0},  // crystals, and the computer's own clock in warmth and cold
	{"pixel pitch", "ppm", func(p *Print) *Value { return p.Pitch }, 60, 200, 0.05, 0.9}, // the device's; the machine's only where it counts other pixels
	{"picture's left edge", "px", func(p *Print) *Value { return p.Left }, 0.15, 1.5, 0.05, 0.6},
	{"picture's top", "lines", func(p *Print) *Value { return p.Top }, 0.2, 1.5, 0.05, 0.6},
	{"black level", "codes", func(p *Print) *Value { return p.Black }, 4, 7, 0.2, 0.3}, // as fitted, which the colours on the screen sway
	{"white level", "codes", func(p *Print) *Value { return p.White }, 5, 12, 0.2, 0.3},
	{"noise", "dB", func(p *Print) *Value { return p.SNR }, 1.5, 4, 0.3, 0.3},
	{"hue", "degrees", func(p *Print) *Value { return p.Hue }, 2, 6, 0.2, 0.4},
	{"saturation", "%", func(p *Print) *Value { return p.Saturation }, 4, 12, 0.2, 0.3},
}

// ratioTrait: two crystals near each other in one case drift by a few ppm as it warms (some tenths of a
// ppm a degree, AT cut, from memory); from machine to machine they differ as usual says.
var ratioTrait = trait{name: "subcarrier over line", unit: "ppm", within: 3, between: usual, stray: 0.002}

// locked is the distance from the display's ratio, ppm, within which two crystals are one: by chance
// two are that near each other in one machine of some thousands.
const locked = 0.02

// barTrait: what couples into the output is a matter of the board's layout and its repairs.
var barTrait = trait{name: "fixed bars", unit: "%", within: 0.15, between: 0.5, stray: 0.2, alike: 0.3}

// Evidence is what one trait says.
type Evidence struct {
	Trait  string  `json:"trait"`
	Before float64 `json:"before"`
	After  float64 `json:"after"`
	Unit   string  `json:"unit"`
	SD     float64 `json:"sd"`    // of the difference, as measured
	Log10  float64 `json:"log10"` // of the likelihood ratio, same machine over another
}

// A Comparison is what two prints say of whether they are of one machine.
type Comparison struct {
	Log10    float64    `json:"log10"` // of the likelihood ratio
	Evidence []Evidence `json:"evidence"`
	Limits   []string   `json:"limits"` // what kept it from being surer
}

// The bounds of Log10 beyond which a comparison says something: twenty to one.
const settled = 1.3

// Same and Another say that the comparison settles it.
func (c *Comparison) Same() bool    { return c.Log10 >= settled }
func (c *Comparison) Another() bool { return c.Log10 <= -settled }

// Probability that both are of one machine when it was this probable before.
func (c *Comparison) Probability(before float64) float64 {
	odds := before / (1 - before) * math.Pow(10, c.Log10)
	return odds / (1 + odds)
}

// Compare weighs two prints taken on one capture device: the likelihood of both on one machine, over
// that on two machines with the same sort of display. Machines of one make are alike in many traits
// at once, so that agreement in all of these counts as agreement in one.
func Compare(a, b *Print) *Comparison {
	c := &Comparison{}
	if a.Display != b.Display {
		c.add(Evidence{Trait: "display", Log10: -2})
		c.limit("the captures fit different displays (%s, %s): give --display if one was guessed", a.Display, b.Display)
		return c
	}
	c.ratio(a, b)
	alike := 0.0 // the best that traits say which machines of one make share
	agree := func(t *trait, e Evidence) {
		c.Evidence = append(c.Evidence, e)
		if t.alike > 0 && e.Log10 > 0 {
			alike = math.Max(alike, e.Log10)
			return
		}
		c.Log10 += e.Log10
	}
	for _, t := range traits {
		x, y := t.of(a), t.of(b)
		if x == nil || y == nil {
			continue
		}
		sd := math.Hypot(x.SD, y.SD)
		agree(&t, Evidence{Trait: t.name, Before: x.Value, After: y.Value, Unit: t.unit, SD: sd, Log10: t.weigh(y.Value-x.Value, sd)})
	}
	if len(a.Bars) == len(b.Bars) && len(a.Bars) > 0 {
		e := Evidence{Trait: barTrait.name, Unit: barTrait.unit}
		// The bars change together or not at all, so that one of them speaks for all: the one that
		// says most against.
		for i := range a.Bars {
			sd := math.Hypot(a.Bars[i].SD, b.Bars[i].SD)
			if l := barTrait.weigh(b.Bars[i].Value-a.Bars[i].Value, sd); i == 0 || l < e.Log10 {
				e.Before, e.After, e.SD, e.Log10 = a.Bars[i].Value, b.Bars[i].Value, sd, l
			}
		}
		agree(&barTrait, e)
	}
	c.Log10 += alike
	if len(c.Evidence) == 0 {
		c.limit("nothing could be compared: one of the captures has no placed picture")
	}
	return c
}

func (c *Comparison) add(e Evidence) {
	c.Evidence = append(c.Evidence, e)
	c.Log10 += e.Log10
}

func (c *Comparison) limit(format string, args ...any) {
	c.Limits = append(c.Limits, fmt.Sprintf(format, args...))
}

// ratio weighs the ratios by all pairs of the values they may have.
func (c *Comparison) ratio(a, b *Print) {
	if len(a.Ratio) == 0 || len(b.Ratio) == 0 {
		c.limit("the subcarrier's crawl did not show in both: it takes a still picture with colour or fine edges, some seconds of it, and a display whose colour has a crystal of its own")
		return
	}
	if math.Abs(a.Ratio[0].PPM) < locked && math.Abs(b.Ratio[0].PPM) < locked {
		c.limit("subcarrier and lines keep the display's exact ratio: one crystal makes both, and the crawl tells no machines apart")
		return
	}
	t := ratioTrait
	same, other := 0.0, 0.0
	e := Evidence{Trait: t.name, Unit: t.unit}
	best := -1.0
	for _, x := range a.Ratio {
		for _, y := range b.Ratio {
			w := x.Probability * y.Probability
			sd := math.Hypot(x.SD, y.SD)
			s, o := t.likelihoods(y.PPM-x.PPM, sd)
			same, other = same+w*s, other+w*o
			if w*s > best {
				best = w * s
				e.Before, e.After, e.SD = x.PPM, y.PPM, sd
			}
		}
	}
	if a.Ratio[0].Probability < 0.9 || b.Ratio[0].Probability < 0.9 {
		c.limit("the subcarrier's ratio is known only but for steps of about 11 to 17 ppm")
	}
	e.Log10 = math.Log10(same / other)
	c.add(e)
}

// weigh is the log10 of the likelihood ratio of a difference measured with that spread.
func (t *trait) weigh(difference, sd float64) float64 {
	same, other := t.likelihoods(difference, sd)
	return math.Log10(same / other)
}

// likelihoods are those of a difference on one machine and on two.
func (t *trait) likelihoods(d, sd float64) (same, other float64) {
	within := math.Sqrt(sd*sd + 2*t.within*t.within)
	between := math.Sqrt(within*within + 2*t.between*t.between)
	other = t.alike*normal(d, within) + (1-t.alike)*normal(d, between)
	// What changed for a reason of its own may be anything that machines are.
	least := normal(0, between) / 20
	same = (1-t.stray)*normal(d, within) + t.stray*math.Max(other, least)
	other = math.Max(other, least) // far outside the usual is no proof of another machine either
	return same, other
}

func normal(d, sd float64) float64 {
	return math.Exp(-d*d/2/sd/sd) / sd / math.Sqrt(2*math.Pi)
}

// Clocks says that the two clocks agree, by themselves ten times likelier on one machine than on
// two: what machines of one make share does not count.
func (c *Comparison) Clocks() bool {
	for _, e := range c.Evidence {
		if e.Trait == ratioTrait.name && e.Log10 >= 1 && c.Log10 > 0 {
			return true
		}
	}
	return false
}

// Strongest says which trait speaks loudest against one machine.
func (c *Comparison) Strongest() string {
	if len(c.Evidence) == 0 {
		return "nothing could be compared"
	}
	best := 0
	for i := range c.Evidence {
		if c.Evidence[i].Log10 < c.Evidence[best].Log10 {
			best = i
		}
	}
	e := c.Evidence[best]
	if e.Unit == "" {
		return "the " + e.Trait
	}
	return fmt.Sprintf("the %s, %.4g %s and %.4g %s", e.Trait, e.Before, e.Unit, e.After, e.Unit)
}
