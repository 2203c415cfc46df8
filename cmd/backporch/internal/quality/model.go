package quality

import (
	"math"

	"backporch/analyse"
	"backporch/patterns/signalpath"
	"backporch/video"
	"backporch/video/display"
)

// Report is all that signal says. Fields may be added, never renamed.
type Report struct {
	Schema   int       `json:"schema"`
	Tool     string    `json:"tool"`
	Source   Source    `json:"source"`
	Display  string    `json:"display"`
	Sync     string    `json:"sync"`
	Verdict  Verdict   `json:"verdict"`
	Measures []Measure `json:"measures"`
	Tones    []Tone    `json:"tones"`
	Colours  []Colour  `json:"colours"`
	Device   *string   `json:"device"`  // whose calibration was taken into account
	Against  *string   `json:"against"` // the capture compared with
	Plots    []string  `json:"plots"`
	Notes    []string  `json:"notes"`
}

// Source is the capture.
type Source struct {
	Spec   string `json:"spec"`
	Kind   string `json:"kind"`
	Frames int    `json:"frames"`
	Fields int    `json:"fields"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
}

// Verdict is whether the output is clean.
type Verdict struct {
	Word   string   `json:"verdict"` // "clean", "usable", "not clean", "undetermined"
	Reason string   `json:"reason"`
	Causes []string `json:"causes"`
	Next   []string `json:"next"`
}

// Measure is one figure. A value that could not be measured is null.
type Measure struct {
	Name        string   `json:"name"`
	Value       *float64 `json:"value"`
	Uncertainty *float64 `json:"uncertainty"` // standard
	Unit        string   `json:"unit"`
	Limit       *string  `json:"limit"` // what keeps it from being surer
	AtLeast     bool     `json:"at_least"`
	Note        string   `json:"note"`
	Grade       *int     `json:"grade"` // 5 imperceptible to 1 very annoying
	GradeSource *string  `json:"grade_source"`
	Device      *float64 `json:"device"`          // what the device shows by itself
	Own         *float64 `json:"own"`             // what is left to the machine
	OwnSpread   *float64 `json:"own_uncertainty"` // null: that of the value, or the device sets it
	Floor       bool     `json:"device_sets_it"`
	Against     *float64 `json:"against"` // the other capture's
	Change      *string  `json:"change"`  // "better", "worse", "same", against the other

	title   string
	reading signalpath.Reading
}

// Tone is a single frequency.
type Tone struct {
	FrequencyHz float64  `json:"frequency_hz"`
	AliasHz     float64  `json:"alias_hz"`
	Folded      bool     `json:"folded"`
	Percent     float64  `json:"percent"` // of white, peak to peak
	Fixed       bool     `json:"fixed"`
	PeriodPx    *float64 `json:"period_px"`
}

// Colour is one colour of the display. Levels are parts of white.
type Colour struct {
	Index         int      `json:"index"`
	Name          string   `json:"name"`
	Luma          float64  `json:"luma"`
	LumaTarget    float64  `json:"luma_target"`
	HueErrorDeg   *float64 `json:"hue_error_deg"`
	SaturationPct *float64 `json:"saturation_pct"`
}

// A Finding is what a report is made of.
type Finding struct {
	Tool        string
	Info        video.Info
	Frames      int
	Survey      *analyse.Survey
	Profile     *display.Profile
	Device      string             // name of the calibration, "" for none
	Calibration map[string]float64 // nil: none
	AgainstSpec string
	Against     *analyse.Survey // nil: none
}

// New makes the report.
func New(f Finding) *Report {
	s := f.Survey
	readings := signalpath.Readings(s, f.Calibration)
	a := signalpath.Assess(s, readings)
	r := &Report{
		Schema: 1, Tool: f.Tool, Display: s.Display, Sync: string(s.Sync.State),
		Source: Source{
			Spec: f.Info.Spec, Kind: string(f.Info.Kind), Frames: f.Frames, Fields: s.Fields, Width: f.Info.Width, Height: f.Info.Height,
		},
		Verdict: Verdict{Word: a.Word, Reason: a.Reason, Causes: list(a.Causes), Next: list(a.Next)},
		Tones:   []Tone{}, Colours: []Colour{}, Plots: []string{}, Notes: list(f.Info.Notes),
	}
	if f.Device != "" {
		r.Device = &f.Device
	}
	var others []signalpath.Reading
	if f.Against != nil {
		r.Against = &f.AgainstSpec
		others = signalpath.Readings(f.Against, f.Calibration)
	}
	for i, reading := range readings {
		m := measure(reading)
		if others != nil {
			m.compare(&reading, &others[i])
		}
		r.Measures = append(r.Measures, m)
	}
	for _, t := range s.Signal.Tones {
		r.Tones = append(r.Tones, Tone{
			FrequencyHz: math.Round(t.Hz.Value), AliasHz: math.Round(t.AliasHz), Folded: t.Folded, Percent: rounded(t.Pct.Value, 2), Fixed: t.Fixed,
			PeriodPx: ptr(rounded(t.PeriodPx, 3)),
		})
	}
	for _, c := range signalpath.ColourReadings(s, f.Profile) {
		out := Colour{
			Index: c.Index, Name: f.Profile.Colours[c.Index].Name,
			Luma: rounded(c.Seen.Y, 3), LumaTarget: rounded(c.Target.Y, 3),
		}
		if c.HueErrorDeg != nil {
			out.HueErrorDeg = ptr(rounded(*c.HueErrorDeg, 1))
		}
		if c.SaturationPct != nil {
			out.SaturationPct = ptr(rounded(*c.SaturationPct, 0))
		}
		r.Colours = append(r.Colours, out)
	}
	return r
}

func measure(r signalpath.Reading) Measure {
	m := Measure{Name: r.Name, Unit: r.Unit, Note: r.Note, AtLeast: r.AtLeast, Floor: r.Floor, title: r.Title, reading: r}
	if r.Estimate == nil {
		return m
	}
	m.Value, m.Uncertainty = ptr(rounded(r.Estimate.Value, 3)), ptr(rounded(r.Estimate.Spread, 3))
	if r.Estimate.Limit != "" {
		m.Limit = &r.Estimate.Limit
	}
	if r.Grade > 0 {
		m.Grade, m.GradeSource = &r.Grade, &r.Source
	}
	if r.Device != nil {
		m.Device, m.Own = ptr(rounded(*r.Device, 3)), ptr(rounded(*r.Own, 3))
		if r.OwnSpread != nil {
			m.OwnSpread = ptr(rounded(*r.OwnSpread, 3))
		}
	}
	return m
}

// compare sets a measure beside the other capture's: another value is one by more than two standard
// uncertainties of the difference.
func (m *Measure) compare(r, other *signalpath.Reading) {
	if r.Estimate == nil || other.Estimate == nil {
		return
	}
	m.Against = ptr(rounded(other.Estimate.Value, 3))
	here, there := r.Estimate.Value, other.Estimate.Value
	change := "same"
	if math.Abs(here-there) > 2*math.Hypot(r.Estimate.Spread, other.Estimate.Spread) {
		better := signalpath.Better(r.Name, here, there)
		if change = "worse"; better {
			change = "better"
		}
	}
	m.Change = &change
}

func ptr[T any](v T) *T { return &v }

func rounded(v float64, digits int) float64 {
	p := math.Pow(10, float64(digits))
	return math.Round(v*p) / p
}

func list(l []string) []string {
	if l == nil {
		return []string{}
	}
	return l
}

// Title names the measure in words.
func (m *Measure) Title() string { return m.title }
