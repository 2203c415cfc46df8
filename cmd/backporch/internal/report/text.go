package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"backporch/patterns"
)

// A Style is how the text is laid out. The zero value is plain, 80 columns.
type Style struct {
	Colour bool // escape sequences, for a terminal only
	Width  int  // columns; 0 means 80
}

// Names of the classes as a technician would head a note.
var headings = map[string]string{
	"clean": "CLEAN", "ram-bit": "MEMORY BIT", "video-logic": "VIDEO LOGIC", "signal": "SIGNAL",
	"cpu-side": "PROCESSOR SIDE", "undetermined": "UNDETERMINED",
}

// JSON writes the report as one object.
func (r *Report) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(r)
}

// Text writes the report for a person: the verdict first, then why, what is proved
// good, what to test next, and where the evidence is.
func (r *Report) Text(w io.Writer, style Style) error {
	p := &page{style: style}
	r.headline(p)
	if len(r.Verdict.Why)+len(r.Verdict.Table) > 0 {
		p.gap()
		r.reasons(p, len(r.Verdict.Why), 6)
	}
	if held := r.Verdict.held(); len(held) > 0 {
		p.gap()
		p.list("where", held)
	}
	if good := r.Verdict.Good; len(good) > 0 {
		p.gap()
		p.list("good", []string{strings.Join(good, "; ")})
	}
	if len(r.Verdict.Next) > 0 {
		p.gap()
		p.numbered("next", r.Verdict.Next)
	}
	p.gap()
	p.list("seen", append([]string{r.seen()}, r.Source.Notes...))
	r.kept(p, true)
	_, err := io.WriteString(w, p.b.String())
	return err
}

// held says what can hold the fault, where that is more than one thing.
func (v *Verdict) held() []string {
	if len(v.Rivals) < 2 {
		return nil
	}
	var out []string
	for _, r := range v.Rivals {
		line := fmt.Sprintf("%3.0f %%  %s", 100*r.Share, r.Name)
		if r.Test != "" {
			line += "; told apart by: " + r.Test
		}
		out = append(out, line)
	}
	return out
}

// Block writes the report in a few lines under a title, for a list of captures.
func (r *Report) Block(w io.Writer, style Style, title, note string) error {
	p := &page{style: style}
	p.b.WriteString(p.paint(title, bold))
	p.indent = 3
	if len(title)+2+len(note) <= p.width()+p.indent+labels {
		p.b.WriteString("  " + p.paint(note, dim) + "\n")
	} else {
		p.b.WriteString("\n   " + p.paint(note, dim) + "\n")
	}
	r.headline(p)
	r.reasons(p, 1, 2)
	if next := r.Verdict.Next; len(next) > 0 {
		p.list("next", []string{capital(next[0])})
	}
	r.kept(p, false)
	_, err := io.WriteString(w, p.b.String())
	return err
}

// reasons says why, in so many lines, and shows the table, in so many rows.
func (r *Report) reasons(p *page, lines, rows int) {
	why := r.Verdict.Why[:min(lines, len(r.Verdict.Why))]
	label := "why"
	if len(why) > 0 {
		p.list(label, why)
		label = ""
	}
	p.table(label, r.Verdict.Table, rows)
}

func (r *Report) headline(p *page) {
	p.head(r.Heading(), tone(r.Verdict.Class), r.Sentence())
	further, rivals := r.Also()
	p.list("also", further)
	if r.is(patterns.Undetermined) {
		p.list("maybe", rivals)
	} else {
		p.list("or", rivals)
	}
}

// seen says what was looked at.
func (r *Report) seen() string {
	s := r.Source
	said := []string{s.Spec, count(s.Frames, "frame") + " of " + fmt.Sprintf("%dx%d", s.Width, s.Height)}
	if s.Fields != s.Frames {
		said[1] += ", " + count(s.Fields, "field")
	}
	if s.Seconds != nil {
		said = append(said, fmt.Sprintf("%.3g s", *s.Seconds))
	}
	if s.Bad > 0 {
		said = append(said, count(s.Bad, "frame")+" unreadable")
	}
	if r.Display != nil {
		said = append(said, "display "+*r.Display)
	} else {
		said = append(said, "no display profile fits")
	}
	said = append(said, "sync "+r.Sync.State)
	if r.board != "" {
		said = append(said, "board "+r.board)
	}
	return strings.Join(said, "; ")
}

// kept says where the evidence is, or how to keep it.
func (r *Report) kept(p *page, hint bool) {
	var paths []string
	for _, e := range r.Evidence {
		for _, path := range []*string{e.Annotated, e.Still} {
			if path != nil {
				paths = append(paths, *path)
			}
		}
	}
	switch {
	case len(paths) > 0 && !hint:
		p.list("kept", paths[:1])
	case len(paths) > 0:
		p.list("kept", paths)
	case hint:
		p.list("kept", []string{"nothing; --out DIR keeps the frame and a marked copy"})
	}
}

func tone(class string) string {
	switch class {
	case "clean":
		return green
	case "undetermined":
		return yellow
	}
	return red
}

// capital starts a sentence.
func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Escape sequences (ECMA-48 SGR).
const (
	bold   = "\x1b[1m"
	dim    = "\x1b[2m"
	red    = "\x1b[31m"
	green  = "\x1b[32m"
	yellow = "\x1b[33m"
	plainX = "\x1b[0m"
)

// A page collects lines with a label column at the left.
type page struct {
	b      strings.Builder
	style  Style
	indent int
}

// labels is the width of the label column.
const labels = 6

func (p *page) paint(s string, codes ...string) string {
	if !p.style.Colour {
		return s
	}
	return strings.Join(codes, "") + s + plainX
}

func (p *page) width() int {
	w := p.style.Width
	if w == 0 {
		w = 80
	}
	return max(w-p.indent-labels, 24)
}

func (p *page) margin() { p.b.WriteString(strings.Repeat(" ", p.indent)) }

// head writes the verdict line.
func (p *page) head(heading, tone, text string) {
	for i, line := range Wrap(heading+": "+text, p.width()+labels) {
		p.margin()
		if i == 0 {
			line = p.paint(heading, bold, tone) + strings.TrimPrefix(line, heading)
		}
		p.b.WriteString(line + "\n")
	}
}

// list writes items under one label, each on lines of its own.
func (p *page) list(label string, items []string) {
	for _, item := range items {
		for _, line := range Wrap(item, p.width()) {
			p.margin()
			p.b.WriteString(p.paint(fmt.Sprintf("%-*s", labels, label), dim) + line + "\n")
			label = ""
		}
	}
}

func (p *page) numbered(label string, items []string) {
	for i, item := range items {
		number := fmt.Sprintf("%d. ", i+1)
		for j, line := range Wrap(capital(item), p.width()-len(number)) {
			if j > 0 {
				number = strings.Repeat(" ", len(number))
			}
			p.list(label, []string{number + line})
			label = ""
		}
	}
}

// table writes what should be there against what is, under its label when no reason
// has taken it yet.
func (p *page) table(label string, rows []Difference, most int) {
	if len(rows) == 0 {
		return
	}
	p.row(label, p.paint("expected       seen           exclusive-or  cells", dim))
	for i, d := range rows {
		if i == most {
			p.row("", "and "+count(len(rows)-i, "pair")+" more")
			break
		}
		p.row("", fmt.Sprintf("%-13s  %-13s  %04b %04b     %5d  %s",
			value(d.Expected, d.Where), value(d.Seen, d.Where), d.XOR>>4, d.XOR&15, d.Cells, d.Where))
	}
}

// row writes one line that is not to be wrapped.
func (p *page) row(label, s string) {
	p.margin()
	p.b.WriteString(p.paint(fmt.Sprintf("%-*s", labels, label), dim) + strings.TrimRight(s, " ") + "\n")
}

// value writes a byte in hexadecimal, and what it shows where that can be said: its
// pixels in a bitmap, its character where it is a code in printable ASCII.
func value(b uint8, where string) string {
	s := fmt.Sprintf("0x%02X", b)
	switch {
	case where == "bitmap":
		s += " " + strings.NewReplacer("0", ".", "1", "#").Replace(fmt.Sprintf("%08b", b))
	case where == "code" && b > 0x20 && b < 0x7F:
		s += fmt.Sprintf(" '%c'", b)
	}
	return s
}

func (p *page) gap() { p.b.WriteString("\n") }

// Wrap breaks s at spaces into lines of at most width characters; a longer word
// stands on a line of its own. Runs of spaces inside a line stay, and a number keeps its
// per cent sign.
func Wrap(s string, width int) []string {
	var lines []string
	left := []rune(s)
	for len(left) > width {
		cut := -1
		for i, r := range left {
			if r == ' ' && i > 0 && (i <= width || cut < 0) && (i+1 == len(left) || left[i+1] != '%') {
				cut = i
			}
		}
		if cut < 0 {
			break
		}
		lines = append(lines, strings.TrimRight(string(left[:cut]), " "))
		left = []rune(strings.TrimLeft(string(left[cut:]), " "))
	}
	if len(left) > 0 || len(lines) == 0 {
		lines = append(lines, string(left))
	}
	return lines
}
