package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
)

func newPart(s *invocation) *cobra.Command {
	c := &cobra.Command{
		Use:   "part",
		Short: "The parts ledger: which part sits where, and what is thought of it",
		Long: `A board has positions, a position holds a part or is empty. A part has a name of its own,
wherever it sits, and is good, bad, suspect or unknown, with a reason. The part that sat
in a position when the machine came is called by both: PB-7/K4. job pull and job fit move
parts; write the name on the part.

` + failHelp,
		Example: `  backporch part list
  backporch part add spare-2 --type "16K x 1 memory" --condition good --reason "tested in PB-2"
  backporch part mark PB-7/K4 bad --reason "bit 3 followed it"`,
		Args: subcommand("part"),
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newPartList(s), newPartAdd(s), newPartMark(s))
	return c
}

// condition reads a word that says what is thought of a part.
func condition(word string) (job.Condition, error) {
	for _, c := range job.Conditions {
		if string(c) == word {
			return c, nil
		}
	}
	return "", fmt.Errorf("%q is none of good, bad, suspect, unknown", word)
}

func newPartList(s *invocation) *cobra.Command {
	var o options
	var store string
	var all bool
	c := &cobra.Command{
		Use:     "list",
		Short:   "List the parts, where they sit and what is thought of them",
		Long:    "List shows the parts that were moved or of which something is said: where each sits,\nits condition and the reason.\n\n" + failHelp,
		Example: `  backporch part list`,
		Args:    exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			st, err := openStore(store)
			if err != nil {
				return err
			}
			defer st.Close()
			list, err := st.Parts(c.Context())
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, struct {
					Schema int        `json:"schema"`
					Parts  []job.Part `json:"parts"`
				}{1, append([]job.Part{}, list...)})
			}
			if len(list) == 0 {
				_, err = fmt.Fprintln(s.out, "no parts yet; job pull and part add take them into the ledger")
				return err
			}
			t := table{style: s.style(), head: []string{"part", "sits in", "condition", "what and why"}, right: -1, last: 16}
			atHome := 0
			for _, p := range list {
				if !all && untouched(p) {
					atHome++
					continue
				}
				where := "the bench"
				if p.Where != nil {
					where = p.Where.Board + " " + p.Where.Position
				}
				var more []string
				for _, m := range []string{p.Type, p.Reason} {
					if m != "" {
						more = append(more, m)
					}
				}
				t.row("", p.Name, where, string(p.Condition), strings.Join(more, "; "))
			}
			var b strings.Builder
			if len(t.rows) > 0 {
				t.write(&b)
			}
			if atHome > 0 {
				fmt.Fprintf(&b, "%d more that never left their places, and of which nothing is said (--all shows them)\n", atHome)
			}
			_, err = io.WriteString(s.out, b.String())
			return err
		},
	}
	c.Flags().BoolVar(&all, "all", false, "parts in their own places too, of which nothing is said")
	addStore(c, &store)
	o.addJSON(c, "the whole ledger, as JSON")
	return c
}

// untouched tells of a part in its own place of which nothing is said.
func untouched(p job.Part) bool {
	return p.Home != nil && p.Where != nil && *p.Home == *p.Where && p.Condition == job.Unknown
}

func newPartAdd(s *invocation) *cobra.Command {
	var store, state string
	var p job.Part
	c := &cobra.Command{
		Use:   "add NAME",
		Short: "Take a part from stock into the ledger",
		Long: `Add takes a part that came from no machine into the ledger. Give it a name that you write
on it.

` + failHelp,
		Example: `  backporch part add spare-2 --type "16K x 1 memory" --condition good --reason "tested in PB-2"`,
		Args:    exactly("NAME"),
		RunE: func(c *cobra.Command, args []string) error {
			p.Name = args[0]
			var err error
			if p.Condition, err = condition(state); err != nil {
				return fmt.Errorf("reading --condition: %w", err)
			}
			st, err := job.Create(storeFolder(store))
			if err != nil {
				return err
			}
			defer st.Close()
			if err := st.AddPart(c.Context(), p); err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "part %s: %s\n", p.Name, p.Condition)
			return err
		},
	}
	c.Flags().StringVar(&p.Type, "type", "", "what it is, in `WORDS`")
	c.Flags().StringVar(&state, "condition", "unknown", "good, bad, suspect or unknown")
	complete(c, "condition", conditionWords)
	c.Flags().StringVar(&p.Reason, "reason", "", "why it is thought so, in `WORDS`")
	addStore(c, &store)
	return c
}

func conditionWords() []string {
	var words []string
	for _, c := range job.Conditions {
		words = append(words, string(c))
	}
	return words
}

func newPartMark(s *invocation) *cobra.Command {
	var store, reason string
	var in int64
	c := &cobra.Command{
		Use:   "mark PART CONDITION",
		Short: "Say that a part is good, bad, suspect or unknown, and why",
		Long: `Mark states what is thought of a part: good, bad, suspect or unknown. The reason counts
most when the part turns up again: 'bit 3 followed it' is proof, 'tester says good' is
weak evidence.

` + failHelp,
		Example: `  backporch part mark PB-7/K4 bad --reason "bit 3 followed it"
  backporch part mark PB-7/K4 suspect --job 1`,
		Args: exactly("PART", "CONDITION"),
		RunE: func(c *cobra.Command, args []string) error {
			state, err := condition(args[1])
			if err != nil {
				return fmt.Errorf("part mark: %w", err)
			}
			st, err := openStore(store)
			if err != nil {
				return err
			}
			defer st.Close()
			e, err := st.Mark(c.Context(), args[0], state, reason, in)
			if errors.Is(err, job.ErrNoPart) {
				return withHint(err, "backporch part list shows them; the original of a position is called BOARD/POSITION once it was pulled")
			}
			if err != nil {
				return err
			}
			where := "in the ledger"
			if e != nil {
				where = fmt.Sprintf("entry %d of job %d", e.ID, e.Job)
			}
			_, err = fmt.Fprintf(s.out, "part %s: %s, %s\n", args[0], state, where)
			return err
		},
	}
	c.Flags().StringVar(&reason, "reason", "", "why, in `WORDS`")
	c.Flags().Int64Var(&in, "job", 0, "the job `N` in which it was found (default: that of the machine it sits in)")
	addStore(c, &store)
	return c
}

func newJobPull(s *invocation) *cobra.Command {
	var store, note string
	c := &cobra.Command{
		Use:   "pull N POSITION",
		Short: "Note that the part was taken out of a position",
		Long: `Pull notes that the part in a position of the job's machine was taken out. It has a name
in the ledger from then on: the original of K4 of the machine PB-7 is PB-7/K4. Write it on
the part. Before you pull: power off and unplug, note the notch, take a picture of the
place (job attach); chips are static-sensitive.

` + failHelp,
		Example: `  backporch job pull 1 K5`,
		Args:    exactly("N", "POSITION"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			e, err := st.Pull(c.Context(), j.ID, args[1], note)
			if errors.Is(err, job.ErrEmpty) {
				return withHint(err, "backporch job show %d says where its part is", j.ID)
			}
			if err != nil {
				return err
			}
			said := fmt.Sprintf("job %d: %s is out of %s", j.ID, e.Move.Part, e.Move.Position)
			if j.Stills == 0 {
				said += "; there is no picture of this job yet: take one of the place, " + fmt.Sprintf("job attach %d FILE", j.ID)
			}
			_, err = fmt.Fprintln(s.out, said)
			return err
		},
	}
	c.Flags().StringVar(&note, "note", "", "a remark, in `WORDS`")
	addStore(c, &store)
	return c
}

func newJobFit(s *invocation) *cobra.Command {
	var store, note string
	var empty bool
	c := &cobra.Command{
		Use:   "fit N POSITION PART",
		Short: "Note that a part was put into a position",
		Long: `Fit notes that a part of the ledger was put into a position of the job's machine. The
position must have been pulled before, and the part must lie on the bench: a part is
never in two places. Before you fit: power off, rails checked, notch the right way round.

` + failHelp,
		Example: `  backporch job fit 1 K4 spare-1`,
		Args:    exactly("N", "POSITION", "PART"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			e, err := st.Fit(c.Context(), j.ID, args[1], args[2], note, empty)
			var occupied *job.Occupied
			var unknown *job.NotPulled
			switch {
			case errors.As(err, &occupied) && strings.EqualFold(occupied.Part, args[2]):
				return withHint(err, "note first that it was pulled there")
			case errors.As(err, &occupied), errors.As(err, &unknown):
				return withHint(err, "backporch job pull %d %s notes that it came out; --empty says that there was none", j.ID, args[1])
			case errors.Is(err, job.ErrNoPart):
				return withHint(err, "backporch part add %s takes it in from stock; part list shows the others", args[2])
			case err != nil:
				return err
			}
			if e.Move.Condition == job.Bad || e.Move.Condition == job.Suspect {
				(&attachment{s: s, store: st, job: j}).warn("%s is marked %s", e.Move.Part, e.Move.Condition)
			}
			_, err = fmt.Fprintf(s.out, "job %d: %s is in %s\n", j.ID, e.Move.Part, e.Move.Position)
			return err
		},
	}
	c.Flags().StringVar(&note, "note", "", "a remark, in `WORDS`")
	c.Flags().BoolVar(&empty, "empty", false, "the position held nothing when the machine came")
	addStore(c, &store)
	return c
}
