// Command accuracy measures the classifier: it simulates seeded random captures,
// passes each through the recorder's compression and the code that check runs, and prints how often
// class, kind and particulars were right.
//
//	go run ./cmd/accuracy -n 300 -seed 1
//
// The simulator's labels are read here and nowhere in the analysis. Captures of our own simulator
// prove consistency, not truth.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"sort"
	"strings"
	"sync"
	"time"

	"backporch/analyse"
	"backporch/analyse/survey"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/picture"
	"backporch/video/simulator"
)

// A run is one capture with what is true of it and what was said.
type run struct {
	seed     uint64
	display  string
	truth    simulator.Truth
	survey   *analyse.Survey
	verdict  *patterns.Verdict
	distance float64 // of the registration's corners, machine pixels; NaN when not registered
	seconds  float64
	err      error
}

func main() {
	n := flag.Int("n", 300, "captures")
	seed := flag.Uint64("seed", 1, "the first seed")
	fields := flag.Int("fields", 24, "fields a capture")
	displays := flag.String("display", "attr-256x192-50,attr-256x192-60", "display profiles, with commas")
	kinds := flag.String("kind", "", "kinds, with commas; empty: all")
	screens := flag.String("screen", "", "sorts of screen, with commas; empty: all")
	reference := flag.Bool("reference", false, "give a good machine's capture of the same screen as reference")
	quality := flag.Int("quality", 85, "JPEG quality of the recorder; 0: not compressed")
	verbose := flag.Bool("v", false, "a line for every capture that went wrong")
	flag.Parse()
	if err := measure(*n, *seed, *fields, *displays, *kinds, *screens, *reference, *quality, *verbose); err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(2)
	}
}

func measure(n int, seed uint64, fields int, displays, kinds, screens string, reference bool, quality int, verbose bool) error {
	all, err := display.Load("")
	if err != nil {
		return err
	}
	var profiles []*display.Profile
	for _, name := range strings.Split(displays, ",") {
		p, err := display.Find(all, name)
		if err != nil {
			return err
		}
		profiles = append(profiles, p)
	}
	var names []string
	if kinds != "" {
		names = strings.Split(kinds, ",")
	}
	for _, name := range names { // before any is simulated
		if _, err := simulator.ParseFaults(name); err != nil {
			return err
		}
	}
	var sorts []string
	if screens != "" {
		sorts = strings.Split(screens, ",")
	}
	runs := make([]run, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.NumCPU() {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				s := seed + uint64(i)
				runs[i] = one(profiles[s%uint64(len(profiles))], s, fields, names, sorts, reference, quality)
			}
		}()
	}
	for i := range runs {
		next <- i
	}
	close(next)
	wait.Wait()
	for i := range runs {
		if err := runs[i].err; err != nil {
			return fmt.Errorf("seed %d: %w", runs[i].seed, err)
		}
	}
	report(os.Stdout, runs, verbose)
	return nil
}

// one simulates and examines a single capture.
func one(p *display.Profile, seed uint64, fields int, kinds, screens []string, reference bool, quality int) run {
	out := run{seed: seed, display: p.Name, distance: math.NaN()}
	scenario := simulator.Random(p, seed, kinds...)
	scenario.Fields = fields
	if len(screens) > 0 {
		scenario.Screen = simulator.Screen(screens[seed/7%uint64(len(screens))])
	}
	captured, truth, err := record(scenario, quality)
	if err != nil {
		out.err = err
		return out
	}
	out.truth = truth
	info := video.Info{Kind: video.KindFile, Rate: p.FieldHz() / 2, Standard: p.Standard, Codec: "MJPG", Block: 8}
	options := patterns.Options{}
	if reference {
		good := scenario
		good.Faults = nil
		good.Chain = simulator.Chain{}
		good.Device = simulator.Device{}
		clean, _, err := record(good, quality)
		if err != nil {
			out.err = err
			return out
		}
		if options.Reference, _, out.err = survey.Run(clean, info, survey.Options{Display: p}); out.err != nil {
			return out
		}
	}
	begin := time.Now()
	s, _, err := survey.Run(captured, info, survey.Options{
		Display: p, Reference: options.Reference, Moved: func(r *analyse.Survey) { options.Reference = r },
	})
	if err != nil {
		out.err = err
		return out
	}
	out.survey, out.verdict = s, patterns.Classify(s, p, options)
	out.seconds = time.Since(begin).Seconds()
	if reg := s.Registration; reg.OK {
		left := math.Hypot((reg.OriginX-truth.OriginX)/truth.PitchX, (reg.OriginY-truth.OriginY)/truth.PitchY)
		w := float64(p.Width)
		right := math.Abs(reg.OriginX+w*reg.PitchX-truth.OriginX-w*truth.PitchX) / truth.PitchX
		out.distance = math.Max(left, right)
	}
	return out
}

// record gives the fields of a scenario as they come out of a recording.
func record(s simulator.Scenario, quality int) ([]*video.Field, simulator.Truth, error) {
	bench, err := simulator.New(s)
	if err != nil {
		return nil, simulator.Truth{}, err
	}
	var fields []*video.Field
	rate := s.Display.FieldHz() / 2
	for {
		f, err := bench.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, simulator.Truth{}, err
		}
		if quality > 0 {
			data, err := picture.EncodeJPEG(nil, f, picture.JPEGOptions{Quality: quality})
			if err != nil {
				return nil, simulator.Truth{}, err
			}
			index, at := f.Index, f.Time
			if f, _, err = picture.DecodeJPEG(data, f.Height); err != nil {
				return nil, simulator.Truth{}, err
			}
			f.Index, f.Time = index, at
		}
		fields = append(fields, f.Fields(s.Order, rate)...)
	}
	return fields, bench.Truth(), nil
}

// name is the kinds of a capture, joined.
func name(faults []simulator.Fault) string {
	var parts []string
	for _, f := range faults {
		if f.Kind != "clean" {
			parts = append(parts, f.Kind)
		}
	}
	if len(parts) == 0 {
		return "clean"
	}
	sort.Strings(parts)
	return strings.Join(parts, "+")
}
