package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"backporch/patterns"
	"backporch/patterns/judge"
)

// A row is the captures of one kind, or pair, or of nothing that shows.
type row struct {
	class, kind tally
	said        map[string]int
}

// A summary is the whole measure.
type summary struct {
	rows                       map[string]*row
	class, kind, alarms, pairs tally
	byReference                [2]tally             // class, without and with
	held                       map[string]*[2]tally // by what stood first in a verdict: its class was right, without and with a reference
	undetermined               [2]tally             // nothing shows, or something does; signal faults always do
	exact, exactNamed          map[string]*tally
	registered                 tally
	distances, seconds         []float64
	verdicts, faults           Calibration
	ablations                  []ablation
}

// An ablation is what leaving terms out does to the same captures.
type ablation struct {
	terms         []judge.Term
	class, kind   tally
	worse, better int // captures whose class it made wrong, and right
}

// summarise counts.
func summarise(runs []run, p *plan) *summary {
	s := &summary{rows: map[string]*row{}, exact: map[string]*tally{}, exactNamed: map[string]*tally{}, held: map[string]*[2]tally{}}
	var verdicts, faults []claim
	for i := range runs {
		r := &runs[i]
		k := s.rows[r.Due]
		if k == nil {
			k = &row{said: map[string]int{}}
			s.rows[r.Due] = k
		}
		k.said[r.Said]++
		k.class.add(r.ClassRight)
		k.kind.add(r.KindRight)
		s.class.add(r.ClassRight)
		s.kind.add(r.KindRight)
		with := 0
		if r.Reference {
			with = 1
		}
		s.byReference[with].add(r.ClassRight)
		if first := stoodFirst(r.verdict); first != "" {
			if s.held[first] == nil {
				s.held[first] = &[2]tally{}
			}
			s.held[first][with].add(r.ClassRight)
		}
		if r.pair {
			s.pairs.add(r.KindRight)
		}
		for what, d := range r.particulars {
			if s.exact[what] == nil {
				s.exact[what], s.exactNamed[what] = &tally{}, &tally{}
			}
			s.exact[what].add(d.right)
			if d.named {
				s.exactNamed[what].add(d.right)
			}
		}
		open := r.Class == string(patterns.Undetermined)
		switch r.Due {
		case "clean":
			s.alarms.add(r.Class != string(patterns.Clean) && !open)
		case hidden:
			s.undetermined[0].add(open)
		default:
			s.undetermined[1].add(open)
		}
		if r.Confidence != nil {
			verdicts = append(verdicts, claim{*r.Confidence, r.ClassRight})
		}
		faults = append(faults, r.claims...)
		s.registered.add(!math.IsNaN(r.distance))
		if !math.IsNaN(r.distance) {
			s.distances = append(s.distances, r.distance)
		}
		s.seconds = append(s.seconds, r.Seconds)
	}
	slices.Sort(s.distances)
	slices.Sort(s.seconds)
	s.verdicts, s.faults = calibrate(verdicts), calibrate(faults)
	for n, terms := range p.ablate {
		a := ablation{terms: terms}
		for i := range runs {
			less := &runs[i].ablated[n]
			a.class.add(less.ClassRight)
			a.kind.add(less.KindRight)
			switch {
			case runs[i].ClassRight && !less.ClassRight:
				a.worse++
			case !runs[i].ClassRight && less.ClassRight:
				a.better++
			}
		}
		s.ablations = append(s.ablations, a)
	}
	return s
}

// stoodFirst is clean, or the kind of the first fault; empty where a verdict names no class.
func stoodFirst(v *patterns.Verdict) string {
	switch {
	case v.Class == patterns.Undetermined:
		return ""
	case v.Class == patterns.Clean:
		return string(v.Class)
	}
	return v.Faults[0].Kind
}

// missed prints a line for each capture that went wrong.
func missed(w io.Writer, runs []run) {
	for i := range runs {
		r := &runs[i]
		exact := true
		for _, d := range r.particulars {
			exact = exact && (d.right || !d.named)
		}
		if r.KindRight && exact {
			continue
		}
		fmt.Fprintf(w, "seed %d %s %s: due %s %s, said %s", r.Seed, r.Display, r.Screen, r.Due, strings.Join(r.Put, "+"), r.Said)
		for _, f := range r.verdict.Faults {
			fmt.Fprintf(w, " [%s %.2f]", f.Describe(nil), f.Probability)
		}
		fmt.Fprintf(w, " off %.2f px, %s, %s; %s\n", r.distance, r.state, r.reason, strings.Join(r.verdict.Why, "; "))
	}
	fmt.Fprintln(w)
}

// print writes the measure for a reader.
func (s *summary) print(w io.Writer) {
	fmt.Fprintf(w, "%-30s %-37s %s\n", "recall (95 % interval)", "class", "kind")
	for _, n := range slices.Sorted(maps.Keys(s.rows)) {
		r := s.rows[n]
		fmt.Fprintf(w, "%-30s %-37s %-37s %s\n", n, r.class, r.kind, others(n, r.said))
	}
	line := func(what string, v any) { fmt.Fprintf(w, "%-44s %v\n", what, v) }
	fmt.Fprintln(w)
	line("class right", s.class)
	if s.byReference[1].of > 0 {
		line("  without a reference", s.byReference[0])
		line("  with a reference", s.byReference[1])
	}
	line("kind right", s.kind)
	line("both of a pair named", s.pairs)
	line("false alarms on clean captures", s.alarms)
	line("undetermined where nothing shows", s.undetermined[0])
	line("undetermined where a fault shows", s.undetermined[1])
	line("registered", s.registered)
	fmt.Fprintf(w, "\n%-44s %-37s %s\n", "exact", "of all that show", "where the kind is named")
	for _, what := range slices.Sorted(maps.Keys(s.exact)) {
		fmt.Fprintf(w, "%-44s %-37s %s\n", what, s.exact[what], s.exactNamed[what])
	}
	fmt.Fprintf(w, "\n%-30s %-37s %s\n", "class right where said first", "without a reference", "with one")
	for _, what := range slices.Sorted(maps.Keys(s.held)) {
		fmt.Fprintf(w, "%-30s %-37s %s\n", what, s.held[what][0], s.held[what][1])
	}
	s.verdicts.print(w, "verdicts' confidence of the class")
	s.faults.print(w, "probability of each listed fault, particulars too")
	if len(s.ablations) > 0 {
		fmt.Fprintf(w, "\n%-22s %-37s %-37s %s\n", "without", "class", "kind", "made wrong, made right, P by chance")
		fmt.Fprintf(w, "%-22s %-37s %s\n", "(nothing left out)", s.class, s.kind)
		for _, a := range s.ablations {
			fmt.Fprintf(w, "%-22s %-37s %-37s %d, %d, %.2g\n", joined(a.terms), a.class, a.kind, a.worse, a.better, mcnemar(a.worse, a.better))
		}
	}
	fmt.Fprintln(w)
	if n := len(s.distances); n > 0 {
		fmt.Fprintf(w, "registration: median %.3f px, 95 %% within %.3f, worst %.2f\n", s.distances[n/2], s.distances[n*95/100], s.distances[n-1])
	}
	if n := len(s.seconds); n > 0 {
		fmt.Fprintf(w, "seconds a capture, to examine: median %.2f, worst %.2f\n", s.seconds[n/2], s.seconds[n-1])
	}
}

func joined(terms []judge.Term) string {
	var parts []string
	for _, t := range terms {
		parts = append(parts, string(t))
	}
	return strings.Join(parts, "+")
}

// others lists what was said instead, the commonest first.
func others(due string, said map[string]int) string {
	names := slices.Collect(maps.Keys(said))
	slices.SortFunc(names, func(a, b string) int {
		if said[a] != said[b] {
			return said[b] - said[a]
		}
		return strings.Compare(a, b)
	})
	var parts []string
	for _, n := range names {
		if n != due {
			parts = append(parts, fmt.Sprintf("%s %d", n, said[n]))
		}
	}
	return strings.Join(parts, ", ")
}

func (c *Calibration) print(w io.Writer, what string) {
	fmt.Fprintf(w, "\ncalibration: %s\n", what)
	if c.Claims == 0 {
		fmt.Fprintln(w, "  none was stated")
		return
	}
	fmt.Fprintf(w, "  Brier %.4f, expected calibration error %.4f (%.4f by chance alone) of %d\n", *c.Brier, *c.Error, *c.Beyond, c.Claims)
	for _, b := range c.Bins {
		if b.Claims > 0 {
			fmt.Fprintf(w, "  %.1f to %.1f  %5d  stated %.3f  right %.3f\n", b.From, b.To, b.Claims, *b.Stated, *b.Right)
		}
	}
}
