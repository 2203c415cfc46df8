package main

import (
	"context"
	_ "embed"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/term"
	"backporch/patterns"
	"backporch/video/display"
	"backporch/video/keep"
	"backporch/video/simulator"
)

//go:embed demo-board.toml
var demoBoard []byte

// demoDisplay is the display of the demo's invented machine.
const demoDisplay = "attr-256x192-50"

// A visit is one machine that comes to the bench.
type visit struct {
	name   string // of its recording
	put    string // what is put in, in words
	faults []string
	screen simulator.Screen
	seed   uint64
}

var visits = []visit{
	{name: "1-good", put: "nothing, the machine is well", screen: simulator.ScreenBars, seed: 11},
	{name: "2-stuck-bit", put: "memory bit 3 stuck at 1", screen: simulator.ScreenListing, seed: 12,
		faults: []string{"data-bit-stuck:bit=3,level=1"}},
	{name: "3-no-green", put: "green is dead", screen: simulator.ScreenBars, seed: 13,
		faults: []string{"colour-path:component=green,level=0"}},
	{name: "4-noisy-and-bad-bit", put: "a noisy output, and memory bit 6 stuck at 0", screen: simulator.ScreenText, seed: 14,
		faults: []string{"noise", "data-bit-stuck:bit=6,level=0"}},
	{name: "5-no-signal", put: "the cable is out", screen: simulator.ScreenBars, seed: 15,
		faults: []string{"no-signal"}},
}

// demoSeconds is the length of each recording: 50 frames, 100 machine pictures.
const demoSeconds = 2

func newDemo(s *session) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "demo",
		Short: "Run a bench session on the simulator, no hardware needed",
		Long: `Demo simulates five visits to a repair bench. Each capture is recorded as a cheap USB
grabber would record it, then read back and judged exactly as check does. The
recordings, the frame of each verdict and its marked copy are kept in a new folder.

` + failHelp,
		Example: "  backporch demo\n  backporch demo --out session",
		Args:    exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			if o.out == "" {
				o.out = free("backporch-demo", "")
			}
			return demo(c.Context(), s, o.out, o.quiet)
		},
	}
	o.addOut(c, "", "keep everything in the folder `DIR` (default backporch-demo, or the next free name)")
	o.addQuiet(c)
	return c
}

func demo(ctx context.Context, s *session, out string, quiet bool) error {
	start := time.Now()
	kept, err := openFolder(out)
	if err != nil {
		return err
	}
	defer kept.leave()
	e, err := demoExamination(out)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "%d visits to the bench, simulated: display %s, %s.\n", len(visits), demoDisplay, e.board.Name)
	status := term.NewStatus(s.err, quiet)
	defer status.Done()

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var wg sync.WaitGroup
	defer wg.Wait()
	var frames atomic.Int64
	free := make(chan struct{}, runtime.NumCPU())
	type outcome struct {
		report *report.Report
		err    error
	}
	outcomes := make([]chan outcome, len(visits))
	for i, v := range visits {
		outcomes[i] = make(chan outcome, 1)
		wg.Go(func() {
			free <- struct{}{}
			defer func() { <-free }()
			r, err := v.run(ctx, e, func(int) {
				status.Set("recording: frame %d of %d", frames.Add(1), len(visits)*demoSeconds*nominalRate)
			})
			outcomes[i] <- outcome{r, err}
		})
	}
	for i, v := range visits {
		o := <-outcomes[i]
		status.Done()
		if o.err != nil {
			return o.err
		}
		fmt.Fprintln(s.out)
		if err := o.report.Block(s.out, s.style(), v.name+".avi", "put in: "+v.put); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(s.out, `
Kept in %s: the recordings, the frame of each verdict, and its marked copy.
All in %.0f s. To see more of one:
  backporch check %s --board %s
`, out, time.Since(start).Seconds(), filepath.Join(out, visits[1].name+".avi"), filepath.Join(out, "board.toml"))
	return err
}

// demoExamination is what a technician has: the display's name and a map of the
// board. No reference: each capture is judged by itself.
func demoExamination(out string) (*examination, error) {
	all, err := profiles()
	if err != nil {
		return nil, err
	}
	e := &examination{seconds: demoSeconds, out: out}
	if e.profile, err = display.Find(all, demoDisplay); err != nil {
		return nil, err
	}
	if e.board, err = patterns.ParseBoard(demoBoard); err != nil {
		return nil, fmt.Errorf("the demo's board: %w", err)
	}
	return e, keep.Write(filepath.Join(out, "board.toml"), 0o644, func(w io.Writer) error {
		_, err := w.Write(demoBoard)
		return err
	})
}

// run records a visit and checks the recording.
func (v visit) run(ctx context.Context, e *examination, frame func(int)) (*report.Report, error) {
	sc := simulator.Scenario{Display: e.profile, Seed: v.seed, Screen: v.screen, Order: orderOf(e.profile), Fields: 2 * demoSeconds * nominalRate}
	for _, word := range v.faults {
		f, err := simulator.ParseFault(word)
		if err != nil {
			return nil, fmt.Errorf("simulating %s: %w", word, err)
		}
		sc.Faults = append(sc.Faults, f)
	}
	path := filepath.Join(e.out, v.name+".avi")
	if _, err := record(ctx, sc, path, frame); err != nil {
		return nil, err
	}
	return e.check(ctx, path, nil)
}
