package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
)

// joined makes one text of the words that the shell took apart.
func joined(args []string) string { return strings.Join(args, " ") }

func newJobNote(s *invocation) *cobra.Command {
	var store string
	var waiting bool
	c := &cobra.Command{
		Use:   "note N TEXT...",
		Short: "Put a note on a job's time line",
		Long: `Note puts a remark on the time line: what was measured, seen, smelled, ordered. With
--waiting the job waits for something, and says so in the list until it is reopened.

` + failHelp,
		Example: `  backporch job note 1 all rails present, 5 V is 5.02 V
  backporch job note 1 --waiting a chip is ordered`,
		Args: withRest("N", "TEXT"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			text := joined(args[1:])
			var e job.Entry
			if waiting {
				e, err = st.SetState(c.Context(), j.ID, job.StateWaiting, text)
			} else {
				e, err = st.Note(c.Context(), j.ID, text)
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "entry %d of job %d\n", e.ID, j.ID)
			return err
		},
	}
	c.Flags().BoolVar(&waiting, "waiting", false, "the job waits for this")
	addStore(c, &store)
	return c
}

func newJobAttach(s *invocation) *cobra.Command {
	var store, role, note string
	c := &cobra.Command{
		Use:   "attach N FILE...",
		Short: "Keep pictures and files with a job",
		Long: `Attach keeps files with a job: a photo of a socket before its chip is pulled (the notch,
the legs), a still, a waveform. A copy goes into the store; the file stays where it is.

` + failHelp,
		Example: `  backporch job attach 1 faulty.png --role before --note "as it came in"
  backporch job attach 1 faulty.png good.png`,
		Args: withRest("N", "FILE"),
		RunE: func(c *cobra.Command, args []string) error {
			switch job.Role(role) {
			case "", job.Before, job.During, job.After:
			default:
				return fmt.Errorf("reading --role: %q is not before, during or after", role)
			}
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			var list []job.NewStill
			for _, path := range args[1:] {
				list = append(list, job.NewStill{Path: path, Role: job.Role(role), Note: note})
			}
			e, err := st.AttachFiles(c.Context(), j.ID, note, list)
			if err != nil {
				return err
			}
			for _, k := range e.Stills {
				if _, err := fmt.Fprintf(s.out, "%s: kept with job %d as %s, SHA-256 %s\n", k.Name, j.ID, k.Role, k.SHA256); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&role, "role", "", "`WHEN` it was taken: before, during or after the repair")
	complete(c, "role", func() []string { return []string{"before", "during", "after"} })
	c.Flags().StringVar(&note, "note", "", "what it shows, in `WORDS`")
	addStore(c, &store)
	return c
}

func newJobClose(s *invocation) *cobra.Command {
	var store string
	c := &cobra.Command{
		Use:   "close N OUTCOME...",
		Short: "Close a job, and say how it ended",
		Long: `Close ends a job with its outcome, in words that its owner may read. It warns of what
is often forgotten: a part that belongs to another machine, a bad one left in, a fault
that went away although nothing was changed.

` + failHelp,
		Example: `  backporch job close 1 memory chip of bit 3 changed`,
		Args:    withRest("N", "OUTCOME"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if j.State == job.StateClosed {
				return fmt.Errorf("job %d is closed already: %s", j.ID, j.Outcome)
			}
			if _, err := st.SetState(c.Context(), j.ID, job.StateClosed, joined(args[1:])); err != nil {
				return err
			}
			if err := (&attachment{s: s, store: st, job: j}).parts(c.Context(), job.Closing); err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "job %d is closed; backporch job report %d makes its report\n", j.ID, j.ID)
			return err
		},
	}
	addStore(c, &store)
	return c
}

func newJobReopen(s *invocation) *cobra.Command {
	var store string
	c := &cobra.Command{
		Use:     "reopen N",
		Short:   "Take up a job again that was closed or waits",
		Long:    "Reopen takes up a job again that was closed or waits for something.\n\n" + failHelp,
		Example: `  backporch job reopen 1`,
		Args:    exactly("N"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if _, err := st.SetState(c.Context(), j.ID, job.StateOpen, ""); err != nil {
				return err
			}
			if err := (&attachment{s: s, store: st, job: j}).parts(c.Context(), job.Opening); err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "job %d is open: %s\n", j.ID, j.Name())
			return err
		},
	}
	addStore(c, &store)
	return c
}
