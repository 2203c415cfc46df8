package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/isolation"
	"backporch/cmd/backporch/internal/job"
	"backporch/patterns"
	"backporch/patterns/swap"
	"backporch/patterns/workbench"
)

func newJobIsolate(s *invocation) *cobra.Command {
	var o options
	var store, tests string
	c := &cobra.Command{
		Use:   "isolate [N]",
		Short: "Reason over swap tests: what explains them all, and which swap to make next",
		Long: `Isolate takes every configuration that was tried (which part sat where, and what the
picture said) and gives the smallest sets of causes that explain all of it: a part, a
position with its socket and tracks, a board, the signal path, or an intermittent. It
ranks them, says what is cleared, and names the next step that best splits them. Tests
that contradict each other accuse no part: they say contact or intermittent.

The tests are those of job N and of the jobs that have shared parts with it, as job
pull, job fit and check --job N kept them; or those of a file:

  [[test]]                        # the tests in their order
  board = "PB-7"                  # may be left out where there is one board
  path = "cable 1"                # may be left out where it was never changed
  verdict = "bad"                 # good, bad or unknown
  bad_at = ["U14"]                # what the picture accuses, if it says so
  good_at = ["U6", "U7"]          # what it proves good though the whole is bad
  fitted = { U14 = "m1", U6 = "m2", U7 = "m3" }

A test keeps what the one before it had fitted on its board, but for what it names; ""
empties a position. [parts] may say what is thought of a part: m1 = "suspect". The same
in JSON will do. With --board a verdict that names one memory bit clears the other bits'
positions.

Exit status:
  0  done, and no test shows the fault
  1  done, and a cause stands out
  2  could not run: usage or input
  3  done, but it is open, or contact or intermittent`,
		Example: `  backporch job isolate --tests tests.toml
  backporch job isolate 1
  backporch job isolate 1 --board board.toml --json`,
		Args: func(c *cobra.Command, args []string) error {
			switch {
			case tests != "" && len(args) > 0:
				return withHint(errors.New("job isolate: a job and --tests"), "give one of them")
			case tests != "" || len(args) == 1:
				return nil
			}
			return exactly("N")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			found, err := isolate(c.Context(), args, tests, store, &o)
			if err != nil {
				return err
			}
			switch found.Verdict {
			case isolation.VerdictNotShown:
				s.status = statusClean
			case isolation.VerdictCause:
				s.status = statusFault
			default:
				s.status = statusUndetermined
			}
			if o.json {
				return found.JSON(s.out)
			}
			return found.Text(s.out, s.style())
		},
	}
	c.Flags().StringVar(&tests, "tests", "", "the tests as a `FILE` (TOML or JSON) in place of a job")
	c.Flags().StringVar(&o.board, "board", "", "board map `FILE` (TOML): which position carries which bit")
	addStore(c, &store)
	o.addJSON(c, "the reasoning as JSON (schema 1 of its own)")
	return c
}

// isolate gathers the tests and reasons over them.
func isolate(ctx context.Context, args []string, path, store string, o *options) (*isolation.Isolation, error) {
	board, err := o.readBoard()
	if err != nil {
		return nil, err
	}
	source := path
	var tests []swap.Test
	var parts map[string]swap.Known
	var notes []string
	if path != "" {
		data, err := readSmall(path, 1<<20)
		if err != nil {
			return nil, fmt.Errorf("reading --tests: %w", err)
		}
		if tests, parts, err = isolation.Parse(data); err != nil {
			return nil, fmt.Errorf("reading --tests %s: %w", path, err)
		}
	} else {
		id, err := strconv.ParseInt(args[0], 10, 64)
		if err != nil {
			return nil, withHint(fmt.Errorf("job isolate: %q is no job's number", args[0]), "backporch job list --all shows them")
		}
		source = fmt.Sprintf("job %d", id)
		if tests, parts, notes, err = jobTests(ctx, store, id, board); err != nil {
			return nil, err
		}
	}
	d, err := swap.Isolate(tests, swap.Options{Parts: parts})
	if errors.Is(err, swap.ErrNoTests) {
		return isolation.None(source, append(notes, "check SOURCE --job N keeps a verdict with the parts that were fitted")), nil
	}
	if err != nil {
		return nil, fmt.Errorf("reasoning over %s: %w", source, err)
	}
	return isolation.New(source, d, notes), nil
}

// trusted is the confidence from which a verdict of clean counts as a good test.
const trusted = 0.7

// jobTests are the configurations of a job and of those that shared parts with it.
func jobTests(ctx context.Context, folder string, id int64, board *workbench.Board) ([]swap.Test, map[string]swap.Known, []string, error) {
	store, _, err := openJob(ctx, folder, id)
	if err != nil {
		return nil, nil, nil, err
	}
	defer store.Close()
	jobs, err := store.Related(ctx, id)
	if err != nil {
		return nil, nil, nil, err
	}
	var all []job.Configuration
	for _, n := range jobs {
		some, err := store.Configurations(ctx, n)
		if err != nil {
			return nil, nil, nil, err
		}
		all = append(all, some...)
	}
	slices.SortStableFunc(all, func(a, b job.Configuration) int { return int(a.Entry - b.Entry) })
	var tests []swap.Test
	for i := range all {
		tests = append(tests, testOf(&all[i], board))
	}
	ledger, err := store.Parts(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	parts := map[string]swap.Known{}
	for _, p := range ledger {
		parts[p.Name] = map[job.Condition]swap.Known{job.Good: swap.ThoughtGood, job.Suspect: swap.Suspect, job.Bad: swap.ThoughtBad}[p.Condition]
	}
	var notes []string
	if len(jobs) > 1 {
		notes = append(notes, fmt.Sprintf("with the tests of %d jobs that have shared parts with it", len(jobs)-1))
	}
	if !slices.ContainsFunc(tests, func(t swap.Test) bool { return len(t.Fitted) > 0 }) {
		notes = append(notes, "no part is on record: job pull and job fit tell which sat where")
	}
	return tests, parts, notes, nil
}

// testOf reads a configuration of the store as a test. A verdict of one memory bit accuses that
// bit's position, and with a board map the other bits' positions are proved good by the same
// picture.
func testOf(c *job.Configuration, board *workbench.Board) swap.Test {
	t := swap.Test{Name: fmt.Sprintf("entry %d", c.Entry), Board: c.Board, Path: c.Device, Fitted: maps.Clone(c.Fitted)}
	v := &c.Verdict
	switch patterns.Class(v.Class) {
	case patterns.Undetermined, "":
		return t
	case patterns.Clean:
		if v.Confidence == nil || *v.Confidence >= trusted {
			t.Outcome = swap.Good
		}
		return t
	}
	t.Outcome = swap.Bad
	if patterns.Class(v.Class) != patterns.RAMBit || t.Fitted[v.Part] == "" {
		return t
	}
	t.BadAt = []string{v.Part}
	if board == nil || alsoFaulty(c.Report, v.Part) {
		return t
	}
	for _, position := range board.Bits {
		if position != v.Part && t.Fitted[position] != "" && slices.Contains(board.Bits[:], v.Part) && !slices.Contains(t.GoodAt, position) {
			t.GoodAt = append(t.GoodAt, position)
		}
	}
	return t
}

// alsoFaulty says whether a report accuses something else as well, so that it clears nothing.
func alsoFaulty(raw json.RawMessage, part string) bool {
	var r struct {
		Verdict struct {
			Faults []struct {
				Class       string  `json:"class"`
				Part        string  `json:"part"`
				Probability float64 `json:"probability"`
			} `json:"faults"`
		} `json:"verdict"`
	}
	if len(raw) == 0 || json.Unmarshal(raw, &r) != nil {
		return true
	}
	for _, f := range r.Verdict.Faults {
		if f.Class == string(patterns.RAMBit) && f.Part != part && f.Probability >= 0.05 {
			return true
		}
	}
	return false
}
