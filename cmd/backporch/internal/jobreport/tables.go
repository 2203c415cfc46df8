package jobreport

import (
	"fmt"
	"slices"
	"time"

	"backporch/cmd/backporch/internal/job"
)

// changes replays the moves: what each position held first, and what it holds now.
func (m *Model) changes(line []job.Entry, ledger []job.Part) {
	said := map[string]string{}
	for _, p := range ledger {
		if p.Condition != job.Unknown {
			said[p.Name] = string(p.Condition)
			if p.Reason != "" {
				said[p.Name] += ": " + p.Reason
			}
		} else if p.Reason != "" {
			said[p.Name] = p.Reason
		}
	}
	first, now := map[string]string{}, map[string]string{}
	var order []string
	for _, e := range line {
		if e.Kind != job.KindPull && e.Kind != job.KindFit {
			continue
		}
		position := e.Move.Position
		if _, known := first[position]; !known {
			order = append(order, position)
			first[position] = ""
			if e.Kind == job.KindPull {
				first[position] = e.Move.Part
			}
		}
		now[position] = ""
		if e.Kind == job.KindFit {
			now[position] = e.Move.Part
		}
	}
	for _, position := range order {
		if out, in := first[position], now[position]; out != in {
			m.Changes = append(m.Changes, Change{position, out, in, said[out], said[in]})
		}
	}
}

// measures sets the first value of each figure beside the last.
func (m *Model) measures(line []job.Entry, t course) {
	type figure struct {
		row           Row
		first, latest int
		value         [2]*float64
	}
	var order []string
	all := map[string]*figure{}
	for i, e := range line {
		for _, measure := range e.Measures {
			f := all[measure.Name]
			if f == nil {
				f = &figure{row: Row{Name: measure.Name, Unit: measure.Unit}, first: -1}
				all[measure.Name] = f
				order = append(order, measure.Name)
			}
			if measure.Value == nil || measure.Unit != f.row.Unit {
				continue
			}
			if f.first < 0 {
				f.first, f.value[0] = i, measure.Value
			}
			f.latest, f.value[1] = i, measure.Value
			f.row.Note = measure.Note
		}
	}
	for _, name := range order {
		f := all[name]
		if f.first < 0 {
			continue
		}
		// A figure taken once is 'after' only when it was taken after the repair.
		switch {
		case f.latest > f.first:
			f.row.Before, f.row.After = Number(*f.value[0]), Number(*f.value[1])
		case t.moved >= 0 && f.first > t.moved:
			f.row.After = Number(*f.value[0])
		default:
			f.row.Before = Number(*f.value[0])
		}
		m.Measures = append(m.Measures, f.row)
	}
}

// Number writes a figure with as many digits as can be meant.
func Number(v float64) string {
	switch a := max(v, -v); {
	case v == float64(int64(v)) && a < 1e6:
		return fmt.Sprintf("%.0f", v)
	case a >= 100:
		return fmt.Sprintf("%.0f", v)
	case a >= 10:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2g", v)
}

// shortSoak is how long a machine is watched at least before an intermittent fault can be thought
// gone; common practice, no source.
const shortSoak = 3600

// doubtful is the confidence under which a job's last verdict is said to be no more than that: a clean picture alone is
// stated at 0.73 at the most, where the screen says something.
const doubtful = 0.7

func (m *Model) cautions(line []job.Entry, t course, warned []string) {
	add := func(s string) {
		if s = sentence(s); !slices.Contains(m.Cautions, s) {
			m.Cautions = append(m.Cautions, s)
		}
	}
	if m.unchanged {
		add("the fault went away although no part was changed: a contact or a fault that comes and goes can return")
	}
	if m.Tone == Faulty {
		add("the fault is still there: do not leave the machine switched on unattended")
	}
	if t.clean >= 0 && t.fault >= 0 {
		switch soaked := t.soak > t.moved && t.soak > t.worst; {
		case !soaked:
			add("it was not watched for hours after the repair: a fault that shows only now and then would not have been seen")
		case line[t.soak].Soak.Seconds < shortSoak:
			add(fmt.Sprintf("it was watched for %s only: a rarer fault would not have been seen",
				Span(time.Duration(line[t.soak].Soak.Seconds*float64(time.Second)))))
		}
	}
	if t.soak >= 0 && line[t.soak].Soak.Events > 0 && t.soak > t.moved {
		add("while it was watched something went wrong: see what is said of it above")
	}
	if v := lastVerdict(t); v != nil && v.Confidence != nil && *v.Confidence < doubtful {
		add("the last verdict is only " + Sure(*v.Confidence))
	}
	for _, w := range warned {
		add(w)
	}
	for _, e := range line {
		for _, w := range e.Warnings {
			add(fmt.Sprintf("%s, of %s: %s", e.Command, on(e.At), w))
		}
	}
}

func lastVerdict(t course) *job.Verdict {
	if t.last < 0 {
		return nil
	}
	return t.line[t.last].Verdict
}
