package soak

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/stimulus"
)

// A Certificate is a summary as JSON, schema 1. What was not measured is null.
type Certificate struct {
	Schema    int               `json:"schema"`
	Tool      string            `json:"tool"`
	Source    string            `json:"source"`
	Display   *string           `json:"display"`
	Verdict   *string           `json:"verdict"` // when it began
	Began     time.Time         `json:"began"`
	Ended     time.Time         `json:"ended"`
	Sessions  int               `json:"sessions"`
	Rate      *float64          `json:"field_rate_hz"` // as measured by the source's stamps
	Bad       int               `json:"bad_fields"`
	Errored   int               `json:"errored_seconds"`
	Repeated  int               `json:"repeated"`
	Kinds     map[string]int    `json:"kinds"`
	Drift     map[string]Span   `json:"drift"`
	Worst     []Moment          `json:"worst"`
	Gaps      []Remark          `json:"gaps"`
	Stimuli   []stimulus.Result `json:"stimuli"`
	Statement string            `json:"statement"`
	Seconds   float64           `json:"seconds"`
	Fields    int               `json:"fields"`
	Lost      int               `json:"lost"`
	Events    int               `json:"events"`
	Upper     *float64          `json:"rate_upper_95_per_hour"`
}

// A Moment is an event with its stills.
type Moment struct {
	Event
	Stills []Still `json:"stills"`
}

// A Span is how far a measure went.
type Span struct {
	First float64 `json:"first"`
	Last  float64 `json:"last"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// shownWorst is how many events a certificate shows.
const shownWorst = 8

// Certificate makes the certificate.
func (s *Summary) Certificate() Certificate {
	c := Certificate{
		Schema: 1, Tool: s.Tool, Source: s.Source, Began: s.Began, Ended: s.Ended, Sessions: s.Sessions,
		Bad: s.Total.Bad, Errored: s.Total.Errored, Repeated: s.Total.Repeated,
		Kinds: s.kinds(), Drift: map[string]Span{}, Worst: []Moment{}, Gaps: s.Gaps, Stimuli: s.Stimuli(), Statement: s.Statement(),
		Seconds: math.Round(s.Total.Seconds*1000) / 1000, Fields: s.Total.Fields, Lost: s.Total.Lost, Events: len(s.Events),
		Upper: s.Upper(), Rate: s.fieldRate(),
	}
	if s.Display != "" {
		c.Display = &s.Display
	}
	if s.Verdict != "" {
		c.Verdict = &s.Verdict
	}
	if c.Gaps == nil {
		c.Gaps = []Remark{}
	}
	for _, e := range s.Worst(shownWorst) {
		m := Moment{Event: e, Stills: s.StillsOf(e.Number)}
		if m.Stills == nil {
			m.Stills = []Still{}
		}
		c.Worst = append(c.Worst, m)
	}
	for _, m := range plotted {
		if span, ok := s.span(m.of); ok {
			c.Drift[m.key] = span
		}
	}
	return c
}

// span is how far a measure went over the beats.
func (s *Summary) span(of func(*Beat) *float64) (Span, bool) {
	var out Span
	seen := false
	for i := range s.Beats {
		v := of(&s.Beats[i].Beat)
		if v == nil {
			continue
		}
		if !seen {
			seen, out = true, Span{*v, *v, *v, *v}
		}
		out.Last, out.Low, out.High = *v, min(out.Low, *v), max(out.High, *v)
	}
	return out, seen
}

// rateSpan is the least time, in seconds, over which a field rate is worth stating: stamps are off by
// some milliseconds.
const rateSpan = 10

// fieldRate is the rate by the source's stamps over the longest session; nil when none was long enough.
func (s *Summary) fieldRate() *float64 {
	best, rate := 0.0, 0.0
	for from := 0; from < len(s.Beats); {
		to := from
		for to+1 < len(s.Beats) && s.Beats[to+1].Session == s.Beats[from].Session {
			to++
		}
		a, b := s.Beats[from], s.Beats[to]
		if d := b.Time - a.Time; d > best && b.Index > a.Index {
			best, rate = d, float64(b.Index-a.Index)/d
		}
		from = to + 1
	}
	if best < rateSpan {
		return nil
	}
	return &rate
}

// JSON writes the certificate as one object.
func (c *Certificate) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(c)
}

// Text writes the certificate for a person, in lines of at most so many columns.
func (c *Certificate) Text(w io.Writer, width int) error {
	out := &sheet{w: w, width: width}
	heading := "NO EVENT"
	if c.Events > 0 {
		heading = strings.ToUpper(count(c.Events, "event"))
	}
	if c.Fields == 0 {
		heading = "NOTHING WATCHED"
	}
	out.line("SOAK: %s in %s.", heading, length(c.Seconds))
	out.line("%s", c.Statement)
	out.line("")
	out.row("source", "%s", c.Source)
	if c.Display != nil {
		out.row("display", "%s", *c.Display)
	}
	if c.Verdict != nil {
		out.row("at first", "%s", *c.Verdict)
	}
	out.row("when", "%s to %s", c.Began.Format("2006-01-02 15:04:05"), c.Ended.Format("2006-01-02 15:04:05 -0700"))
	if c.Sessions > 1 {
		out.row("", "in %d sessions", c.Sessions)
	}
	out.row("fields", "%d checked, %d bad, %d lost", c.Fields, c.Bad, c.Lost)
	if c.Rate != nil {
		out.row("rate", "%.3f fields a second, by the source's stamps", *c.Rate)
	}
	for _, m := range plotted {
		if span, ok := c.Drift[m.key]; ok {
			value := func(v float64) string {
				return fmt.Sprintf(m.format, math.Round(v*m.scale*10)/10+0) // no -0.0
			}
			if value(span.Low) == value(span.High) {
				out.row(m.short, "%s throughout", value(span.First))
			} else {
				out.row(m.short, "%s at first, %s at last, between %s and %s", value(span.First), value(span.Last), value(span.Low), value(span.High))
			}
		}
	}
	for i, m := range c.Worst {
		name := ""
		if i == 0 {
			name = "worst"
		}
		out.row(name, "event %d at %s: %s", m.Number, length(m.Start), m.Text)
		for _, st := range m.Stills {
			if st.Role == "at" {
				out.row("", "  %s", st.File)
			}
		}
	}
	if n := c.Events - len(c.Worst); n > 0 {
		out.row("", "and %s more, all in %s", count(n, "event"), logName)
	}
	for i, g := range c.Gaps {
		name := ""
		if i == 0 {
			name = "gaps"
		}
		out.row(name, "%s: %s (%s)", g.At.Format("15:04:05"), g.Text, length(g.Seconds))
	}
	for _, m := range c.Stimuli {
		out.row("stimulus", "%s: %s", m.At.Format("15:04:05"), m.Text)
	}
	out.line("")
	out.line("It holds for this machine as it ran: warm, on this supply, with this screen.")
	return out.err
}

// A sheet writes lines until one fails.
type sheet struct {
	w     io.Writer
	width int
	err   error
}

func (s *sheet) line(format string, args ...any) {
	for _, l := range report.Wrap(fmt.Sprintf(format, args...), s.width) {
		s.put(l)
	}
}

// row writes text beside its name; what takes more than a line goes on below.
func (s *sheet) row(name, format string, args ...any) {
	const indent = 10
	for _, l := range report.Wrap(fmt.Sprintf(format, args...), max(s.width-indent, 30)) {
		s.put(strings.TrimRight(fmt.Sprintf("%-*s%s", indent, name, l), " "))
		name = ""
	}
}

func (s *sheet) put(line string) {
	if s.err == nil {
		_, s.err = fmt.Fprintln(s.w, line)
	}
}
