package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/jobreport"
	"backporch/cmd/backporch/internal/report"
)

func newJobShow(s *invocation) *cobra.Command {
	var o options
	var store string
	c := &cobra.Command{
		Use:   "show N",
		Short: "Show a job with its time line",
		Long: `Show says all of a job: the machine, what its owner said, which parts are not where they
belong, and the time line with every capture, verdict, still, measurement and move.

` + failHelp,
		Example: `  backporch job show 1
  backporch job show 1 --json`,
		Args: exactly("N"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			v := shownJob{Schema: 1, Job: j}
			if v.Entries, err = st.Timeline(c.Context(), j.ID); err != nil {
				return err
			}
			if v.Cautions, err = st.Warnings(c.Context(), j.ID, job.Opening); err != nil {
				return err
			}
			ledger, err := st.Parts(c.Context())
			if err != nil {
				return err
			}
			v.Parts, v.Cautions = []job.Part{}, append([]string{}, v.Cautions...)
			for _, p := range ledger {
				if p.Where != nil && p.Where.Board == j.Board || p.Home != nil && p.Home.Board == j.Board {
					v.Parts = append(v.Parts, p)
				}
			}
			if o.json {
				return writeJSON(s.out, v)
			}
			_, err = io.WriteString(s.out, v.text(s.style(), st))
			return err
		},
	}
	addStore(c, &store)
	o.addJSON(c, "the job with all its entries, as JSON")
	return c
}

// shownJob is what job show --json says.
type shownJob struct {
	Schema   int         `json:"schema"`
	Job      job.Job     `json:"job"`
	Cautions []string    `json:"cautions"`
	Parts    []job.Part  `json:"parts"` // that sit in the machine, or belong to it
	Entries  []job.Entry `json:"entries"`
}

// labelled writes text under a label at the left, wrapped.
func labelled(b *strings.Builder, style report.Style, label, text string) {
	const indent = 9
	width := style.Width
	if width == 0 {
		width = 80
	}
	for _, paragraph := range strings.Split(text, "\n") {
		for _, l := range report.Wrap(paragraph, max(width-indent, 30)) {
			b.WriteString(strings.TrimRight(fmt.Sprintf("%-*s%s", indent, label, l), " ") + "\n")
			label = ""
		}
	}
}

// text is the job for a person. Stills go by their place in the store, without one by their hash.
func (v *shownJob) text(style report.Style, st *job.Store) string {
	var b strings.Builder
	j := v.Job
	state := fmt.Sprintf("%s since %s", j.State, day(j.Opened))
	if j.State != job.StateOpen {
		state = fmt.Sprintf("opened %s, %s", day(j.Opened), j.State)
	}
	if j.Outcome != "" {
		state += ": " + j.Outcome
	}
	labelled(&b, style, fmt.Sprintf("Job %d", j.ID), j.Name())
	labelled(&b, style, "", state)
	if j.Complaint != "" {
		labelled(&b, style, "owner", "“"+j.Complaint+"”")
	}
	if j.Verdict != nil {
		labelled(&b, style, "verdict", strings.ToUpper(jobreport.Class(j.Verdict.Class))+strings.TrimPrefix(jobreport.Heading(j.Verdict), jobreport.Class(j.Verdict.Class))+". "+j.Verdict.Summary)
	}
	for i, w := range v.Cautions {
		label := ""
		if i == 0 {
			label = "caution"
		}
		labelled(&b, style, label, w)
	}
	moved := 0
	for _, p := range v.Parts {
		if untouched(p) {
			continue
		}
		label := ""
		if moved == 0 {
			label = "parts"
		}
		moved++
		labelled(&b, style, label, partLine(p))
	}
	last := ""
	for _, e := range v.Entries {
		if d := day(e.At); d != last {
			last = d
			b.WriteString("\n" + d + "\n")
		}
		labelled(&b, style, "  "+e.At.Local().Format("15:04"), jobreport.Say(e))
		for _, w := range e.Warnings {
			labelled(&b, style, "", "caution: "+w)
		}
		for _, m := range e.Measures {
			if m.Value != nil {
				labelled(&b, style, "", fmt.Sprintf("%s %.4g %s", m.Name, *m.Value, m.Unit))
			}
		}
		for _, k := range e.Stills {
			what := "still"
			switch {
			case k.Marked:
				what = "marked copy"
			case !k.Picture():
				what = "file"
			}
			path := k.SHA256
			if st != nil {
				path = st.Path(k)
			}
			fmt.Fprintf(&b, "%9s%s, %s: %s\n", "", what, k.Role, path) // a path is not to be broken
		}
	}
	return b.String()
}

// partLine says where a part is and what is thought of it.
func partLine(p job.Part) string {
	said := p.Name
	if p.Type != "" {
		said += " (" + p.Type + ")"
	}
	switch {
	case p.Where == nil && p.Home == nil:
		said += ": on the bench"
	case p.Where == nil:
		said += ": out of its machine"
	default:
		said += ": in " + p.Where.Position
		if p.Home == nil || p.Home.Board != p.Where.Board {
			said += " of " + p.Where.Board
		}
	}
	if p.Condition != job.Unknown {
		said += "; " + string(p.Condition)
	}
	if p.Reason != "" {
		said += ", " + p.Reason
	}
	return said
}
