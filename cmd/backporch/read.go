package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/analyse/text"
	"backporch/cmd/backporch/internal/term"
	"backporch/video/display"
)

func newRead(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "read SOURCE",
		Short: "Print the text on a screen",
		Long: `Read prints the characters that a screen shows, row by row, by the glyphs of --font or,
without it, of the font that comes with backporch; 'display learn font' makes a font of a
good machine. It reads the cells of a bitmap display too, where writing keeps to them.

A cell that shows no glyph of the font stands as ` + string(text.Unreadable) + `, a glyph that is no character of
ASCII as ` + string(text.Graphic) + `. What a fault has done to the text is printed as it is seen.

` + failHelp + `
  3  done, but the screen has no writing in this font`,
		Example: `  backporch read text.avi --display text-40x25-50
  backporch read text.avi --display text-40x25-50 --font machine.font --json`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			e, err := o.examination()
			if err != nil {
				return err
			}
			status := term.NewStatus(s.err, o.quiet)
			captured, err := readSource(c.Context(), args[0], o.seconds, status)
			if err != nil {
				status.Done()
				return err
			}
			status.Set("reading the text of %s", args[0])
			measured, p, err := e.survey(captured, e.profile)
			status.Done()
			if err != nil {
				return err
			}
			r := readingOf(measured, p)
			if !r.Fits {
				s.status = statusUndetermined
			}
			if o.json {
				return writeJSON(s.out, r)
			}
			return r.print(s.out)
		},
	}
	o.addDisplay(c, "display profile `NAME`; without it the one that fits best")
	o.addFont(c)
	o.addSeconds(c, 2, "read `N` seconds of the source")
	o.addJSON(c, "the text and its codes, as JSON")
	o.addQuiet(c)
	return c
}

// A reading is what read --json says.
type reading struct {
	Display  string   `json:"display"`
	Columns  int      `json:"columns"`
	Rows     int      `json:"rows"`
	Fits     bool     `json:"fits"` // the written cells are glyphs of the font
	Written  int      `json:"written"`
	Unread   int      `json:"unread"`
	Doubtful int      `json:"doubtful"` // another glyph fits nearly as well
	Text     []string `json:"text"`
	Codes    [][]int  `json:"codes"` // -1 where no glyph fits
	Reason   string   `json:"reason,omitempty"`
}

// A reading is of this font if at least half of what is written is; a glyph is doubtful within three
// nats, one in twenty. Common practice, no source.
const (
	mostly       = 0.5
	doubtfulOdds = 3
)

func readingOf(s *analyse.Survey, p *display.Profile) *reading {
	r := &reading{Display: p.Name, Columns: p.Columns(), Rows: p.Rows(), Text: []string{}, Codes: [][]int{}}
	if !s.Registration.OK || s.Text == nil || len(s.Cells) == 0 {
		if r.Reason = s.Registration.Reason; r.Reason == "" {
			r.Reason = "the picture could not be placed"
		}
		return r
	}
	paper := text.Background(s.Cells, p)
	for i := range s.Cells {
		code := s.Text.Codes[i]
		if !s.Cells[i].Single || p.Kind == display.Text && s.Cells[i].Paper != paper {
			r.Written++
			if code < 0 {
				r.Unread++
			}
		}
		// Nought: two codes have this very glyph, which is no doubt of what is seen.
		if odds := s.Text.Odds[i]; code >= 0 && odds > 0 && odds < doubtfulOdds {
			r.Doubtful++
		}
	}
	for row := range r.Rows {
		r.Text = append(r.Text, strings.TrimRight(s.Text.Lines[row], " "))
		r.Codes = append(r.Codes, s.Text.Codes[row*r.Columns:(row+1)*r.Columns])
	}
	r.Fits = float64(r.Unread) <= (1-mostly)*float64(r.Written)
	if !r.Fits {
		r.Reason = "the characters are not those of this font: give the machine's with --font, or learn it with 'display learn font'"
	} else {
		r.Reason = s.Registration.Reason
	}
	return r
}

// print writes the rows, without the empty ones at the end, and what could not be read.
func (r *reading) print(w io.Writer) error {
	if len(r.Text) == 0 {
		_, err := fmt.Fprintf(w, "nothing to read: %s\n", r.Reason)
		return err
	}
	last := len(r.Text)
	for last > 0 && r.Text[last-1] == "" {
		last--
	}
	for _, line := range r.Text[:last] {
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	var notes []string
	if r.Unread > 0 {
		notes = append(notes, fmt.Sprintf("%d of %d written cells could not be read (%c)", r.Unread, r.Written, text.Unreadable))
	}
	if r.Doubtful > 0 {
		notes = append(notes, fmt.Sprintf("%d are doubtful", r.Doubtful))
	}
	if r.Written == 0 {
		notes = append(notes, "nothing is written on the screen")
	}
	if r.Reason != "" {
		notes = append(notes, r.Reason)
	}
	if len(notes) == 0 {
		return nil
	}
	_, err := fmt.Fprintf(w, "\n-- %s\n", strings.Join(notes, "; "))
	return err
}
