package report

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/workbench"
	"backporch/video"
	"backporch/video/display"
)

// A Finding is all that a report is built from.
type Finding struct {
	Tool    string // name and version
	Info    video.Info
	Frames  int
	Bad     int // frames that could not be read
	Survey  *analyse.Survey
	Profile *display.Profile // nil when no display fits
	Board   *workbench.Board // nil when none was given
	Verdict *patterns.Verdict
}

// New builds the report; the evidence is added by the caller.
func New(f Finding) *Report {
	s := f.Survey
	r := &Report{
		Schema: Schema,
		Tool:   f.Tool,
		Source: Source{
			Spec: f.Info.Spec, Kind: string(f.Info.Kind), Device: word(f.Info.Device), Frames: f.Frames, Fields: s.Fields,
			Seconds: positive(s.Seconds, 3), Width: f.Info.Width, Height: f.Info.Height,
			Bad: f.Bad, Notes: list(f.Info.Notes),
		},
		Sync: Sync{
			State: string(s.Sync.State), Picture: word(s.Sync.Picture),
			JitterNs: round(s.Sync.JitterNs, 1), RollLinesPerS: round(s.Sync.RollLinesPerS, 1),
			Repeated: s.Sync.Repeated, Dropped: s.Sync.Dropped, FieldStep: s.Sync.Step, Straightened: s.Straightened, DeviceStatus: list(f.Info.DeviceStatus),
		},
		Registration: registration(s.Registration),
		Border:       border(s.Border, f.Profile),
		Cells:        cells(s.Cells),
		Grid:         grid(s.Text),
		Memory:       memory(s.Memory, f.Verdict),
		Signal:       quality(&s.Signal),
		Verdict:      verdict(f.Verdict, f.Profile),
		Evidence:     []Evidence{},
	}
	if f.Profile != nil {
		r.Display = word(f.Profile.Name)
	}
	if f.Board != nil {
		r.board = f.Board.Name
	}
	return r
}

// quality is the signal's measures as the JSON has them.
func quality(g *analyse.Signal) Signal {
	of := func(e *analyse.Estimate, digits int) *float64 {
		if e == nil || math.IsNaN(e.Value) {
			return nil
		}
		return round(&e.Value, digits)
	}
	out := Signal{
		SNRdB: round(g.SNRdB, 1), OvershootPct: round(g.OvershootPct, 1),
		RiseNs: round(g.RiseNs, 0), HumPct: round(g.HumPct, 2),
		FixedBarsPct: round(g.FixedBarsPct, 2), HueErrorDeg: round(g.Hue(), 1),
		SaturationPct: round(g.SaturationPct, 1),
		WeightedDB:    of(g.WeightedDB, 1), BandwidthHz: of(g.Bandwidth, 0),
	}
	if h := g.Hum; h != nil {
		out.HumHz = of(&h.Hz, 1)
	}
	if r := g.Ringing; r != nil {
		out.RingingPct, out.RingingHz = round(&r.Late, 1), of(&r.Hz, 0)
	}
	if h := g.Ghost; h != nil {
		out.GhostPct, out.GhostNs = of(&h.Pct, 1), of(&h.Ns, 0)
	}
	if len(g.Tones) > 0 {
		t := &g.Tones[0]
		out.TonePct, out.ToneHz, out.TonePeriodPx, out.ToneFixed = of(&t.Pct, 2), of(&t.Hz, 0), round(&t.PeriodPx, 3), &t.Fixed
	}
	return out
}

// NewEvidence is the evidence of one field, with nothing kept yet.
func NewEvidence(f *video.Field, regions []patterns.Region) Evidence {
	e := Evidence{Frame: f.Frame, Field: f.Parity, Regions: make([]Region, len(regions))}
	if f.Time > 0 || f.Frame == 0 {
		seconds := f.Time.Seconds()
		e.TimeS = round(&seconds, 3)
	}
	for i, region := range regions {
		e.Regions[i] = Region(region)
	}
	return e
}

func registration(g analyse.Registration) Registration {
	r := Registration{OK: g.OK, Reason: word(g.Reason)}
	if g.OK {
		r.PitchX, r.PitchY = round(&g.PitchX, 4), round(&g.PitchY, 4)
		r.OriginX, r.OriginY = round(&g.OriginX, 2), round(&g.OriginY, 2)
		r.ResidualPx = round(&g.ResidualPx, 3)
	}
	return r
}

func border(b analyse.Border, p *display.Profile) Border {
	if !b.Seen {
		return Border{}
	}
	out := Border{Uniform: &b.Uniform}
	if b.Colour >= 0 {
		out.Colour = &b.Colour
		if p != nil && b.Colour < len(p.Colours) {
			out.Name = word(p.Colours[b.Colour].Name)
		}
	}
	return out
}

func cells(all []analyse.Cell) Cells {
	out := Cells{Checked: len(all), List: []Cell{}}
	for _, c := range all {
		if c.Third {
			out.List = append(out.List, Cell{c.Column, c.Row, "third-colour"})
		}
	}
	if len(all) > 0 {
		n := len(out.List)
		out.Corrupt = &n
	}
	return out
}

func grid(t *analyse.Text) Grid {
	if t == nil {
		return Grid{}
	}
	return Grid{Checked: &t.Checked, Unknown: &t.Unknown, Text: list(t.Lines)}
}

func verdict(v *patterns.Verdict, p *display.Profile) Verdict {
	out := Verdict{
		Class: string(v.Class), Confidence: round(v.Confidence, 4),
		Faults: make([]Fault, len(v.Faults)), Table: make([]Difference, len(v.Table)),
		Good: list(v.Good), Why: list(v.Why), Next: list(v.Next),
	}
	for i, f := range v.Faults {
		out.Faults[i] = Fault{
			Class: string(f.Class), Kind: f.Kind, Probability: *round(&f.Probability, 4),
			Bit: f.Bit, Level: f.Level, Part: f.Part, Lines: f.Lines, Lanes: f.Lanes, Memory: f.Memory,
			Row: f.Row, Column: f.Column, Component: f.Component, Expected: f.Expected, Seen: f.Seen,
			Columns: f.Columns, CounterBit: f.CounterBit, Codes: f.Codes,
			PeriodPx: round(f.PeriodPx, 2), Degrees: round(f.Degrees, 1), FrequencyHz: round(f.FrequencyHz, 0),
			say: f.Describe(p),
		}
		if len(f.Lines) > 0 {
			out.Faults[i].Line = &out.Faults[i].Lines[0]
		}
	}
	out.Summary = summary(v, p, out.Faults)
	if len(out.Why) == 0 {
		out.Why = counted(v)
	}
	if first := out.first(); len(out.Why)+len(out.Table) == 0 && first != nil {
		for _, k := range patterns.Catalogue() {
			if k.Name == first.Kind {
				out.Why = []string{"it fits best of the faults known; its signs: " + k.Signs}
			}
		}
	}
	for _, r := range v.Rivals {
		out.Rivals = append(out.Rivals, Rival{string(r.Cause), r.Name, *round(&r.Share, 4), r.Test})
	}
	for i, d := range v.Table {
		out.Table[i] = Difference{d.Expected, d.Seen, d.Expected ^ d.Seen, d.Cells, d.Where}
	}
	return out
}

// counted is the reason that the lanes' counts give, for a verdict on a lane without any other.
func counted(v *patterns.Verdict) []string {
	if v.Class != patterns.RAMBit || len(v.Faults) == 0 || v.Faults[0].Bit == nil {
		return []string{}
	}
	others, said := 0, ""
	for _, lane := range v.Lanes {
		switch {
		case lane.Wrong == nil:
			return []string{}
		case lane.Bit == *v.Faults[0].Bit:
			said = fmt.Sprintf("bit %d differs from what should be there in %d of %d places", lane.Bit, *lane.Wrong, lane.Of)
		default:
			others = max(others, *lane.Wrong)
		}
	}
	if said == "" {
		return []string{}
	}
	if others == 0 {
		return []string{said + ", and no other bit does"}
	}
	return []string{fmt.Sprintf("%s, no other bit in more than %d", said, others)}
}

// round keeps places decimals; what is not a number was not measured.
func round(v *float64, places int) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	scale := math.Pow(10, float64(places))
	r := math.Round(*v*scale) / scale
	return &r
}

// positive is round for a quantity that is 0 when unknown.
func positive(v float64, places int) *float64 {
	if v <= 0 {
		return nil
	}
	return round(&v, places)
}

// word is nil for an empty one.
func word(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// list is never nil, so that it stands as [] in JSON.
func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}
