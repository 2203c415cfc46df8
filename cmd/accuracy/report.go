package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
	"strings"

	"backporch/patterns"
	"backporch/video/simulator"
)

// classes of the simulator's kinds, for the verdict that is due.
func classOf(kind string) patterns.Class {
	if kind == "clean" {
		return patterns.Clean
	}
	for _, k := range patterns.Catalogue() {
		if k.Name == kind {
			return k.Class
		}
	}
	return patterns.Undetermined
}

// A tally counts successes.
type tally struct{ good, of int }

func (t *tally) add(good bool) {
	t.of++
	if good {
		t.good++
	}
}

func (t tally) String() string {
	if t.of == 0 {
		return "     -"
	}
	low, high := wilson(t.good, t.of)
	return fmt.Sprintf("%4d of %4d  %5.1f %% (%.1f to %.1f)", t.good, t.of, 100*float64(t.good)/float64(t.of), 100*low, 100*high)
}

// wilson is the 95 % score interval of a proportion (NIST/SEMATECH e-Handbook 7.2.4.1).
func wilson(k, n int) (low, high float64) {
	const z = 1.959964
	p, m := float64(k)/float64(n), float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return math.Max(0, centre-half), math.Min(1, centre+half)
}

// said is what a verdict names, as the labels are written.
func said(v *patterns.Verdict) string {
	if v.Class == patterns.Undetermined {
		return "undetermined"
	}
	if v.Class == patterns.Clean {
		return "clean"
	}
	var parts []string
	for _, f := range v.Faults {
		if f.Probability >= 0.5 {
			parts = append(parts, f.Kind)
		}
	}
	sort.Strings(parts)
	return strings.Join(parts, "+")
}

// hidden stands for faults of which nothing shows.
const hidden = "(nothing shows)"

// report prints the measure.
func report(w io.Writer, runs []run, verbose bool) {
	type row struct{ class, kind, exact tally }
	rows := map[string]*row{}
	confusion := map[string]map[string]int{}
	var all row
	var undetermined, alarms tally
	var distances, seconds []float64
	var registered tally
	for i := range runs {
		r := &runs[i]
		due := name(r.truth.Faults)
		if !r.truth.Visible && due != "clean" && classOf(due) != patterns.Signal {
			due = hidden // nothing of it shows: clean and undetermined are both right
		}
		k := rows[due]
		if k == nil {
			k = &row{}
			rows[due], confusion[due] = k, map[string]int{}
		}
		got := said(r.verdict)
		confusion[due][got]++
		class := patterns.Clean
		if due != "clean" {
			class = dueClass(r.truth.Faults)
		}
		right, exactKind := r.verdict.Class == class, got == due
		if due == hidden {
			right = r.verdict.Class == patterns.Clean || r.verdict.Class == patterns.Undetermined
			exactKind = right
		}
		k.class.add(right)
		all.class.add(right)
		k.kind.add(exactKind)
		all.kind.add(exactKind)
		exact := true
		for _, f := range r.truth.Faults {
			if f.Kind == "data-bit-stuck" && due != hidden {
				exact = named(r.verdict, f)
				k.exact.add(exact)
				all.exact.add(exact)
			}
		}
		undetermined.add(got == "undetermined")
		if due == "clean" {
			alarms.add(got != "clean" && got != "undetermined")
		}
		registered.add(!math.IsNaN(r.distance))
		if !math.IsNaN(r.distance) {
			distances = append(distances, r.distance)
		}
		seconds = append(seconds, r.seconds)
		if verbose && (!exactKind || !exact) {
			fmt.Fprintf(w, "seed %d %s %s: due %s %+v, said %s", r.seed, r.display, r.truth.Screen, due, r.truth.Faults, got)
			for _, f := range r.verdict.Faults {
				fmt.Fprintf(w, " [%s %.2f]", f.Describe(nil), f.Probability)
			}
			fmt.Fprintf(w, " off %.2f px, %s, %s; %s\n", r.distance, r.survey.Sync.State, r.survey.Registration.Reason, strings.Join(r.verdict.Why, "; "))
		}
	}
	var names []string
	for n := range rows {
		names = append(names, n)
	}
	slices.Sort(names)
	fmt.Fprintln(w)
	for _, n := range names {
		fmt.Fprintf(w, "%-28s class %s  kind %s", n, rows[n].class, rows[n].kind)
		if rows[n].exact.of > 0 {
			fmt.Fprintf(w, "  bit and level %s", rows[n].exact)
		}
		fmt.Fprintf(w, "  said %v\n", confusion[n])
	}
	fmt.Fprintf(w, "\nclass           %s\nkind            %s\nbit and level   %s\nfalse alarms    %s\nundetermined    %s\nregistered      %s\n",
		all.class, all.kind, all.exact, alarms, undetermined, registered)
	slices.Sort(distances)
	slices.Sort(seconds)
	if n := len(distances); n > 0 {
		fmt.Fprintf(w, "registration    median %.3f px, 95 %% within %.3f, worst %.2f\n", distances[n/2], distances[n*95/100], distances[n-1])
	}
	if n := len(seconds); n > 0 {
		fmt.Fprintf(w, "seconds         median %.2f, worst %.2f a capture\n", seconds[n/2], seconds[n-1])
	}
}

// dueClass is the class of the fault that explains the most: the logic's before the path's.
func dueClass(faults []simulator.Fault) patterns.Class {
	class := patterns.Clean
	for _, f := range faults {
		if c := classOf(f.Kind); c != patterns.Clean && (class == patterns.Clean || class == patterns.Signal) {
			class = c
		}
	}
	return class
}

// named tells whether the verdict's stuck bit is the true one.
func named(v *patterns.Verdict, f simulator.Fault) bool {
	for _, g := range v.Faults {
		if g.Kind == f.Kind && g.Probability >= 0.5 {
			return *g.Bit == f.Bit && *g.Level == f.Level
		}
	}
	return false
}
