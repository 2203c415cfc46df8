package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/jobreport"
	"backporch/cmd/backporch/internal/report"
)

func newJobList(s *invocation) *cobra.Command {
	var o options
	var store string
	var all bool
	c := &cobra.Command{
		Use:   "list",
		Short: "The pile at a glance: state, last picture, verdict",
		Long: `List shows the jobs that are open or wait, the one touched last first: how far each is,
how old its last picture is, and what the last verdict said.

` + failHelp,
		Example: `  backporch job list
  backporch job list --all --json`,
		Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			st, err := job.Open(storeFolder(store))
			if errors.Is(err, job.ErrNoStore) && store == "" {
				if o.json {
					return writeJSON(s.out, jobsJSON{Schema: 1, Jobs: []job.Job{}})
				}
				_, err = fmt.Fprintln(s.out, "no jobs yet; backporch job new opens one")
				return err
			}
			if err != nil {
				return withHint(err, "backporch job new --store %s begins one there", store)
			}
			defer st.Close()
			list, err := st.List(c.Context(), all)
			if err != nil {
				return err
			}
			count, err := st.Count(c.Context())
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, jobsJSON{Schema: 1, Jobs: append([]job.Job{}, list...)})
			}
			return listJobs(s.out, s.style(), list, count, all, time.Now())
		},
	}
	c.Flags().BoolVar(&all, "all", false, "closed jobs too")
	addStore(c, &store)
	o.addJSON(c, "the jobs, as JSON")
	return c
}

// jobsJSON is what job list --json says.
type jobsJSON struct {
	Schema int       `json:"schema"`
	Jobs   []job.Job `json:"jobs"`
}

func listJobs(w io.Writer, style report.Style, shown []job.Job, count map[job.State]int, all bool, now time.Time) error {
	t := table{style: style, head: []string{"job", "state", "picture", "machine", "verdict"}, right: 0, last: 16}
	for _, j := range shown {
		tag := j.Machine
		if j.Tag != "" {
			tag += ", " + j.Tag
		}
		said, tone := "none yet", ""
		if v := j.Verdict; v != nil {
			said, tone = verdictLine(v), v.Class
		}
		if j.State == job.StateClosed && j.Outcome != "" {
			said, tone = firstLine(j.Outcome), ""
		}
		picture := "none"
		if j.Pictured != nil {
			picture = age(now.Sub(*j.Pictured))
		}
		t.row(tone, fmt.Sprint(j.ID), string(j.State), picture, tag, said)
	}
	foot := fmt.Sprintf("%d open, %d waiting, %d closed", count[job.StateOpen], count[job.StateWaiting], count[job.StateClosed])
	if !all && count[job.StateClosed] > 0 {
		foot += " (--all shows those too)"
	}
	var b strings.Builder
	if len(shown) > 0 {
		t.write(&b)
	}
	b.WriteString(foot + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// verdictLine is a verdict for a list.
func verdictLine(v *job.Verdict) string {
	said := strings.ToUpper(jobreport.Class(v.Class))
	if v.Confidence != nil {
		said += ", " + jobreport.Sure(*v.Confidence)
	}
	if v.Summary != "" && v.Class != "clean" {
		said += ": " + firstLine(v.Summary)
	}
	return said
}

func firstLine(s string) string {
	first, _, _ := strings.Cut(s, "\n")
	return first
}

// age says how long ago something was, for a column.
func age(d time.Duration) string {
	if d < time.Minute {
		return "now"
	}
	if d < 10*time.Hour {
		d = d.Truncate(time.Minute)
		if d > time.Hour {
			d = d.Truncate(time.Hour)
		}
	}
	return jobreport.Span(d) + " ago"
}

// day and moment are a time as a bench's clock shows it.
func day(t time.Time) string    { return t.Local().Format("2006-01-02") }
func moment(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// A table is columns of text; the last one is cut where the line ends.
type table struct {
	style report.Style
	head  []string
	right int // this column is set to the right
	last  int // the least width of the last column
	rows  [][]string
	tones []string
}

func (t *table) row(tone string, cells ...string) {
	t.rows, t.tones = append(t.rows, cells), append(t.tones, tone)
}

func (t *table) write(b *strings.Builder) {
	width := make([]int, len(t.head))
	for _, r := range append([][]string{t.head}, t.rows...) {
		for i, cell := range r {
			width[i] = max(width[i], utf8.RuneCountInString(cell))
		}
	}
	total := t.style.Width
	if total == 0 {
		total = 80
	}
	n := len(width) - 1
	left := total
	for _, w := range width[:n] {
		left -= w + 2
	}
	if left < t.last && n > 0 { // the column before gives way
		width[n-1] = max(width[n-1]-(t.last-left), 8)
		left = t.last
	}
	width[n] = min(width[n], left)
	line := func(r []string, paint func(int, string) string) {
		var out strings.Builder
		for i, cell := range r {
			cell = shortened(cell, width[i])
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell))
			if i > 0 {
				out.WriteString("  ")
			}
			if i == t.right {
				out.WriteString(pad + paint(i, cell))
			} else if i < n {
				out.WriteString(paint(i, cell) + pad)
			} else {
				out.WriteString(paint(i, cell))
			}
		}
		b.WriteString(strings.TrimRight(out.String(), " ") + "\n")
	}
	line(t.head, func(_ int, s string) string { return t.paint("\x1b[2m", s) })
	for k, r := range t.rows {
		line(r, func(i int, s string) string {
			if i < n || t.tones[k] == "" {
				return s
			}
			return t.paint(toneColour(t.tones[k]), s)
		})
	}
}

func (t *table) paint(code, s string) string {
	if !t.style.Colour || s == "" {
		return s
	}
	return code + s + "\x1b[0m"
}

// toneColour is the colour of a class of verdict on a terminal (ECMA-48 SGR).
func toneColour(class string) string {
	switch class {
	case "clean", "good":
		return "\x1b[32m"
	case "undetermined", "suspect":
		return "\x1b[33m"
	case "unknown":
		return ""
	}
	return "\x1b[31m"
}

// shortened cuts s to n characters, with an ellipsis.
func shortened(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	runes := []rune(s)
	return strings.TrimRight(string(runes[:max(n-1, 0)]), " ,.;:") + "…"
}

func newJobSearch(s *invocation) *cobra.Command {
	var o options
	var store string
	var most int
	c := &cobra.Command{
		Use:   "search WORDS...",
		Short: "Find jobs by words of their machine, notes, verdicts, parts, files",
		Long: `Search finds the jobs of which an entry has all the words: of the machine and its tag,
the owner's complaint, notes, verdicts, parts, names of files, the text of a screen. The
beginning of a word will do. The jobs found last come first.

` + failHelp,
		Example: `  backporch job search stripes
  backporch job search PB-7 bit`,
		Args: withRest("WORDS"),
		RunE: func(c *cobra.Command, args []string) error {
			if most < 1 {
				return fmt.Errorf("reading --most: %d is less than 1", most)
			}
			st, err := openStore(store)
			if err != nil {
				return err
			}
			defer st.Close()
			hits, more, err := st.Search(c.Context(), joined(args), most)
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, struct {
					Schema int       `json:"schema"`
					More   bool      `json:"more"`
					Hits   []job.Hit `json:"hits"`
				}{1, more, append([]job.Hit{}, hits...)})
			}
			t := table{style: s.style(), head: []string{"job", "state", "machine", "on", "where"}, last: 20}
			for _, h := range hits {
				name := h.Job.Machine
				if h.Job.Tag != "" {
					name += ", " + h.Job.Tag
				}
				said := firstLine(jobreport.Say(h.Entry))
				if h.Entry.Kind == job.KindOpened {
					said = "opened: " + firstLine(h.Job.Complaint)
				}
				t.row("", fmt.Sprint(h.Job.ID), string(h.Job.State), name, day(h.Entry.At), said)
			}
			var b strings.Builder
			if len(hits) > 0 {
				t.write(&b)
			}
			switch {
			case len(hits) == 0:
				b.WriteString("no job has these words\n")
			case more:
				fmt.Fprintf(&b, "and more; --most %d shows them\n", 10*most)
			}
			_, err = io.WriteString(s.out, b.String())
			return err
		},
	}
	c.Flags().IntVar(&most, "most", 50, "show at most `N` jobs")
	addStore(c, &store)
	o.addJSON(c, "what was found, as JSON")
	return c
}
