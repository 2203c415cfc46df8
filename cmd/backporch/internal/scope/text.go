package scope

import (
	"fmt"
	"io"
	"math"
	"strings"

	"backporch/analyse/waveform"
	"backporch/cmd/backporch/internal/report"
)

// Escape sequences (ECMA-48 SGR).
const (
	bold  = "\x1b[1m"
	dim   = "\x1b[2m"
	red   = "\x1b[31m"
	green = "\x1b[32m"
	plain = "\x1b[0m"
)

// A Report is a measured file.
type Report struct {
	Result *waveform.Result
	Seen   string // what was read, in words
	Kept   string // the picture's name, "" when none was kept
}

// Faults lists what is wrong, in words; empty when nothing is. Traits of home computers are
// none of it.
func Faults(r *waveform.Result) []string {
	var out []string
	if r.Polarity == "inverted" {
		out = append(out, "inverted")
	}
	levels := []string{}
	for _, l := range r.Limits {
		if l.Pass || l.Trait {
			continue
		}
		side := "high"
		if l.Value < l.Low {
			side = "low"
		}
		if l.Unit == "us" {
			side = map[string]string{"high": "long", "low": "short"}[side]
		}
		levels = append(levels, l.Name+" too "+side)
	}
	if r.Absolute {
		switch {
		case r.Termination == nil:
			out = append(out, "a level that no termination explains")
		case *r.Termination == "none":
			out, levels = append(out, "twice the level, not terminated"), others(levels)
		case *r.Termination == "two loads":
			out, levels = append(out, "two thirds of the level, terminated twice"), others(levels)
		}
	}
	return append(out, levels...)
}

// others leaves out the levels, which the load explains.
func others(faults []string) []string {
	var out []string
	for _, f := range faults {
		if !strings.HasPrefix(f, "sync too") && !strings.HasPrefix(f, "white too") && !strings.HasPrefix(f, "burst too") {
			out = append(out, f)
		}
	}
	return out
}

// Text writes the report for a person: the verdict, the measures, the limits.
func (p *Report) Text(w io.Writer, style report.Style) error {
	t := &page{style: style}
	r := p.Result
	if faults := Faults(r); len(faults) > 0 {
		t.head("OUT OF LIMITS", red, strings.Join(faults, "; "))
	} else {
		t.head("WITHIN LIMITS", green, "levels and sync are as the standard has them")
	}
	t.line("scan", r.Scanning)
	if r.Termination != nil {
		t.line("load", *r.Termination)
	}
	t.line("", "")
	for _, m := range measures(r) {
		t.line(m[0], m[1])
	}
	t.line("", "")
	t.limits(r.Limits)
	if len(r.Missing) > 0 {
		t.line("", "")
		label := "not"
		for _, m := range r.Missing {
			t.line(label, strings.ReplaceAll(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(m.Name, "_us"), "_ns"), "_mv"), "_hz"), "_", " ")+": "+m.Why)
			label = ""
		}
	}
	if len(r.Notes) > 0 {
		t.line("", "")
		label := "note"
		for _, n := range r.Notes {
			t.line(label, n)
			label = ""
		}
	}
	t.line("", "")
	t.line("seen", p.Seen)
	if p.Kept != "" {
		t.line("kept", p.Kept)
	} else {
		t.line("kept", "nothing; --out DIR keeps a picture of the averaged line")
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

// measures are the lines of figures: a label and what follows it.
func measures(r *waveform.Result) [][2]string {
	var rows [][2]string
	row := func(label string, parts ...string) {
		var said []string
		for _, p := range parts {
			if p != "" {
				said = append(said, p)
			}
		}
		if len(said) > 0 {
			rows = append(rows, [2]string{label, strings.Join(said, "; ")})
		}
	}
	v := func(format string, x *float64) string {
		if x == nil {
			return ""
		}
		return fmt.Sprintf(format, *x)
	}
	row("level", v("sync %.1f mV", r.SyncMV), v("brightest %.1f mV", r.WhiteMV), v("peak to peak %.0f mV", r.PeakToPeak), v("blanking at %.0f mV", whole(r.BlankingMV)), v("noise %.1f mV rms", r.NoiseMV))
	row("line", v("%.4f us", r.LineUS), jitter(r), v("field rate %.4f Hz", r.FieldHz))
	if r.HumHz != nil {
		row("hum", fmt.Sprintf("%.1f +-%.1f mV p-p at %.0f Hz", *r.HumMV, 2*r.Spread["hum_mv"], *r.HumHz))
	}
	row("sync", v("%.3f us wide", r.SyncUS), v("edges %.0f", r.SyncRise)+v(" and %.0f ns", r.SyncFall), v("front porch %.2f us", r.FrontPorch), v("back porch %.2f us", r.BackPorch))
	burst := v("%.1f mV p-p", r.BurstMVPP)
	if r.BurstPPM != nil {
		burst += fmt.Sprintf("; %.1f Hz, %+.1f ppm", *r.BurstHz, *r.BurstPPM)
	}
	row("burst", burst, v("%.2f us after 0H", r.BurstAt), v("%.1f cycles", r.BurstCycles))
	c := r.Pulses
	row("pulse", fmt.Sprintf("%d line, %d equalising, %d broad, %d long, %d other", c.Line, c.Equalising, c.Broad, c.Long, c.Other))
	if t := r.TestLine; t != nil {
		row("2T", fmt.Sprintf("line %d: K %.1f %% (pulse to bar %.1f, pulse %.1f, bar %.1f); pulse %.0f ns, %.0f %% of the bar", t.Line, t.K, t.KPulseBar, t.KPulse, t.KBar, t.HalfNS, 100*t.PulseBar))
	}
	return rows
}

// jitter says how far it may be off where that is more than a tenth.
func jitter(r *waveform.Result) string {
	if r.JitterNS == nil {
		return ""
	}
	if open := 2 * r.Spread["jitter_ns"]; open > 0.1**r.JitterNS && open >= 0.05 {
		return fmt.Sprintf("jitter %.1f +-%.1f ns rms", *r.JitterNS, open)
	}
	return fmt.Sprintf("jitter %.1f ns rms", *r.JitterNS)
}

// whole rounds, so that nothing is never minus nothing.
func whole(v *float64) *float64 {
	if v == nil {
		return nil
	}
	x := math.Round(*v) + 0
	return &x
}

// A page collects lines with a label column at the left.
type page struct {
	b     strings.Builder
	style report.Style
}

func (t *page) paint(s string, codes ...string) string {
	if !t.style.Colour || s == "" {
		return s
	}
	return strings.Join(codes, "") + s + plain
}

func (t *page) width() int {
	if t.style.Width == 0 {
		return 80
	}
	return t.style.Width
}

func (t *page) head(heading, tone, words string) {
	for i, line := range report.Wrap(heading+": "+words, t.width()) {
		if i == 0 {
			line = t.paint(heading, bold, tone) + strings.TrimPrefix(line, heading)
		}
		t.b.WriteString(line + "\n")
	}
}

func (t *page) line(label, words string) {
	if words == "" {
		t.b.WriteString("\n")
		return
	}
	for _, line := range report.Wrap(words, max(t.width()-6, 24)) {
		t.b.WriteString(t.paint(fmt.Sprintf("%-6s", label), dim) + line + "\n")
		label = ""
	}
}

// limits writes the table.
func (t *page) limits(rows []waveform.Limit) {
	if len(rows) == 0 {
		return
	}
	t.b.WriteString(t.paint(fmt.Sprintf("%-23s %14s   %-26s %-6s %s", "check", "value", "limits", "", "clause"), dim) + "\n")
	for _, l := range rows {
		places := 3
		if l.Unit == "Hz" && l.High > 1e5 || l.Unit == "mV" || l.Unit == "cycles" || l.Unit == "lines" {
			places = 1
		} else if l.Unit == "ns" {
			places = 0
		}
		number := func(v float64) string { return fmt.Sprintf("%.*f", places, v) }
		verdict, tone := "pass", green
		switch {
		case !l.Pass && l.Trait:
			verdict, tone = "trait", dim
		case !l.Pass:
			verdict, tone = "FAIL", red
		}
		limits := number(l.Low) + " to " + number(l.High)
		if l.Low == l.High {
			limits = number(l.Low)
		}
		clause, _, _ := strings.Cut(l.Clause, ", nominal")
		t.b.WriteString(fmt.Sprintf("%-23s %14s   %-26s %s %s\n", l.Name, number(l.Value)+" "+l.Unit, limits, t.paint(fmt.Sprintf("%-6s", verdict), tone), t.paint(clause, dim)))
	}
	for _, l := range rows {
		if l.Trait && !l.Pass {
			t.line("", "trait: off the standard as home computers are by design; compare with a good one of its type")
			break
		}
	}
}
