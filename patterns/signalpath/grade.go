package signalpath

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backporch/analyse"
	"backporch/patterns"
)

// A Scale says from which value on an impairment is of the next worse grade of ITU-R BT.500 (the words are those
// of BS.562 Table 1): 5 imperceptible, 4 perceptible but not annoying, 3 slightly annoying, 2 annoying, 1 very annoying.
type Scale struct {
	Limits [4]float64 // between 5 and 4, 4 and 3, 3 and 2, 2 and 1
	Higher bool       // higher is better
	Source string
}

// Grade is 5 to 1.
func (s Scale) Grade(v float64) int {
	grade := 5
	for _, limit := range s.Limits {
		if s.Higher && v < limit || !s.Higher && v > limit {
			grade--
		}
	}
	return grade
}

// GradeWords are the words of the grades, by grade.
var GradeWords = [6]string{"", "very annoying", "annoying", "slightly annoying", "perceptible, not annoying", "imperceptible"}

// A Reading is one measure of the signal.
type Reading struct {
	Name      string // identifier
	Title     string
	Estimate  *analyse.Estimate // nil: not measured
	Unit      string
	Note      string // what belongs to it, such as a frequency
	Grade     int    // 0: not graded
	Source    string // of the grade's limits
	AtLeast   bool   // what limits it hides the rest
	Device    *float64
	Floor     bool     // the capture device sets it, not the machine
	Own       *float64 // less the device's part; nil without a calibration
	OwnSpread *float64 // standard uncertainty of it; nil where it is that of the estimate
	Technical string   // kind of the catalogue that it is a sign of
}

// Readings lists every measure of a survey with its grade. device is the same of a good source on the same capture
// device, nil when there is none.
func Readings(s *analyse.Survey, device map[string]float64) []Reading {
	out := make([]Reading, 0, len(measures))
	for _, m := range measures {
		r := Reading{Name: m.name, Title: m.title, Unit: m.unit, Technical: m.kind, Estimate: m.read(s)}
		if r.Estimate == nil || math.IsNaN(r.Estimate.Value) {
			r.Estimate = nil
			if m.lacks != nil {
				r.Note = m.lacks(s)
			}
			if !m.seldom || r.Note != "" {
				out = append(out, r)
			}
			continue
		}
		e := r.Estimate
		if m.note != nil {
			r.Note = m.note(s)
		}
		value := e.Value
		r.Floor = e.Limit == "device"
		if own, ok := device[m.name]; ok {
			r.Device = &own
			left, floor := less(m.how, e, own)
			r.Own, r.Floor, value = &left, floor, left
			r.OwnSpread = ownSpread(m.how, e, own, left, floor)
		}
		if m.hides != nil {
			r.AtLeast = m.hides(s)
			r.Floor = r.Floor || r.AtLeast && m.how == "decibel" // steps of codes or of a codec hide what is less
		}
		switch {
		case m.scale != nil:
			graded := value
			if !m.scale.Higher {
				graded = math.Abs(value)
			}
			r.Grade, r.Source = m.scale.Grade(graded), m.scale.Source
		case m.how == "ratio":
			r.Grade, r.Source = aside.Grade(math.Abs(value-100)), aside.Source
		}
		out = append(out, r)
	}
	return out
}

// less takes a device's own part off a value; floor: what is left lies within the uncertainty, so that the
// device and not the machine sets the value.
func less(how string, e *analyse.Estimate, own float64) (left float64, floor bool) {
	switch how {
	case "decibel": // noise adds as power
		noise := math.Pow(10, -e.Value/10) - math.Pow(10, -own/10)
		least := math.Pow(10, -own/10) * 0.15
		if noise < least {
			return math.Max(e.Value, own), true
		}
		return -10 * math.Log10(noise), false
	case "power":
		square := e.Value*e.Value - own*own
		return math.Sqrt(math.Max(0, square)), square < 2*e.Value*e.Spread
	case "reciprocal":
		if e.Limit != "device" { // read off the shape of the edges, without the device's part
			return e.Value, false
		}
		square := 1/(e.Value*e.Value) - 1/(own*own)
		if !(square > 2*e.Spread/math.Pow(e.Value, 3)) {
			return math.Max(e.Value, own), true // the machine's is at least that
		}
		return 1 / math.Sqrt(square), false
	case "ratio":
		if own > 0 {
			return 100 * e.Value / own, math.Abs(e.Value-own) < e.Spread
		}
		return e.Value, false
	}
	left = e.Value - own
	if own >= 0 && e.Value >= 0 {
		left = math.Max(0, left)
	}
	return left, math.Abs(e.Value-own) < e.Spread
}

// squaresOpen is what is open of a bandwidth where squares of rise times are taken to add, as a part: for edges of Gauss's shape they do (common practice, no
// source).
const squaresOpen = 0.1

// ownSpread is the uncertainty of what is left of a value when a device's part, which is known as well as the value is, has been taken off. A difference of
// squares, or of what goes by them, is known the worse the less of it is left.
func ownSpread(how string, e *analyse.Estimate, own, left float64, floor bool) *float64 {
	if floor {
		return nil
	}
	var out float64
	switch how {
	case "power":
		out = e.Spread * math.Hypot(e.Value, own*own/e.Value) / left
	case "decibel":
		part := func(db float64) float64 { return math.Pow(10, -db/10) }
		out = e.Spread * math.Hypot(part(e.Value), part(own)) / part(left)
	case "reciprocal":
		if e.Limit != "device" {
			return nil
		}
		part := e.Spread / e.Value
		out = math.Pow(left, 3) * part * math.Hypot(1/(e.Value*e.Value), 1/(own*own))
		out = math.Hypot(out, squaresOpen*left)
	default:
		return nil
	}
	return &out
}

// An Assessment is whether an output is clean.
type Assessment struct {
	Word   string // "clean", "usable", "not clean", "undetermined"
	Reason string
	Causes []string // in the circuit, the likeliest first
	Next   []string
}

// The words of an assessment.
const (
	CleanOutput  = "clean"
	UsableOutput = "usable"
	PoorOutput   = "not clean"
)

// Assess sums readings up: clean when nothing is worse than perceptible, usable when nothing is worse than slightly annoying.
func Assess(s *analyse.Survey, readings []Reading) Assessment {
	if s.Sync.State == analyse.NoSignal {
		return Assessment{Word: PoorOutput, Reason: "no signal arrives: there is nothing to measure", Causes: Causes("no-signal"), Next: patterns.KindOf("no-signal").Tests}
	}
	worst := 6
	var of []Reading
	for _, r := range readings {
		if r.Grade > 0 && !r.Floor {
			worst = min(worst, r.Grade)
		}
	}
	for _, r := range readings {
		if r.Grade == worst && !r.Floor {
			of = append(of, r)
		}
	}
	kind := ""
	if fit := bestFit(s); fit == "clipping" || fit == "colour-lost" {
		if f := fitOf(s, fit); f.Gain > 8 {
			kind = fit
		}
	}
	a := Assessment{Word: CleanOutput}
	switch {
	case s.Sync.State != analyse.Locked:
		worst, kind = 1, "sync-weak"
	case worst == 6 && kind == "":
		return Assessment{Word: "undetermined", Reason: "the picture has no place to measure anything by", Next: []string{
			"capture a screen with text in black and white inside a bright border, for a second or more",
		}}
	case kind != "":
		worst = min(worst, 2)
	}
	switch {
	case worst <= 2:
		a.Word = PoorOutput
	case worst == 3:
		a.Word = UsableOutput
	}
	switch {
	case kind != "":
		a.Reason = map[string]string{
			"clipping": "bright colours and white are cut off", "colour-lost": "the colours have lost their chroma",
			"sync-weak": "the picture does not hold still",
		}[kind]
	case worst >= 4:
		a.Reason = "no measure is worse than perceptible"
		if open := unmeasured(readings); len(open) > 0 {
			a.Reason += "; not measured: " + strings.Join(open, ", ")
			a.Next = append(a.Next, "capture black text on white inside a bright border, by which all of them are measured")
		}
	default:
		r := of[0]
		a.Reason = fmt.Sprintf("%s: %s", r.Title, r.Value())
		kind = r.Technical
		if r.Name == "level" || r.Name == "saturation" {
			kind = "level-low"
			if r.Estimate.Value > 100 {
				kind = "level-high"
			}
		}
	}
	if worst <= 3 {
		a.Causes = Causes(kind)
		if tests := patterns.KindOf(kind).Tests; len(tests) > 0 {
			a.Next = tests
		}
	}
	for _, r := range readings {
		if r.Device == nil && r.Grade > 0 && r.Grade < 4 {
			a.Next = append(slices.Clone(a.Next), "measure a good machine on the same device and keep it (signal --calibrate), so that the device is not blamed on the board")
			break
		}
	}
	return a
}

// unmeasured lists what a clean output must have and what there was nothing to measure by. Colours are none of it: not every screen has them.
func unmeasured(readings []Reading) []string {
	var out []string
	for _, r := range readings {
		switch r.Name {
		case "snr", "rise", "ringing", "ghost", "fixed-bars", "interference", "hum", "jitter", "level":
			if r.Estimate == nil {
				out = append(out, r.Title)
			}
		}
	}
	return out
}

// Value writes a reading with its uncertainty.
func (r *Reading) Value() string {
	if r.Estimate == nil {
		return "not measured"
	}
	digits := 1
	if r.Estimate.Spread >= 3 {
		digits = 0
	} else if r.Unit == "MHz" || r.Estimate.Spread < 0.1 {
		digits = 2
	}
	prefix := ""
	if r.AtLeast {
		prefix = "at least "
	}
	return fmt.Sprintf("%s%.*f ± %.*f %s", prefix, digits, r.Estimate.Value, digits, r.Estimate.Spread, r.Unit)
}

// Causes lists what in the circuit makes a kind of impairment, the likeliest first (common practice, no source).
func Causes(kind string) []string {
	return map[string][]string{
		"no-signal":     {"no output: rail, clock or video logic", "the cable, the input or its standard"},
		"noise":         {"a weak signal that the device amplifies: no buffer, or a bad connection", "an unfiltered rail at the buffer", "a ground that carries other currents"},
		"low-bandwidth": {"no buffer: the tap before the modulator cannot drive 75 ohm", "two loads on one output", "a capacitor across the output, or a bad cable"},
		"ringing":       {"no 75 ohm resistor in series with the output, or no termination at the display", "a peaking coil or an unstable buffer"},
		"ghost":         {"a reflection: no termination, or no 75 ohm resistor in series with the output", "a long or damaged cable"},
		"fixed-bars":    {"clock crosstalk: the output's wiring lies along clock or bus lines, or shares their ground", "too little decoupling at the encoder's or buffer's supply"},
		"interference":  {"a switching converter on the supply", "the modulator, bypassed but still powered: its oscillator or sound carrier couples in", "an oscillating buffer"},
		"hum":           {"supply ripple: tired smoothing capacitors", "a ground loop through the display's mains earth"},
		"sync-weak":     {"sync that is too small: standing current of the output stage, or no buffer", "no coupling capacitor, so that the device's clamp cannot work", "a supply that sags"},
		"level-high":    {"no 75 ohm resistor in series with the output, or no termination at the display: the level is up to twice as high", "a wrong gain at the buffer"},
		"level-low":     {"two terminations on one output: two thirds are left", "no buffer", "a wrong resistor in series"},
		"clipping":      {"the output stage runs out of supply or of standing current", "no coupling capacitor: a direct voltage pushes white into the rail"},
		"colour-lost":   {"no burst, or a subcarrier off its frequency", "the chroma path into the encoder"},
		"hue-shift":     {"the subcarrier's trimmer, or burst phase at the encoder", "the device's own hue setting"},
	}[kind]
}

// Better tells whether one value of a measure is better than another.
func Better(name string, here, there float64) bool {
	for _, m := range measures {
		switch {
		case m.name != name:
		case m.how == "ratio":
			return math.Abs(here-100) < math.Abs(there-100)
		case m.scale == nil:
			return here > there // bandwidth
		case m.scale.Higher:
			return here > there
		}
	}
	return math.Abs(here) < math.Abs(there)
}
