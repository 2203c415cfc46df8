package comparison

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"backporch/cmd/backporch/internal/report"
	"backporch/patterns/change"
	"backporch/video/still"
)

// Escape sequences, for a terminal only.
const (
	bold   = "\x1b[1m"
	red    = "\x1b[1;31m"
	green  = "\x1b[1;32m"
	yellow = "\x1b[1;33m"
	plain  = "\x1b[0m"
)

// Text writes the comparison for a person: the word, why, the table, the cautions.
func (c *Comparison) Text(w io.Writer, style report.Style) error {
	width := style.Width
	if width <= 0 {
		width = 80
	}
	var b strings.Builder
	paint := func(s, with string) string {
		if !style.Colour {
			return s
		}
		return with + s + plain
	}
	list := func(label string, items []string) {
		for _, item := range items {
			for i, line := range report.Wrap(item, width-12) {
				head := ""
				if i == 0 {
					head = label
				}
				fmt.Fprintf(&b, "%-10s%s\n", head, line)
			}
			label = ""
		}
	}
	shade := map[still.Tone]string{still.ToneClean: green, still.ToneFault: red}[c.Tone()]
	if shade == "" {
		shade = yellow
	}
	b.WriteString(paint(strings.ToUpper(c.Word), shade))
	if sure := c.Sure(); sure != "" {
		b.WriteString("  " + sure)
	}
	b.WriteString("\n")
	for _, line := range report.Wrap(c.Summary, width) {
		b.WriteString(line + "\n")
	}
	b.WriteString("\n")
	if len(c.Warnings) > 0 {
		list(paint("caution", bold)+strings.Repeat(" ", 3), c.Warnings)
		b.WriteString("\n")
	}
	list("why", c.Why)
	if rows := c.rows(); len(rows) > 0 {
		b.WriteString("\n")
		table := append([]still.PairRow{{Cells: columns}}, rows...)
		for _, r := range table {
			line := fmt.Sprintf("%-10s%-24s%16s%16s  %s", "", r.Cells[0], r.Cells[1], r.Cells[2], r.Cells[3])
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	b.WriteString("\n")
	list("machine", []string{c.machine()})
	if n := c.next; len(n) > 0 && c.Word != string(change.Fixed) {
		list("next", n[:1])
	}
	list("seen", []string{c.seen()})
	if c.Still != nil {
		list("kept", []string{*c.Still})
	} else {
		list("kept", []string{"nothing; --out DIR keeps both pictures side by side"})
	}
	_, err := io.WriteString(w, b.String())
	return err
}

var columns = []string{"", "before", "after", ""}

// rows are the measures as cells of a table.
func (c *Comparison) rows() []still.PairRow {
	var out []still.PairRow
	for _, m := range c.Measures {
		r := still.PairRow{Cells: []string{m.Name, change.Figure(m.Before, m.Unit), change.Figure(m.After, m.Unit), ""}}
		if m.Word != nil && *m.Word != "same" {
			r.Cells[3], r.Marked, r.Tone = *m.Word, true, still.ToneClean
			if *m.Word == "worse" {
				r.Tone = still.ToneFault
			}
		}
		out = append(out, r)
	}
	return out
}

// machine says whether it is one machine.
func (c *Comparison) machine() string {
	m := c.Machine
	switch {
	case m == nil:
		return "not compared: there is no signal in one of the captures"
	case m.Same != nil && *m.Same:
		return fmt.Sprintf("the same one in both, as far as can be told (odds of %s)", change.Odds(m.Log10))
	case m.Same != nil:
		return fmt.Sprintf("not the same one in both (odds of %s)", change.Odds(-m.Log10))
	case m.Log10 >= 0.5:
		return fmt.Sprintf("probably the same one in both (odds of %s)", change.Odds(m.Log10))
	case m.Log10 <= -0.5:
		return fmt.Sprintf("perhaps not the same one in both (odds of %s)", change.Odds(-m.Log10))
	case len(m.Limits) > 0:
		return "not told apart from another: " + m.Limits[0]
	}
	return "not told apart from another"
}

func (c *Comparison) seen() string {
	s := fmt.Sprintf("%s, %d frames; %s, %d frames", c.Before.Source.Spec, c.Before.Source.Frames, c.After.Source.Spec, c.After.Source.Frames)
	if c.Display != nil {
		s += "; display " + *c.Display
	}
	return s
}

// Pair is the side-by-side still; the views come with their fields and regions.
func (c *Comparison) Pair(before, after still.View) still.Pair {
	before.Heading, before.Note = "Before", c.Before.Source.Spec
	after.Heading, after.Note = "After", c.After.Source.Spec
	p := still.Pair{Before: before, After: after, Tone: c.Tone(), Title: capital(c.Word), Columns: columns, Rows: c.rows()}
	if sure := c.Sure(); sure != "" {
		p.Title += ", " + sure
	}
	p.Details = append(p.Details, c.Summary)
	for _, w := range c.Warnings {
		p.Details = append(p.Details, "Caution: "+w)
	}
	for i, why := range c.Why {
		if i < 4 || strings.Contains(why, "cells") {
			p.Details = append(p.Details, capital(why)+".")
		}
	}
	machine, _, _ := strings.Cut(c.machine(), ":")
	p.Details = append(p.Details, "The machine: "+machine+".")
	p.Print = []still.Entry{{Name: "tool", Value: c.Tool}}
	if c.Display != nil {
		p.Print = append(p.Print, still.Entry{Name: "display", Value: *c.Display})
	}
	return p
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(string(r)) + s[n:]
}
