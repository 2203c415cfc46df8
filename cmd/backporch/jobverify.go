package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/term"
)

func newJobVerify(s *invocation) *cobra.Command {
	var o options
	var store string
	var tidy bool
	c := &cobra.Command{
		Use:   "verify",
		Short: "Read the whole store again and compare every still with its hash",
		Long: `Verify reads everything that the store keeps: the index with its references, and each
still, whose hash must be its name. Files that no entry names were left by a command
that was ended in its middle; they do no harm, and --tidy removes them.

Exit status:
  0  everything is as it was kept
  1  something is damaged or missing
  2  could not run: usage, input or device`,
		Example: `  backporch job verify
  backporch job verify --tidy --json`,
		Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			st, err := openStore(store)
			if err != nil {
				return err
			}
			defer st.Close()
			status := term.NewStatus(s.err, o.quiet)
			v, err := st.Verify(c.Context(), func(done, total int) { status.Set("verifying: still %d of %d", done, total) })
			status.Done()
			if err != nil {
				return err
			}
			if len(v.Problems) > 0 {
				s.status = statusFault
			}
			removed := 0
			if tidy && len(v.Problems) == 0 && len(v.Strays) > 0 {
				list, err := st.Tidy(c.Context())
				if err != nil {
					return err
				}
				removed, v.Strays = len(list), []string{}
			}
			if o.json {
				return writeJSON(s.out, v)
			}
			_, err = io.WriteString(s.out, verified(v, removed))
			return err
		},
	}
	c.Flags().BoolVar(&tidy, "tidy", false, "remove files that no entry names, if all else is well")
	addStore(c, &store)
	o.addJSON(c, "what was found, as JSON")
	o.addQuiet(c)
	return c
}

func verified(v job.Verification, removed int) string {
	var b strings.Builder
	for _, p := range v.Problems {
		what := p.What
		if p.Still != "" {
			what = p.Still + ": " + what
		}
		if len(p.Jobs) > 0 {
			numbers := strings.Trim(strings.ReplaceAll(fmt.Sprint(p.Jobs), " ", ", "), "[]")
			what += "; named by job " + numbers
		}
		b.WriteString("DAMAGED: " + what + "\n")
	}
	several := func(n int, one, more string) string {
		if n == 1 {
			return "1 " + one
		}
		return fmt.Sprint(n, " ", more)
	}
	fmt.Fprintf(&b, "%s, %s, %s (%.1f MB): ", several(v.Jobs, "job", "jobs"), several(v.Entries, "entry", "entries"), several(v.Stills, "still", "stills"), float64(v.Bytes)/1e6)
	switch n := len(v.Problems); n {
	case 0:
		b.WriteString("all as they were kept\n")
	case 1:
		b.WriteString("1 problem; get the rest out with job export, and look for a backup of what is damaged\n")
	default:
		fmt.Fprintf(&b, "%d problems; get the rest out with job export, and look for a backup of what is damaged\n", n)
	}
	if len(v.Strays) > 0 {
		fmt.Fprintf(&b, "%d files that no entry names, left by a command that was ended in its middle; --tidy removes them\n", len(v.Strays))
	}
	if removed > 0 {
		fmt.Fprintf(&b, "%d files that no entry named were removed\n", removed)
	}
	return b.String()
}
