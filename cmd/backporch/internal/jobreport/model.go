package jobreport

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"backporch/cmd/backporch/internal/job"
)

// Options for New; the zero value is the usual report.
type Options struct {
	Tool  string    // name and version, for the foot
	Now   time.Time // zero: now
	Notes bool      // the technician's notes too
}

// Tone is how the answer is meant.
type Tone string

// The tones.
const (
	Well   Tone = "well"
	Faulty Tone = "faulty"
	Unsure Tone = "unsure"
)

// A Model is what a report says, in the order in which it says it.
type Model struct {
	Job     job.Job
	Tool    string
	Made    time.Time
	Machine string

	Tone   Tone
	Answer string   // a few words
	Lead   []string // what that means, a paragraph each

	Found     *Finding // the fault, as it was first seen
	Before    *Picture
	After     *Picture
	Close     *Picture   // the marked copy of the fault
	Others    []*Picture // photos and further stills
	More      int        // pictures that were left out
	Unshown   []string   // pictures that could not be shown, and why
	Changes   []Change
	Measures  []Row
	Soak      string
	Compared  string
	Cautions  []string
	Next      []string // what to test, while the fault is there
	Screen    []string // the text on it, when the fault was seen
	Line      []Moment
	Verdicts  []json.RawMessage // as the commands said them, for the bundle
	pictures  []*Picture
	unchanged bool // the fault went although nothing was done
}

// A Finding is a verdict in words.
type Finding struct {
	When    time.Time
	Heading string // class and how sure
	Summary string
	Meaning string
	Why     []string
	Good    []string
}

// A Change is a position that holds another part than when the machine came.
type Change struct {
	Position string
	Out, In  string // parts; In "" while the position is empty
	OutSaid  string // condition and reason
	InSaid   string
}

// A Row is a figure before and after; "" was not measured.
type Row struct{ Name, Unit, Before, After, Note string }

// A Moment is an entry of the time line.
type Moment struct {
	When time.Time
	Said string
}

// Figures are those that were taken before the repair and after it: what a reader looks for. Where
// there are none all are shown.
func (m *Model) Figures() []Row {
	var both []Row
	for _, r := range m.Measures {
		if r.Before != "" && r.After != "" {
			both = append(both, r)
		}
	}
	if len(both) == 0 {
		return m.Measures
	}
	return both
}

// Once says the figures that Figures leaves out, in a line.
func (m *Model) Once() string {
	var said []string
	for _, r := range m.Measures {
		if len(m.Figures()) < len(m.Measures) && (r.Before == "" || r.After == "") {
			said = append(said, strings.TrimSpace(r.Name+" "+r.Before+r.After+" "+r.Unit))
		}
	}
	if said == nil {
		return ""
	}
	return "Measured once: " + strings.Join(said, "; ") + "."
}

// HasBefore tells whether any figure was taken before the repair, HasAfter whether one was
// taken after it.
func (m *Model) HasBefore() bool {
	return slices.ContainsFunc(m.Measures, func(r Row) bool { return r.Before != "" })
}

func (m *Model) HasAfter() bool {
	return slices.ContainsFunc(m.Measures, func(r Row) bool { return r.After != "" })
}

// Pair is the pictures before and after, those that there are.
func (m *Model) Pair() []*Picture {
	var pair []*Picture
	for _, p := range []*Picture{m.Before, m.After} {
		if p != nil {
			pair = append(pair, p)
		}
	}
	return pair
}

// PairTitle heads them.
func (m *Model) PairTitle() string {
	if len(m.Pair()) == 2 {
		return "Before and after"
	}
	return "Its picture"
}

// Shown is all pictures, in the order in which they are shown.
func (m *Model) Shown() []*Picture { return m.pictures }

// New reads a job and makes its report.
func New(ctx context.Context, s *job.Store, id int64, o Options) (*Model, error) {
	j, err := s.Job(ctx, id)
	if err != nil {
		return nil, err
	}
	line, err := s.Timeline(ctx, id)
	if err != nil {
		return nil, err
	}
	if o.Now.IsZero() {
		o.Now = time.Now()
	}
	m := &Model{Job: j, Tool: o.Tool, Made: o.Now, Machine: j.Name()}
	t := survey(line)
	if err := m.found(ctx, s, t); err != nil {
		return nil, err
	}
	m.answer(t)
	ledger, err := s.Parts(ctx)
	if err != nil {
		return nil, err
	}
	m.changes(line, ledger)
	m.measures(line, t)
	m.choose(s, line, t)
	warned, err := s.Warnings(ctx, id, job.Closing)
	if err != nil {
		return nil, err
	}
	m.cautions(line, t, warned)
	for _, e := range line {
		if e.Kind != job.KindNote || o.Notes {
			if e.Source != "" && !strings.HasPrefix(e.Source, "/dev/") {
				e.Source = filepath.Base(e.Source) // where it lay is nobody's business
			}
			m.Line = append(m.Line, Moment{e.At, Say(e)})
		}
	}
	return m, nil
}

// A course is the turning points of a time line; indices into it, -1 when there is none.
type course struct {
	line   []job.Entry
	fault  int // the first verdict of a fault
	worst  int // the last one
	last   int // the last verdict that says something
	clean  int // the last one if it is clean, after a fault or without
	moved  int // the last part that was fitted
	soak   int
	change bool // something was fitted between the last fault and the clean verdict
}

func survey(line []job.Entry) course {
	t := course{line: line, fault: -1, worst: -1, last: -1, clean: -1, moved: -1, soak: -1}
	for i, e := range line {
		if v := e.Verdict; v != nil && v.Class != "" {
			switch v.Class {
			case "clean":
				t.last = i
			case "undetermined":
				if t.last < 0 || e.Command != "grab" {
					t.last = i
				}
			default:
				if t.fault < 0 {
					t.fault = i
				}
				t.worst, t.last = i, i
			}
		}
		if e.Kind == job.KindFit {
			t.moved = i
		}
		if e.Soak != nil {
			t.soak = i
		}
	}
	if t.last >= 0 && line[t.last].Verdict.Class == "clean" {
		t.clean = t.last
		for i := t.worst + 1; t.worst >= 0 && i < t.clean; i++ {
			t.change = t.change || line[i].Kind == job.KindFit
		}
	}
	return t
}

// said is what of a check's JSON a report shows (schema 1).
type said struct {
	Verdict struct {
		Good []string `json:"good"`
		Why  []string `json:"why"`
		Next []string `json:"next"`
	} `json:"verdict"`
}

func (m *Model) found(ctx context.Context, s *job.Store, t course) error {
	read := func(i int) (d said, err error) {
		raw, err := s.Report(ctx, t.line[i].ID)
		if err != nil || raw == nil {
			return d, err
		}
		m.Verdicts = append(m.Verdicts, raw)
		// Another command's JSON says other things; what it does not say stays out.
		_ = json.Unmarshal(raw, &d)
		return d, nil
	}
	shown := t.fault
	if shown < 0 {
		shown = t.last
	}
	if shown < 0 {
		return nil
	}
	e := t.line[shown]
	d, err := read(shown)
	if err != nil {
		return err
	}
	m.Found = &Finding{When: e.At, Heading: Heading(e.Verdict), Summary: e.Verdict.Summary, Meaning: e.Meaning, Why: d.Verdict.Why, Good: d.Verdict.Good}
	m.Screen = e.Screen
	m.Next = d.Verdict.Next
	if t.last != shown {
		if d, err = read(t.last); err != nil {
			return err
		}
		m.Next = d.Verdict.Next
	}
	if t.clean >= 0 {
		m.Next = nil
	}
	return nil
}

// answer says first how it stands.
func (m *Model) answer(t course) {
	lead := func(format string, args ...any) { m.Lead = append(m.Lead, fmt.Sprintf(format, args...)) }
	m.Tone = Unsure
	switch {
	case t.last < 0:
		m.Answer = "Not examined yet"
		lead("No picture of this machine has been judged so far.")
	case t.clean >= 0 && t.fault < 0:
		m.Tone, m.Answer = Well, "No fault to be seen"
		lead("The picture of %s shows nothing wrong.", on(t.line[t.clean].At))
	case t.clean >= 0 && t.change:
		m.Tone, m.Answer = Well, "The fault is gone"
		lead("The machine came with a fault: %s. After the repair its picture of %s shows nothing wrong.", plainly(t.line[t.fault]), on(t.line[t.clean].At))
	case t.clean >= 0:
		m.unchanged = true
		m.Answer = "The fault does not show any more"
		lead("The machine came with a fault: %s. The picture of %s shows nothing wrong, although no part was changed in between.", plainly(t.line[t.fault]), on(t.line[t.clean].At))
	case t.line[t.last].Verdict.Class == "undetermined" && t.fault < 0:
		m.Answer = "Not settled yet"
		lead("The picture of %s does not say what is wrong.", on(t.line[t.last].At))
	case t.last != t.worst: // undetermined after a fault
		m.Answer = "Not settled yet"
		lead("The machine came with a fault: %s. The last picture, of %s, does not settle whether it is gone.", plainly(t.line[t.fault]), on(t.line[t.last].At))
	default:
		m.Tone, m.Answer = Faulty, "There is a fault"
		lead("The picture of %s shows it: %s.", on(t.line[t.last].At), plainly(t.line[t.last]))
		if f, l := t.line[t.fault].Verdict, t.line[t.last].Verdict; f.Class != l.Class || f.Kind != l.Kind {
			lead("It is another one than at first, which was: %s.", plainly(t.line[t.fault]))
		}
	}
	if m.Job.State == job.StateClosed && m.Job.Outcome != "" {
		lead("%s", sentence(m.Job.Outcome))
	}
	if m.Job.State == job.StateWaiting {
		lead("The job waits: %s", sentence(m.waitsFor(t.line)))
	}
	if t.soak >= 0 {
		m.Soak = sentence(SoakLine(t.line[t.soak].Soak)) + " This was on " + on(t.line[t.soak].At) + "."
	}
	for _, e := range slices.Backward(t.line) {
		if c := e.Comparison; c != nil {
			m.Compared = "The picture before and the picture after compared: " + c.Word
			if c.Confidence != nil {
				m.Compared += ", " + Sure(*c.Confidence)
			}
			m.Compared += "."
			if c.Summary != "" {
				m.Compared += " " + sentence(c.Summary)
			}
			break
		}
	}
}

func (m *Model) waitsFor(line []job.Entry) string {
	for _, e := range slices.Backward(line) {
		if e.Kind == job.KindState && e.Text != "" {
			return e.Text
		}
	}
	return "for something that was not noted"
}

// plainly is a verdict inside a sentence.
func plainly(e job.Entry) string {
	v := e.Verdict
	said := strings.TrimSuffix(strings.TrimSpace(v.Summary), ".")
	if said == "" {
		said = Class(v.Class)
	}
	if len(said) > 1 && said[1] >= 'a' && said[1] <= 'z' { // not an abbreviation
		said = strings.ToLower(said[:1]) + said[1:]
	}
	return said
}

func capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	s = capital(strings.TrimSpace(s))
	if s == "" {
		return s
	}
	if !strings.ContainsAny(s[len(s)-1:], ".!?") && !strings.HasSuffix(s, "…") {
		s += "."
	}
	return s
}

func on(t time.Time) string { return t.Local().Format("2 January 2006") }
