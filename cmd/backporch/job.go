package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/patterns/workbench"
)

func newJob(s *invocation) *cobra.Command {
	c := &cobra.Command{
		Use:   "job",
		Short: "Keep jobs: stills before and after, notes, parts moved, the report",
		Long: `A job is a machine on the bench: what its owner said, every capture with its verdict,
the stills before, during and after, notes, which part was moved where, and in the end a
report for the owner. check, grab and others add to it with --job N.

Jobs are kept in one folder, an index (SQLite) and the stills beside it, each named by its
hash: backporch/jobs in your data folder (~/.local/share on most systems), or where
--store DIR says. It must be on a disk of this computer.

` + failHelp,
		Example: `  backporch job new --machine "practice board" --tag PB-7
  backporch check capture.avi --job 1
  backporch job list`,
		Args: subcommand("job"),
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(
		newJobNew(s), newJobList(s), newJobShow(s), newJobNote(s), newJobAttach(s), newJobPull(s), newJobFit(s),
		newJobClose(s), newJobReopen(s), newJobFingerprint(s), newJobSearch(s), newJobIsolate(s), newJobReport(s), newJobExport(s), newJobImport(s), newJobVerify(s),
	)
	return c
}

// subcommand refuses what is no command below name.
func subcommand(name string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > 0 {
			return withHint(fmt.Errorf("%s: no command %q", name, args[0]), "backporch %s --help lists them", name)
		}
		return nil
	}
}

// withRest wants one argument or more for the last of names.
func withRest(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return exactly(names...)(c, args)
		}
		return nil
	}
}

// jobNumber reads the argument that names a job.
func jobNumber(arg string) (int64, error) {
	id, err := strconv.ParseInt(arg, 10, 64)
	if err != nil || id < 1 {
		return 0, withHint(fmt.Errorf("%q is no job's number", arg), "backporch job list shows them")
	}
	return id, nil
}

// argJob opens the store and the job that an argument names.
func argJob(ctx context.Context, store, arg string) (*job.Store, job.Job, error) {
	id, err := jobNumber(arg)
	if err != nil {
		return nil, job.Job{}, err
	}
	return openJob(ctx, store, id)
}

func newJobNew(s *invocation) *cobra.Command {
	var o options
	var j job.Job
	var store string
	c := &cobra.Command{
		Use:   "new --machine NAME",
		Short: "Open a job for a machine",
		Long: `New opens a job. A machine is known by its --tag: give each board one, on a sticker, for
boards have changed cases before. A machine that comes back is known again by it, with
the parts that were left in it.

With a board map (--board) the ledger knows from the beginning which positions hold a
part; else it learns of each when it is first pulled.

` + failHelp,
		Example: `  backporch job new --machine "practice board" --tag PB-7 --complaint "Stripes since it was moved."
  backporch job new --machine "practice board" --tag PB-2 --donor --board board.toml`,
		Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			if j.Machine == "" {
				return withHint(errors.New("job new: no --machine given"), "say what it is, in your own words")
			}
			b, err := o.readBoard()
			if err != nil {
				return err
			}
			st, err := job.Create(storeFolder(store))
			if err != nil {
				return err
			}
			defer st.Close()
			opened, err := openNew(c.Context(), s, st, j, positions(b))
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, opened)
			}
			_, err = fmt.Fprintf(s.out, "job %d: %s; add to it with --job %d\n", opened.ID, opened.Name(), opened.ID)
			return err
		},
	}
	c.Flags().StringVar(&j.Machine, "machine", "", "what it is, in `WORDS`")
	c.Flags().StringVar(&j.Tag, "tag", "", "serial number, or the `TAG` on its case or board")
	c.Flags().StringVar(&j.Issue, "board-issue", "", "the `ISSUE` printed on the board")
	c.Flags().StringVar(&j.Complaint, "complaint", "", "what its owner says, in `WORDS`")
	c.Flags().StringVar(&o.board, "board", "", "board map `FILE` (TOML): which positions it has")
	c.Flags().BoolVar(&j.Donor, "donor", false, "the machine is known good and lends parts")
	addStore(c, &store)
	o.addJSON(c, "the job, as JSON")
	return c
}

// openNew opens a job and says what of the machine is known already.
func openNew(ctx context.Context, s *invocation, st *job.Store, j job.Job, positions []string) (job.Job, error) {
	opened, err := st.New(ctx, j, positions)
	var taken *job.BoardTaken
	if errors.As(err, &taken) {
		return opened, withHint(err, "give this machine another --tag")
	}
	if err != nil {
		return opened, err
	}
	a := &attachment{s: s, store: st, job: opened}
	others, err := st.List(ctx, true)
	if err != nil {
		return opened, err
	}
	for _, other := range others {
		if other.Board == opened.Board && other.ID != opened.ID {
			if other.State != job.StateClosed {
				a.warn("job %d of the same machine is still %s", other.ID, other.State)
			} else {
				a.warn("this machine was here before: job %d, closed on %s", other.ID, day(other.Changed))
			}
		}
	}
	return opened, a.parts(ctx, job.Opening)
}

// positions are the designators of a board map, each once; none of a nil map.
func positions(b *workbench.Board) []string {
	if b == nil {
		return nil
	}
	all := append([]string{}, b.Bits[:]...)
	all = append(all, b.ColourBits[:]...)
	all = append(all, b.VideoLogic, b.CharacterGenerator, b.Multiplexer, b.ColourOutput)
	seen := map[string]bool{"": true}
	var list []string
	for _, p := range all {
		if !seen[p] {
			seen[p] = true
			list = append(list, p)
		}
	}
	return list
}
