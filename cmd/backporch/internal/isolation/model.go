package isolation

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"backporch/cmd/backporch/internal/report"
	"backporch/patterns/swap"
)

// Schema is the version of the JSON. Keys may be added, never renamed.
const Schema = 1

// An Isolation is what swap tests come to.
type Isolation struct {
	Schema         int      `json:"schema"`
	Source         string   `json:"source"`
	Tests          int      `json:"tests"` // that say good or bad
	Bad            int      `json:"bad"`
	Verdict        string   `json:"verdict"` // cause, open, contact-or-intermittent, clean
	Summary        string   `json:"summary"`
	Sets           []Set    `json:"sets"` // smallest sets of causes that explain all, likeliest first
	Contradictions []string `json:"contradictions"`
	Cleared        []Cause  `json:"cleared"`
	Next           []Step   `json:"next"`
	Notes          []string `json:"notes"`
}

// A Set is causes that together explain every test.
type Set struct {
	Probability float64 `json:"probability"`
	Causes      []Cause `json:"causes"`
	Text        string  `json:"text"`
}

// A Cause is a thing that may be at fault.
type Cause struct {
	Kind         string `json:"kind"` // part, position, board, path, contact
	Part         string `json:"part,omitempty"`
	Board        string `json:"board,omitempty"`
	Position     string `json:"position,omitempty"`
	Path         string `json:"path,omitempty"`
	Intermittent bool   `json:"intermittent"`
	Text         string `json:"text"`
}

// A Step is what to do next, and what it would tell.
type Step struct {
	Do       string   `json:"do"` // reseat, soak, rewire, fit, move, exchange, move-half
	Text     string   `json:"text"`
	GainBits float64  `json:"gain_bits"`
	Expect   []Expect `json:"expect"`
}

// Expect is one thing that a step may show.
type Expect struct {
	Seen        string  `json:"seen"`
	Probability float64 `json:"probability"`
	Leaves      []int   `json:"leaves"` // indices of sets that stay likely
}

var kinds = map[swap.Kind]string{swap.Part: "part", swap.Position: "position", swap.Board: "board", swap.Path: "path", swap.Contact: "contact"}

var deeds = map[swap.Do]string{
	swap.Reseat: "reseat", swap.Soak: "soak", swap.Rewire: "rewire", swap.Fit: "fit", swap.Move: "move", swap.Exchange: "exchange", swap.MoveHalf: "move-half",
}

// Verdicts.
const (
	VerdictCause    = "cause"
	VerdictOpen     = "open"
	VerdictContact  = "contact-or-intermittent"
	VerdictNotShown = "clean"
)

// named is the probability from which a set is given as the cause.
const named = 0.7

// New renders a diagnosis. notes are what the reader should know of the tests.
func New(source string, d *swap.Diagnosis, notes []string) *Isolation {
	i := &Isolation{
		Schema: Schema, Source: source, Tests: d.Tests, Bad: d.Bad, Sets: []Set{}, Contradictions: []string{}, Cleared: causes(d.Cleared), Next: []Step{}, Notes: append([]string{}, notes...),
	}
	for _, s := range d.Sets {
		i.Sets = append(i.Sets, Set{Probability: digits(s.Probability), Causes: causes(s.Causes), Text: s.String()})
	}
	for _, c := range d.Contradictions {
		i.Contradictions = append(i.Contradictions, c.String())
	}
	for _, n := range d.Next {
		step := Step{Do: deeds[n.Do], Text: n.String(), GainBits: digits(n.Gain), Expect: []Expect{}}
		for _, e := range n.Expect {
			step.Expect = append(step.Expect, Expect{Seen: e.Seen, Probability: digits(e.Probability), Leaves: append([]int{}, e.Leaves...)})
		}
		i.Next = append(i.Next, step)
	}
	switch {
	case d.Bad == 0:
		i.Verdict, i.Summary = VerdictNotShown, "No test showed the fault: there is nothing to explain yet."
	case d.Contradictory():
		i.Verdict, i.Summary = VerdictContact, capital(swap.Advice)+"."
	case d.Sets[0].Probability >= named:
		i.Verdict = VerdictCause
		i.Summary = fmt.Sprintf("%s, %s.", capital(d.Sets[0].String()), percent(d.Sets[0].Probability))
	default:
		i.Verdict = VerdictOpen
		i.Summary = fmt.Sprintf("%s could each explain it: the next test splits them.", counted(len(d.Sets), "set of causes", "sets of causes"))
		if len(d.Sets) == 1 {
			i.Summary = capital(d.Sets[0].String()) + " explains it."
		}
	}
	return i
}

// None is what there is to say while no test says good or bad.
func None(source string, notes []string) *Isolation {
	i := New(source, &swap.Diagnosis{}, notes)
	i.Verdict, i.Summary = VerdictOpen, "No test says good or bad yet."
	return i
}

func digits(p float64) float64 { return math.Round(p*1e4) / 1e4 }

func percent(p float64) string {
	return fmt.Sprintf("%.0f %%", min(max(100*p, 1), 99))
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func causes(all []swap.Cause) []Cause {
	out := []Cause{}
	for _, c := range all {
		out = append(out, Cause{kinds[c.Kind], c.Part, c.Board, c.Position, c.Path, c.Intermittent, c.String()})
	}
	return out
}

// JSON writes it as one object.
func (i *Isolation) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(i)
}

var headings = map[string]string{
	VerdictCause: "ISOLATED", VerdictOpen: "OPEN", VerdictContact: "CONTACT OR INTERMITTENT", VerdictNotShown: "NOTHING TO EXPLAIN",
}

// swapCaution stands under every list of steps.
const swapCaution = "measure the supply rails before a part goes into another board; power off and discharge before each swap; chips are static-sensitive; mark each part, and write down where it came from before it comes out"

// mostSets and mostSteps are how many the text shows.
const (
	mostSets  = 6
	mostSteps = 3
)

// Text writes it for a person.
func (i *Isolation) Text(w io.Writer, style report.Style) error {
	width := style.Width
	if width <= 0 {
		width = 80
	}
	const indent = 10
	var b strings.Builder
	list := func(label string, items ...string) {
		for _, item := range items {
			for k, line := range report.Wrap(item, width-indent-4) {
				if k > 0 {
					line = "   " + line
				}
				fmt.Fprintf(&b, "%-*s%s\n", indent, label, line)
				label = ""
			}
		}
	}
	head := headings[i.Verdict]
	if style.Colour {
		colour := map[string]string{VerdictCause: "\x1b[1;31m", VerdictNotShown: "\x1b[1;32m"}[i.Verdict]
		if colour == "" {
			colour = "\x1b[1;33m"
		}
		head = colour + head + "\x1b[0m"
	}
	b.WriteString(head + "\n")
	for _, line := range report.Wrap(i.Summary, width) {
		b.WriteString(line + "\n")
	}
	if len(i.Contradictions) > 0 {
		b.WriteString("\n")
		list("since", i.Contradictions...)
	}
	if len(i.Sets) > 0 {
		b.WriteString("\n")
		var lines []string
		for k, s := range i.Sets {
			if k == mostSets {
				lines = append(lines, fmt.Sprintf("and %d less likely", len(i.Sets)-k))
				break
			}
			lines = append(lines, fmt.Sprintf("%4s  %s", percent(s.Probability), s.Text))
		}
		list("causes", lines...)
	}
	if len(i.Cleared) > 0 {
		b.WriteString("\n")
		names := make([]string, len(i.Cleared))
		for k, c := range i.Cleared {
			names[k] = c.Text
		}
		said := strings.Join(names, "; ")
		if i.Verdict == VerdictContact {
			said = "of a hard fault only: " + said
		}
		list("cleared", said)
	}
	if len(i.Next) > 0 {
		b.WriteString("\n")
		var lines []string
		for k, s := range i.Next {
			if k == mostSteps {
				break
			}
			lines = append(lines, fmt.Sprintf("%d. %s: %s", k+1, s.Text, i.outlook(&s)))
		}
		list("next", append(lines, "caution: "+swapCaution)...)
	}
	b.WriteString("\n")
	list("from", append([]string{fmt.Sprintf("%s: %s, %d bad", i.Source, counted(i.Tests, "test that says something", "tests that say something"), i.Bad)}, i.Notes...)...)
	_, err := io.WriteString(w, b.String())
	return err
}

// outlook says what a step may show and what would then be left.
func (i *Isolation) outlook(s *Step) string {
	var said []string
	for _, e := range s.Expect {
		text := fmt.Sprintf("%s (%s)", e.Seen, percent(e.Probability))
		switch {
		case len(e.Leaves) == 1:
			text += " leaves " + i.Sets[e.Leaves[0]].Text
		case len(e.Leaves) > 1:
			text += fmt.Sprintf(" leaves %s first of %d", i.Sets[e.Leaves[0]].Text, len(e.Leaves))
		}
		said = append(said, text)
	}
	return strings.Join(said, "; ")
}
