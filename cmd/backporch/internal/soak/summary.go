package soak

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"backporch/analyse/drift"
	"backporch/analyse/rate"
	"backporch/cmd/backporch/internal/stimulus"
)

// A Summary is what a log says.
type Summary struct {
	Tool, Source, Display, Verdict string
	Rate                           float64 // fields a second, nominal
	Began, Ended                   time.Time
	Sessions                       int
	Total                          Beat
	Events                         []Event
	Stills                         []Still
	Notes                          []Remark // what befell the source
	Marks                          []Mark
	Gaps                           []Remark // when nobody watched, or no picture came
	Beats                          []Point

	cutOff *Event // the event that went on when the log ended
}

// A Remark is a line with its time; Seconds is a gap's length.
type Remark struct {
	At      time.Time `json:"at"`
	Text    string    `json:"text"`
	Seconds float64   `json:"seconds,omitempty"`
}

// A Mark is what was done to the board, with what had been counted until then.
type Mark struct {
	At   time.Time
	Text string
	Beat
}

// A Point is a beat with its wall clock and session.
type Point struct {
	At      time.Time
	Session int
	Beat
}

// silence is the time without a beat that counts as a gap; beats come every second.
const silence = 5 * time.Second

// Summarise makes a summary of a log's records.
func Summarise(records []Record) *Summary {
	s := &Summary{}
	seen := map[int]bool{}
	over := true // no session is open
	var last time.Time
	for _, r := range records {
		if s.Began.IsZero() {
			s.Began = r.At
		}
		if quiet := r.At.Sub(last); !last.IsZero() && !over && quiet > silence && r.Type == typeBeat {
			s.Gaps = append(s.Gaps, Remark{At: last, Text: "the computer stood still, or its clock was set", Seconds: quiet.Seconds()})
		}
		last, s.Ended = r.At, r.At
		switch r.Type {
		case typeBegin:
			s.begin(r.Begin)
			over = false
		case typeBeat:
			if r.Beat != nil {
				s.Total = *r.Beat
				s.Beats = append(s.Beats, Point{At: r.At, Session: s.Sessions, Beat: *r.Beat})
			}
		case typeEvent:
			if r.Event != nil && !seen[r.Event.Number] {
				seen[r.Event.Number] = true
				s.Events = append(s.Events, *r.Event)
			}
		case typeStill:
			if r.Still != nil {
				s.Stills = append(s.Stills, *r.Still)
			}
		case typeNote:
			note := Remark{At: r.At, Text: r.Text, Seconds: r.Gap}
			if r.Gap > 0 {
				s.Gaps = append(s.Gaps, note)
			}
			s.Notes = append(s.Notes, note)
			over = true // what was said explains the silence
		case typeMark:
			if r.Beat != nil {
				s.Marks = append(s.Marks, Mark{At: r.At, Text: r.Text, Beat: *r.Beat})
			}
		case typeEnd:
			over = true
		}
		if r.Type == typeBeat {
			over = false
		}
	}
	if open := s.Total.Open; open != nil && !seen[open.Number] {
		cut := *open
		cut.Cut = true
		s.cutOff = &cut
		s.Events = append(s.Events, cut)
	}
	s.Total.Events = len(s.Events)
	return s
}

func (s *Summary) begin(b *Begin) {
	if b == nil {
		return
	}
	if b.Display == "" && b.Verdict == "" { // the first of a session's two
		s.Sessions++
	}
	s.Tool, s.Source = b.Tool, b.Source
	s.Rate = b.Rate
	if b.Display != "" {
		s.Display = b.Display
	}
	if b.Verdict != "" {
		s.Verdict = b.Verdict
	}
}

// highest is the greatest number of an event.
func (s *Summary) highest() int {
	n := 0
	for _, e := range s.Events {
		n = max(n, e.Number)
	}
	return n
}

// confidence of the statement at the end.
const confidence = 0.95

// Upper is the rate of events, an hour, that the true one is below; nil when nothing was watched.
func (s *Summary) Upper() *float64 {
	v, err := rate.Upper(rate.Count{Events: len(s.Events), Exposure: s.Total.Seconds / 3600}, confidence)
	if err != nil {
		return nil
	}
	return &v
}

// Statement says what the hours prove.
func (s *Summary) Statement() string {
	upper := s.Upper()
	if upper == nil {
		return "Nothing was watched, so nothing is proved."
	}
	what := "With no event in " + length(s.Total.Seconds)
	if n := len(s.Events); n > 0 {
		what = fmt.Sprintf("With %s in %s", count(n, "event"), length(s.Total.Seconds))
	}
	return fmt.Sprintf("%s, the machine has fewer than %s events an hour (one in %s or rarer), at 95 %% confidence.",
		what, figure(*upper), length(3600 / *upper))
}

// Stimuli are the marks, each with what was counted from the one before it to the next.
func (s *Summary) Stimuli() []stimulus.Result {
	out := []stimulus.Result{}
	var before Beat
	for i, m := range s.Marks {
		after := s.Total
		if i+1 < len(s.Marks) {
			after = s.Marks[i+1].Beat
		}
		out = append(out, stimulus.New(m.Text, m.At, between(before, m.Beat), between(m.Beat, after)))
		before = m.Beat
	}
	return out
}

// between is what was counted from one beat to another.
func between(a, b Beat) rate.Watch {
	w := rate.Watch{Fields: b.Fields - a.Fields, Bad: b.Bad - a.Bad, Seconds: b.Seconds - a.Seconds, Errored: b.Errored - a.Errored}
	if w.Seconds > 0 {
		w.WholeSeconds = int(b.Seconds) - int(a.Seconds) + 1
	}
	return w
}

// Worst are the gravest events, at most n.
func (s *Summary) Worst(n int) []Event {
	grave := map[string]int{
		string(drift.NoSignal): 6, string(drift.LostLock): 5, string(drift.Frozen): 4,
		string(drift.BadField): 3, string(drift.Border): 2, string(drift.Changed): 1,
	}
	out := slices.Clone(s.Events)
	slices.SortStableFunc(out, func(a, b Event) int {
		return cmp.Or(grave[b.Kind]-grave[a.Kind], b.Excess-a.Excess, a.Number-b.Number)
	})
	return out[:min(len(out), n)]
}

// StillsOf are the stills of one event.
func (s *Summary) StillsOf(event int) []Still {
	var out []Still
	for _, st := range s.Stills {
		if st.Event == event {
			out = append(out, st)
		}
	}
	return out
}

// kinds counts the events.
func (s *Summary) kinds() map[string]int {
	out := map[string]int{}
	for _, e := range s.Events {
		out[e.Kind]++
	}
	return out
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// figure prints three significant digits without an exponent.
func figure(v float64) string {
	switch {
	case v >= 100:
		return fmt.Sprintf("%.0f", v)
	case v >= 10:
		return fmt.Sprintf("%.1f", v)
	case v >= 0.1:
		return fmt.Sprintf("%.2f", v)
	}
	return fmt.Sprintf("%.2g", v)
}

// length says seconds as people do.
func length(seconds float64) string {
	switch {
	case seconds < 1:
		return fmt.Sprintf("%.2f s", seconds)
	case seconds < 60:
		return fmt.Sprintf("%.1f s", seconds)
	case seconds < 3600:
		return fmt.Sprintf("%d min %02d s", int(seconds)/60, int(seconds)%60)
	case seconds < 100*3600:
		return fmt.Sprintf("%d h %02d min", int(seconds)/3600, int(seconds)/60%60)
	}
	return fmt.Sprintf("%.1f days", seconds/86400)
}
