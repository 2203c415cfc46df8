package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"backporch/analyse/fingerprint"
	"backporch/cmd/backporch/internal/job"
)

func newJobFingerprint(s *invocation) *cobra.Command {
	var o options
	var store string
	var forget bool
	c := &cobra.Command{
		Use:   "fingerprint N",
		Short: "Show, or forget, by what a job's machine is known",
		Long: `Fingerprint shows what a job remembers of its machine, one line for each capture device:
captures that do not fit it are warned of before they go on the job. After a crystal, the
video logic or the board was changed it is another machine to look at: --forget drops what
is remembered, says so on the time line, and the next capture is remembered in its place.

` + failHelp,
		Example: `  backporch job fingerprint 1
  backporch job fingerprint 1 --forget`,
		Args: exactly("N"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if forget {
				n, err := st.ForgetFingerprints(c.Context(), j.ID)
				if err != nil {
					return err
				}
				said := "the next capture that shows enough is remembered"
				if n == 0 {
					said = "nothing was remembered; " + said
				}
				_, err = fmt.Fprintf(s.out, "job %d: %s\n", j.ID, said)
				return err
			}
			known, err := st.FingerprintsOf(c.Context(), j.ID)
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, append([]job.Fingerprint{}, known...))
			}
			if len(known) == 0 {
				_, err = fmt.Fprintf(s.out, "job %d: nothing is remembered of its machine; a capture of a second or more with --job does it\n", j.ID)
				return err
			}
			for _, f := range known {
				if _, err := fmt.Fprintf(s.out, "%s, %s: %s\n", f.Device, day(f.At), traitsOf(f.Body)); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&forget, "forget", false, "forget it: the next capture is remembered in its place")
	o.addJSON(c, "what is remembered, as JSON")
	addStore(c, &store)
	return c
}

// traitsOf says a fingerprint for a person.
func traitsOf(body json.RawMessage) string {
	var p fingerprint.Print
	if json.Unmarshal(body, &p) != nil {
		return "of another version of this program, and not compared"
	}
	said := []string{"display " + p.Display}
	if len(p.Ratio) > 0 {
		said = append(said, fmt.Sprintf("subcarrier over line %+.3f ppm", p.Ratio[0].PPM))
	}
	for _, t := range []struct {
		name, unit string
		value      *fingerprint.Value
	}{
		{"field rate", "ppm", p.FieldRate}, {"picture's left edge", "px", p.Left}, {"top", "lines", p.Top}, {"black", "codes", p.Black},
		{"white", "codes", p.White}, {"noise", "dB", p.SNR}, {"hue", "degrees", p.Hue}, {"saturation", "%", p.Saturation},
	} {
		if t.value != nil {
			said = append(said, fmt.Sprintf("%s %.3g %s", t.name, t.value.Value, t.unit))
		}
	}
	return strings.Join(said, ", ")
}
