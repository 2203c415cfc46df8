package job

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"backporch/analyse/rate"
)

// Kind is what sort of thing an entry on the time line is.
type Kind string

// The kinds.
const (
	KindOpened   Kind = "opened"
	KindNote     Kind = "note"
	KindCapture  Kind = "capture"  // by a command, with what it found
	KindAttached Kind = "attached" // a picture or file that the user gave
	KindFit      Kind = "fit"
	KindPull     Kind = "pull"
	KindMark     Kind = "mark" // a part's condition
	KindState    Kind = "state"
	KindImported Kind = "imported"
)

// An Entry is one thing that happened to a job; it is never changed afterwards.
type Entry struct {
	ID      int64     `json:"entry"`
	Job     int64     `json:"job"`
	At      time.Time `json:"at"`
	Kind    Kind      `json:"kind"`
	Command string    `json:"command,omitempty"` // that captured
	Text    string    `json:"text,omitempty"`
	Source  string    `json:"source,omitempty"`
	Device  string    `json:"device,omitempty"`
	Display string    `json:"display,omitempty"`

	Verdict  *Verdict        `json:"verdict,omitempty"`
	Report   json.RawMessage `json:"report,omitempty"` // Timeline leaves it out, Report reads it
	Stills   []Still         `json:"stills,omitempty"`
	Measures []Measure       `json:"measures,omitempty"`

	Extra

	written []Still // that were not in the store before
}

// Extra is what an entry says beyond its columns.
type Extra struct {
	State      State       `json:"state,omitempty"`
	Move       *Move       `json:"move,omitempty"`
	Soak       *Soak       `json:"soak,omitempty"`
	Comparison *Comparison `json:"comparison,omitempty"`
	Stimuli    []Stimulus  `json:"stimuli,omitempty"`
	Meaning    string      `json:"meaning,omitempty"` // of the verdict, to the machine's owner
	Screen     []string    `json:"screen,omitempty"`  // the text that was read off it
	Warnings   []string    `json:"warnings,omitempty"`
}

// A Verdict is what a capture said, in short.
type Verdict struct {
	Class      string   `json:"class"`
	Confidence *float64 `json:"confidence"` // nil when undetermined
	Kind       string   `json:"kind,omitempty"`
	Part       string   `json:"part,omitempty"` // designator, from the board map
	Summary    string   `json:"summary"`        // one sentence
}

// A Measure is a named figure; a nil Value was not measured.
type Measure struct {
	Name  string   `json:"name"` // in words, as a report shows it
	Value *float64 `json:"value"`
	Unit  string   `json:"unit"`
	Note  string   `json:"note,omitempty"`
}

// A Soak is the result of an unattended run.
type Soak struct {
	Seconds   float64 `json:"seconds"`
	Fields    int64   `json:"fields"`
	BadFields int64   `json:"bad_fields"`
	Events    int64   `json:"events"`
	GapS      float64 `json:"gap_seconds"` // in which the device gave nothing
	Summary   string  `json:"summary"`     // one sentence
}

// A Comparison is how two captures of the job stand to each other.
type Comparison struct {
	Word       string   `json:"word"`       // fixed, better, same, worse, another fault
	Confidence *float64 `json:"confidence"` // nil: not known
	Before     string   `json:"before"`     // the sources
	After      string   `json:"after"`
	Summary    string   `json:"summary"`
}

// A Stimulus is a mark that was made while the picture was watched, with the bad fields before it and after.
type Stimulus struct {
	Mark   string     `json:"mark"`
	At     time.Time  `json:"at"`
	Before rate.Watch `json:"before"`
	After  rate.Watch `json:"after"`
}

// A Capture is what a command attaches to a job. All of it may be left out.
type Capture struct {
	At       time.Time // when it was taken; zero: now
	Command  string    // check, grab, signal, soak, compare ...
	Source   string    // the word that named the source
	Device   string    // the capture device's lasting name, "" for files
	Display  string    // profile
	Text     string    // a note
	Verdict  *Verdict
	Meaning  string          // of the verdict, in a sentence or two for the machine's owner
	Report   json.RawMessage // the JSON that came with the verdict, kept but for its spaces; without a verdict it is left out
	Stills   []NewStill
	Measures []Measure

	Soak       *Soak
	Comparison *Comparison
	Stimuli    []Stimulus
	Screen     []string
	Warnings   []string // that were given with it, such as another machine's fingerprint
}

// Attach keeps a capture on a job's time line, whole or not at all.
func (s *Store) Attach(ctx context.Context, id int64, c Capture) (Entry, error) {
	return s.attach(ctx, id, KindCapture, c)
}

// AttachFiles keeps pictures and files that the user gives.
func (s *Store) AttachFiles(ctx context.Context, id int64, text string, files []NewStill) (Entry, error) {
	return s.attach(ctx, id, KindAttached, Capture{Text: text, Stills: files})
}

// Note keeps a remark.
func (s *Store) Note(ctx context.Context, id int64, text string) (Entry, error) {
	return s.add(ctx, &Entry{Job: id, Kind: KindNote, Text: tidy(text)}, nil)
}

func (s *Store) attach(ctx context.Context, id int64, kind Kind, c Capture) (Entry, error) {
	e := Entry{
		Job: id, At: c.At, Kind: kind, Command: line(c.Command), Text: tidy(c.Text), Source: line(c.Source),
		Device: line(c.Device), Display: line(c.Display), Report: c.Report,
		Extra: Extra{Meaning: tidy(c.Meaning), Soak: c.Soak, Comparison: c.Comparison, Stimuli: slices.Clone(c.Stimuli), Screen: tidied(c.Screen), Warnings: tidied(c.Warnings)},
	}
	if len(c.Report) > 0 && !json.Valid(c.Report) {
		return Entry{}, fmt.Errorf("adding to job %d: the report is no JSON", id)
	}
	if c.Verdict != nil {
		v := *c.Verdict
		v.Class, v.Kind, v.Part, v.Summary = line(v.Class), line(v.Kind), line(v.Part), tidy(v.Summary)
		e.Verdict = &v
	}
	for i := range e.Stimuli {
		e.Stimuli[i].Mark = line(e.Stimuli[i].Mark)
	}
	for _, m := range c.Measures {
		m.Name, m.Unit, m.Note = line(m.Name), line(m.Unit), line(m.Note)
		if m.Value != nil && (math.IsNaN(*m.Value) || math.IsInf(*m.Value, 0)) {
			m.Value = nil
		}
		e.Measures = append(e.Measures, m)
	}
	loaded, err := load(c.Stills)
	if err != nil {
		return Entry{}, fmt.Errorf("adding to job %d: %w", id, err)
	}
	return s.add(ctx, &e, func(tx *sql.Tx) error { return s.keepStills(ctx, tx, &e, loaded) })
}

func tidied(lines []string) []string {
	var out []string
	for _, l := range lines {
		out = append(out, strings.TrimRight(untrimmed(l), " "))
	}
	return out
}

// add puts an entry on a job's time line in a transaction of its own, and does with it what more
// says, which may be nil.
func (s *Store) add(ctx context.Context, e *Entry, more func(*sql.Tx) error) (Entry, error) {
	err := s.write(ctx, func(tx *sql.Tx) error {
		var there int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM job WHERE id = ?", e.Job).Scan(&there); err != nil {
			return err
		}
		if there == 0 {
			return ErrNoJob
		}
		if e.At.IsZero() {
			e.At = s.now()
		}
		if err := insertEntry(ctx, tx, e); err != nil {
			return err
		}
		if more != nil {
			if err := more(tx); err != nil {
				return err
			}
		}
		return insertWords(ctx, tx, e)
	})
	if err != nil {
		s.forget(e)
		return Entry{}, fmt.Errorf("adding to job %d: %w", e.Job, err)
	}
	return *e, nil
}

// insertEntry writes all of an entry but its stills and its words.
func insertEntry(ctx context.Context, tx *sql.Tx, e *Entry) error {
	var body any
	extra, err := json.Marshal(e.Extra)
	if err != nil {
		return err
	}
	if string(extra) != "{}" {
		body = string(extra)
	}
	r, err := tx.ExecContext(ctx, `INSERT INTO entry (job, at, kind, command, text, source, device, display, body)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`, e.Job, micros(e.At), e.Kind, e.Command, e.Text, e.Source, e.Device, e.Display, body)
	if err != nil {
		return err
	}
	if e.ID, err = r.LastInsertId(); err != nil {
		return err
	}
	if v := e.Verdict; v != nil {
		var report any
		if len(e.Report) > 0 {
			report = compact(e.Report)
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO verdict (entry, class, confidence, kind, part, summary, report)
			VALUES (?, ?, ?, ?, ?, ?, ?)`, e.ID, v.Class, v.Confidence, v.Kind, v.Part, v.Summary, report); err != nil {
			return err
		}
	}
	for i, m := range e.Measures {
		if _, err := tx.ExecContext(ctx, "INSERT INTO measure (entry, place, name, value, unit, note) VALUES (?, ?, ?, ?, ?, ?)",
			e.ID, i, m.Name, m.Value, m.Unit, m.Note); err != nil {
			return err
		}
	}
	return nil
}

// compact is JSON without the spaces between.
func compact(raw json.RawMessage) string {
	var b bytes.Buffer
	if json.Compact(&b, raw) != nil {
		return string(raw)
	}
	return b.String()
}

// insertWords writes the words by which an entry is found: its own, and those by which its job
// is called, so that 'tag fault' finds it.
func insertWords(ctx context.Context, tx *sql.Tx, e *Entry) error {
	var machine, tag, issue, board string
	if err := tx.QueryRowContext(ctx, `SELECT machine, tag, issue, board.name FROM job JOIN board ON board.id = job.board
		WHERE job.id = ?`, e.Job).Scan(&machine, &tag, &issue, &board); err != nil {
		return err
	}
	words := append([]string{machine, tag, issue, board}, e.Text, e.Command, e.Source, e.Device, e.Display)
	words = append(words, e.Screen...)
	if v := e.Verdict; v != nil {
		words = append(words, v.Class, v.Kind, v.Part, v.Summary)
	}
	if m := e.Move; m != nil {
		words = append(words, m.Part, m.Position, m.Board, string(m.Condition))
	}
	if e.Soak != nil {
		words = append(words, e.Soak.Summary)
	}
	if e.Comparison != nil {
		words = append(words, e.Comparison.Word, e.Comparison.Summary)
	}
	for _, m := range e.Stimuli {
		words = append(words, m.Mark)
	}
	for _, k := range e.Stills {
		words = append(words, k.Name, k.Note)
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO words (rowid, said) VALUES (?, ?)", e.ID, strings.Join(words, "\n"))
	return err
}
