// Command accuracy measures the classifier: it simulates seeded random captures, passes each through the recorder's
// compression and the code that check runs, and prints how often class, kind and particulars were right, how sure it was
// and what each term of the evidence is worth.
//
//	go run ./cmd/accuracy -n 300 -seed 1
//	go run ./cmd/accuracy -n 2000 -seed 1 -display all -kind all -quality 0,60,75,90 -references 0.5 -out accuracy
//	go run ./cmd/accuracy -n 400 -seed 1 -kind all -ablate all
//
// The simulator's labels are read here and nowhere in the analysis. Captures of our own simulator
// prove consistency, not truth.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"backporch/patterns/judge"
	"backporch/video/display"
	"backporch/video/simulator"
)

// A plan is what to measure.
type plan struct {
	n          int
	seed       uint64
	fields     int
	least      bool // kinds that need a longer capture have one
	profiles   []*display.Profile
	kinds      map[string][]string // by display; none: the common ones
	screens    []string
	references float64 // share of captures with a reference
	qualities  []int   // of the recorder's JPEG, by seed; 0: not compressed
	ablate     [][]judge.Term
	verbose    bool
	progress   func(done int) // nil: silent
}

func main() {
	n := flag.Int("n", 300, "captures")
	seed := flag.Uint64("seed", 1, "the first seed")
	fields := flag.Int("fields", 24, "fields a capture; when not given, kinds that need more have more")
	displays := flag.String("display", "attr-256x192-50,attr-256x192-60", "display profiles, with commas, or all")
	kinds := flag.String("kind", "", "kinds, with commas, or all, with pairs; empty: the common ones")
	screens := flag.String("screen", "", "sorts of screen, with commas; empty: all")
	reference := flag.Bool("reference", false, "give a good machine's capture of the same screen as reference")
	references := flag.Float64("references", 0, "share of the captures that have such a reference")
	quality := flag.String("quality", "85", "JPEG quality of the recorder, or several with commas, by seed; 0: not compressed")
	ablate := flag.String("ablate", "", "evidence terms to leave out, each by itself, with commas, or all; a+b: both at once")
	out := flag.String("out", "", "folder for results.json and confusion.png")
	verbose := flag.Bool("v", false, "a line for every capture that went wrong")
	flag.Parse()
	p, err := newPlan(*displays, *kinds, *screens, *quality, *ablate)
	if err == nil {
		p.n, p.seed, p.fields, p.verbose, p.references, p.least = *n, *seed, *fields, *verbose, *references, true
		flag.Visit(func(f *flag.Flag) { p.least = p.least && f.Name != "fields" })
		if *reference {
			p.references = 1
		}
		if info, e := os.Stderr.Stat(); e == nil && info.Mode()&os.ModeCharDevice != 0 {
			p.progress = func(done int) { fmt.Fprintf(os.Stderr, "\r%d of %d", done, p.n) }
		}
		err = p.run(*out)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(2)
	}
}

// run measures, prints and writes.
func (p *plan) run(out string) error {
	runs, err := p.measure()
	if err != nil {
		return err
	}
	if p.progress != nil {
		fmt.Fprint(os.Stderr, "\r")
	}
	r := summarise(runs, p)
	if p.verbose {
		missed(os.Stdout, runs)
	}
	r.print(os.Stdout)
	if out == "" {
		return nil
	}
	return r.write(out, runs)
}

// clean stands several times among all kinds, so that false alarms are counted on enough good machines.
const cleanWeight = 8

// pairs are faults of the path and of the logic together.
var pairs = []string{
	"noise+data-bit-stuck", "hum+data-bit-stuck", "ghost+data-bit-stuck", "low-bandwidth+address-line-stuck", "level-low+data-bit-weak",
	"fixed-bars+line-counter", "noise+cell-fetch", "ringing+colour-path", "interference+row-dead", "noise+power-up-pattern",
}

// newPlan reads what was asked for; nothing is simulated before all of it is known to exist.
func newPlan(displays, kinds, screens, quality, ablate string) (*plan, error) {
	p := &plan{kinds: map[string][]string{}}
	all, err := display.Load("")
	if err != nil {
		return nil, err
	}
	if displays == "all" {
		p.profiles = all
	} else {
		for _, name := range strings.Split(displays, ",") {
			one, err := display.Find(all, name)
			if err != nil {
				return nil, err
			}
			p.profiles = append(p.profiles, one)
		}
	}
	var names []string
	switch kinds {
	case "":
	case "all":
		for range cleanWeight - 1 {
			names = append(names, "clean")
		}
		names = append(append(names, simulator.Kinds()...), pairs...)
	default:
		names = strings.Split(kinds, ",")
	}
	for _, name := range names {
		if _, err := simulator.ParseFaults(name); err != nil {
			return nil, err
		}
	}
	for _, one := range p.profiles {
		for _, name := range names {
			if kinds == "all" && !has(one, name) {
				continue
			}
			p.kinds[one.Name] = append(p.kinds[one.Name], name)
		}
	}
	if screens != "" {
		p.screens = strings.Split(screens, ",")
		for _, s := range p.screens {
			if !slices.Contains(simulator.Screens(), simulator.Screen(s)) {
				return nil, fmt.Errorf("no screen %q; there are %v", s, simulator.Screens())
			}
		}
	}
	for _, q := range strings.Split(quality, ",") {
		v, err := strconv.Atoi(q)
		if err != nil || v < 0 || v > 100 {
			return nil, fmt.Errorf("-quality %q: 1 to 100, or 0 for no compression", q)
		}
		p.qualities = append(p.qualities, v)
	}
	if ablate == "all" {
		for _, t := range judge.Terms() {
			p.ablate = append(p.ablate, []judge.Term{t})
		}
	} else if ablate != "" {
		for _, text := range strings.Split(ablate, ",") {
			terms, err := judge.ParseTerms(text)
			if err != nil {
				return nil, err
			}
			p.ablate = append(p.ablate, terms)
		}
	}
	return p, nil
}

// has tells whether a display can have a fault.
func has(p *display.Profile, name string) bool {
	_, err := simulator.New(simulator.Random(p, 1, name))
	return err == nil
}

// measure takes all captures, on as many cores as there are.
func (p *plan) measure() ([]run, error) {
	runs := make([]run, p.n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.NumCPU() {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				runs[i] = p.one(p.seed + uint64(i))
			}
		}()
	}
	for i := range runs {
		next <- i
		if p.progress != nil {
			p.progress(i)
		}
	}
	close(next)
	wait.Wait()
	for i := range runs {
		if err := runs[i].err; err != nil {
			return nil, fmt.Errorf("seed %d: %w", runs[i].Seed, err)
		}
	}
	return runs, nil
}
