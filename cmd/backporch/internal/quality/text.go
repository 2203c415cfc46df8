package quality

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"backporch/patterns/signalpath"
)

// Style is how the text is laid out. The zero value is plain, 80 columns.
type Style struct {
	Colour bool // escape sequences, for a terminal only
	Width  int  // columns; 0 means 80
}

// JSON writes the report as one object.
func (r *Report) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(r)
}

const (
	bold   = "1"
	dim    = "2"
	red    = "31"
	green  = "32"
	yellow = "33"
)

func (s Style) paint(text, code string) string {
	if !s.Colour {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func (s Style) width() int {
	if s.Width < 40 {
		return 80
	}
	return s.Width
}

// Text writes the report for a person: the verdict, the measures as a table, what to do.
func (r *Report) Text(w io.Writer, style Style) error {
	var b strings.Builder
	hue := map[string]string{signalpath.CleanOutput: green, signalpath.UsableOutput: yellow, signalpath.PoorOutput: red}[r.Verdict.Word]
	if hue == "" {
		hue = bold
	}
	b.WriteString(style.paint(strings.ToUpper(r.Verdict.Word), hue))
	b.WriteString("  " + r.Verdict.Reason + "\n\n")
	r.table(&b, style)
	if len(r.Colours) > 0 {
		b.WriteString("\n")
		r.colours(&b, style)
	}
	for _, part := range []struct {
		label string
		list  []string
	}{{"cause", r.Verdict.Causes}, {"next", r.Verdict.Next}} {
		if len(part.list) > 0 {
			b.WriteString("\n")
			numbered(&b, style, part.label, part.list)
		}
	}
	b.WriteString("\n")
	seen := []string{fmt.Sprintf("%s: %d fields, display %s, sync %s", r.Source.Spec, r.Source.Fields, r.Display, r.Sync)}
	if r.Device != nil {
		seen = append(seen, "less what the device "+*r.Device+" shows by itself")
	} else {
		seen = append(seen, "the device's own part is in all of this; signal --calibrate on a good machine tells it apart")
	}
	seen = append(seen, r.Notes...)
	for i, line := range seen {
		wrapped(&b, style, map[bool]string{true: "seen"}[i == 0], "", line)
	}
	for i, file := range r.Plots {
		wrapped(&b, style, map[bool]string{true: "plots"}[i == 0], "", file)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// table lists the measures that were made, worst marked; those that were not, in a line below.
func (r *Report) table(b *strings.Builder, style Style) {
	wide := 20
	for i := range r.Measures {
		if m := &r.Measures[i]; m.Value != nil {
			wide = max(wide, utf8.RuneCountInString(m.reading.Value()))
		}
	}
	head := fmt.Sprintf("  %-23s %-*s %-5s", "measure", wide, "value", "grade")
	if r.Device != nil {
		head += fmt.Sprintf(" %9s %9s", "device", "machine's")
	}
	if r.Against != nil {
		head += fmt.Sprintf(" %9s %-6s", "other", "")
	}
	b.WriteString(style.paint(strings.TrimRight(head, " "), dim) + "\n")
	var missing []string
	for i := range r.Measures {
		m := &r.Measures[i]
		if m.Value == nil {
			title := m.title
			if m.Note != "" {
				title += " (" + m.Note + ")"
			}
			missing = append(missing, title)
			continue
		}
		grade, code := "", ""
		if m.Grade != nil {
			grade = fmt.Sprint(*m.Grade)
			code = map[bool]string{true: red}[*m.Grade <= 2]
			if *m.Grade == 3 {
				code = yellow
			}
		}
		if m.Floor {
			grade, code = "dev", dim
		}
		line := fmt.Sprintf("  %-23s %-*s ", m.title, wide, m.reading.Value())
		if code != "" {
			line += style.paint(fmt.Sprintf("%-5s", grade), code)
		} else {
			line += fmt.Sprintf("%-5s", grade)
		}
		number := func(v *float64) string {
			if v == nil {
				return "-"
			}
			return fmt.Sprintf("%.*f", map[bool]int{true: 0, false: 1}[*v >= 100], *v)
		}
		if r.Device != nil {
			own := number(m.Own)
			if m.OwnSpread != nil {
				own += "±" + number(m.OwnSpread)
			}
			line += fmt.Sprintf(" %9s %9s", number(m.Device), own)
		}
		if r.Against != nil {
			change := ""
			if m.Change != nil {
				change = *m.Change
			}
			line += fmt.Sprintf(" %9s %-6s", number(m.Against), change)
		}
		if m.Note != "" {
			if r.Device == nil && r.Against == nil && len(m.Note)+33+wide <= style.width() {
				line += " " + style.paint(m.Note, dim)
			} else {
				line = strings.TrimRight(line, " ") + "\n    " + style.paint(m.Note, dim)
			}
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	b.WriteString(style.paint("  grades of ITU-R BT.500: 5 imperceptible ... 1 very annoying; dev: the device sets it", dim) + "\n")
	if len(missing) > 0 {
		wrapped(b, style, "", "not measured: ", strings.Join(missing, ", "))
	}
}

// colours lists the colours seen.
func (r *Report) colours(b *strings.Builder, style Style) {
	b.WriteString(style.paint(fmt.Sprintf("  %-23s %13s %11s %11s", "colour", "luma (target)", "hue error", "saturation"), dim) + "\n")
	for _, c := range r.Colours {
		hue, saturation := "-", "-"
		if c.HueErrorDeg != nil {
			hue = fmt.Sprintf("%.0f deg", *c.HueErrorDeg)
		}
		if c.SaturationPct != nil {
			saturation = fmt.Sprintf("%.0f %%", *c.SaturationPct)
		}
		fmt.Fprintf(b, "  %-23s %13s %11s %11s\n", c.Name, fmt.Sprintf("%.2f (%.2f)", c.Luma, c.LumaTarget), hue, saturation)
	}
}

func numbered(b *strings.Builder, style Style, label string, list []string) {
	for i, text := range list {
		if i > 0 {
			label = ""
		}
		wrapped(b, style, label, fmt.Sprintf("%d ", i+1), text)
	}
}

// wrapped writes a paragraph beside its label, with a mark before its first line.
func wrapped(b *strings.Builder, style Style, label, mark, text string) {
	const column = 7
	room := style.width() - column - len(mark)
	head := style.paint(fmt.Sprintf("%-*s", column, label), bold) + mark
	var line string
	flush := func() {
		b.WriteString(head + line + "\n")
		head, line = strings.Repeat(" ", column+len(mark)), ""
	}
	for _, word := range strings.Fields(text) {
		if line != "" && len([]rune(line))+1+len([]rune(word)) > room {
			flush()
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	flush()
}
