package main

import (
	"context"
	_ "embed"
	"errors"
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
	"backporch/patterns/workbench"
	"backporch/video/display"
	"backporch/video/keep"
	"backporch/video/simulator"
)

//go:embed demo-board.toml
var demoBoard []byte

// demoDisplay is the display of the demo's invented machine.
const demoDisplay = "attr-256x192-50"

// demoSeed stands for the bench: every visit has the same grabber.
const demoSeed = 11

// A visit is one machine that comes to the bench.
type visit struct {
	name      string // of its recording
	put       string // what is put in, in words
	faults    []string
	screen    simulator.Screen
	reference string // the recording of a good machine with the same screen, as --reference
}

var visits = []visit{
	{name: "1-good", put: "nothing, the machine is well", screen: simulator.ScreenBars},
	{name: "2-stuck-bit", put: "memory bit 3 stuck at 1", screen: simulator.ScreenListing,
		faults: []string{"data-bit-stuck:bit=3,level=1"}},
	{name: "3-no-green", put: "green is dead", screen: simulator.ScreenBars,
		faults: []string{"colour-path:component=green,level=0"}},
	{name: "4-noisy-and-bad-bit", put: "a noisy output, and memory bit 6 stuck at 1", screen: simulator.ScreenBars,
		faults: []string{"noise", "data-bit-stuck:bit=6,level=1"}, reference: "1-good"},
	{name: "5-no-signal", put: "the cable is out", screen: simulator.ScreenBars,
		faults: []string{"no-signal"}},
}

// demoSeconds is the length of each recording: 50 frames, 100 machine pictures.
const (
	demoSeconds = 2
	demoFrames  = 25 * demoSeconds
)

func newDemo(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "demo",
		Short: "Run a bench session on the simulator, no hardware needed",
		Long: `Demo simulates five visits to a repair bench. Each capture is recorded as a cheap USB
grabber would record it, then read back and judged exactly as check does. The
recordings, the frame of each verdict and its marked copy are kept in a new folder.

` + failHelp,
		Example: "  backporch demo",
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

func demo(ctx context.Context, s *invocation, out string, quiet bool) error {
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
	var frames atomic.Int64
	err = each(ctx, func(ctx context.Context, v visit, _ int) error {
		return v.record(ctx, e, func(int) {
			status.Set("recording: frame %d of %d", frames.Add(1), len(visits)*demoFrames)
		})
	})
	if err != nil {
		return err
	}
	var checked atomic.Int64
	reports := make([]*report.Report, len(visits))
	err = each(ctx, func(ctx context.Context, v visit, i int) (err error) {
		reports[i], err = v.check(ctx, e)
		status.Set("checking: %d of %d", checked.Add(1), len(visits))
		return err
	})
	status.Done()
	if err != nil {
		return err
	}
	for i, v := range visits {
		note := "put in: " + v.put
		if v.reference != "" {
			note += "; compared with " + v.reference + recordingEnding
		}
		fmt.Fprintln(s.out)
		if err := reports[i].Block(s.out, s.style(), v.name+recordingEnding, note); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(s.out, `
Kept in %s: the recordings, the frame of each verdict, and its marked copy.
All in %.0f s. To see more of one:
  backporch check %s --board %s
`, out, time.Since(start).Seconds(), filepath.Join(out, visits[1].name+recordingEnding), filepath.Join(out, "board.toml"))
	return err
}

// each does work for all visits, as many at once as there are processors, and
// returns when all have ended, with the first visit's error if there is one.
func each(ctx context.Context, work func(context.Context, visit, int) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var wg sync.WaitGroup
	errs := make([]error, len(visits))
	room := make(chan struct{}, runtime.NumCPU())
	for i, v := range visits {
		wg.Go(func() {
			room <- struct{}{}
			defer func() { <-room }()
			if errs[i] = work(ctx, v, i); errs[i] != nil {
				cancel()
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil && !errors.Is(err, context.Canceled) {
			return err
		}
	}
	return errors.Join(errs...)
}

// demoExamination is what a technician has: the display's name and a map of the board.
func demoExamination(out string) (*examination, error) {
	all, err := profiles()
	if err != nil {
		return nil, err
	}
	e := &examination{seconds: demoSeconds, out: out}
	if e.profile, err = display.Find(all, demoDisplay); err != nil {
		return nil, err
	}
	if e.board, err = workbench.ParseBoard(demoBoard); err != nil {
		return nil, fmt.Errorf("the demo's board: %w", err)
	}
	return e, keep.Write(filepath.Join(out, "board.toml"), 0o644, func(w io.Writer) error {
		_, err := w.Write(demoBoard)
		return err
	})
}

const recordingEnding = ".avi"

// record simulates the visit into its recording.
func (v visit) record(ctx context.Context, e *examination, frame func(int)) error {
	sc := simulator.Scenario{
		Display: e.profile, Seed: demoSeed, Screen: v.screen, Order: orderOf(e.profile),
		Fields: 2 * demoFrames,
	}
	for _, word := range v.faults {
		f, err := simulator.ParseFault(word)
		if err != nil {
			return fmt.Errorf("simulating %s: %w", word, err)
		}
		sc.Faults = append(sc.Faults, f)
	}
	_, err := record(ctx, sc, filepath.Join(e.out, v.name+recordingEnding), frame)
	return err
}

// check judges the visit's recording.
func (v visit) check(ctx context.Context, e *examination) (*report.Report, error) {
	with := *e
	if v.reference != "" {
		with.reference = filepath.Join(e.out, v.reference+recordingEnding)
	}
	return with.check(ctx, filepath.Join(e.out, v.name+recordingEnding), nil)
}
