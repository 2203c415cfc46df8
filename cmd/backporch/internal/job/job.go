package job

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
)

// State is how far a job is.
type State string

// The states.
const (
	StateOpen    State = "open"
	StateWaiting State = "waiting" // for a part, for an answer
	StateClosed  State = "closed"
)

// A Job is a machine on the bench, with what was said when it came.
type Job struct {
	ID        int64     `json:"job"`
	UID       string    `json:"uid"`   // the same in every store
	Board     string    `json:"board"` // its name in the parts ledger; to New "" means the tag, else "job-N"
	Donor     bool      `json:"donor"` // the machine is known good and lends parts
	Machine   string    `json:"machine"`
	Tag       string    `json:"tag"` // serial number, or the tag on the case
	Issue     string    `json:"board_issue"`
	Complaint string    `json:"complaint"` // the owner's words
	State     State     `json:"state"`
	Outcome   string    `json:"outcome"` // said on closing
	Opened    time.Time `json:"opened"`
	Changed   time.Time `json:"changed"`
	// At a glance; nil when there is none.
	Verdict  *Verdict   `json:"verdict"`      // the last one, without its report
	Pictured *time.Time `json:"last_picture"` // when
	Stills   int        `json:"stills"`
}

// Name is the machine with its tag and board issue.
func (j Job) Name() string {
	said := j.Machine
	if j.Tag != "" {
		said += ", " + j.Tag
	}
	if j.Issue != "" {
		said += ", board issue " + j.Issue
	}
	return said
}

// most is how long a text may be, in bytes: a long evening's notes.
const most = 1 << 16

// tidy makes a text fit to be kept and shown: valid UTF-8 without control characters, which
// could drive a terminal.
func tidy(s string) string { return strings.TrimSpace(untrimmed(s)) }

// untrimmed is tidy with its spaces at either end, which place the text of a screen.
func untrimmed(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + " …"
	}
	return s
}

// line is tidy on one line.
func line(s string) string { return strings.Join(strings.Fields(tidy(s)), " ") }

func letter(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }

// New opens a job. A board of this name that is in the ledger already is the same machine come
// back. Positions, which may be nil, are those of the board that hold a part.
func (s *Store) New(ctx context.Context, j Job, positions []string) (Job, error) {
	j.Machine, j.Tag, j.Issue, j.Board, j.Complaint = line(j.Machine), line(j.Tag), line(j.Issue), line(j.Board), tidy(j.Complaint)
	j.State, j.Outcome, j.UID = StateOpen, "", newUID()
	err := s.write(ctx, func(tx *sql.Tx) error {
		at := s.now()
		var err error
		if j.ID, err = nextJob(ctx, tx); err != nil {
			return err
		}
		if j.Board == "" {
			j.Board = j.Tag
		}
		if j.Board == "" {
			j.Board = fmt.Sprintf("job-%d", j.ID)
		}
		board, err := boardFor(ctx, tx, &j)
		if err != nil {
			return err
		}
		if err := insertJob(ctx, tx, &j, board, at); err != nil {
			return err
		}
		e := Entry{Job: j.ID, At: at, Kind: KindOpened, Text: j.Complaint}
		if err := insertEntry(ctx, tx, &e); err != nil {
			return err
		}
		if err := insertWords(ctx, tx, &e); err != nil {
			return err
		}
		for _, position := range positions {
			if position, err = positionName(position); err != nil {
				return err
			}
			if _, err := original(ctx, tx, board, j.Board, position); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Job{}, fmt.Errorf("opening a job: %w", err)
	}
	return s.Job(ctx, j.ID)
}

func insertJob(ctx context.Context, tx *sql.Tx, j *Job, board int64, at time.Time) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO job (id, uid, board, machine, tag, issue, complaint, state, outcome, opened, changed)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		j.ID, j.UID, board, j.Machine, j.Tag, j.Issue, j.Complaint, j.State, j.Outcome, micros(at), micros(at))
	return err
}

// nextJob is the number of the job to come; numbers are not used twice.
func nextJob(ctx context.Context, tx *sql.Tx) (int64, error) {
	var last sql.NullInt64
	err := tx.QueryRowContext(ctx, "SELECT seq FROM sqlite_sequence WHERE name = 'job'").Scan(&last)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, err
	}
	return last.Int64 + 1, nil
}

// boardFor finds or makes the board of a job that is being opened.
func boardFor(ctx context.Context, tx *sql.Tx, j *Job) (int64, error) {
	var id, other int64
	var machine string
	err := tx.QueryRowContext(ctx, `SELECT board.id, board.name, job.machine, job.id FROM board JOIN job ON job.board = board.id
		WHERE board.name = ? ORDER BY job.id DESC LIMIT 1`, j.Board).Scan(&id, &j.Board, &machine, &other)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return insertBoard(ctx, tx, newUID(), j.Board, j.Donor)
	case err != nil:
		return 0, err
	case !strings.EqualFold(machine, j.Machine):
		return 0, &BoardTaken{Board: j.Board, Job: other, Machine: machine}
	}
	_, err = tx.ExecContext(ctx, "UPDATE board SET donor = max(donor, ?) WHERE id = ?", j.Donor, id)
	return id, err
}

func insertBoard(ctx context.Context, tx *sql.Tx, uid, name string, donor bool) (int64, error) {
	r, err := tx.ExecContext(ctx, "INSERT INTO board (uid, name, donor) VALUES (?, ?, ?)", uid, name, donor)
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// A BoardTaken is the error that a board of this name belongs to another kind of machine.
type BoardTaken struct {
	Board, Machine string
	Job            int64
}

func (e *BoardTaken) Error() string {
	return fmt.Sprintf("%q is the board of job %d, a machine called %q", e.Board, e.Job, e.Machine)
}

const jobColumns = `job.id, job.uid, board.name, board.donor, machine, tag, issue, complaint, state, outcome,
	opened, changed, class, confidence, summary, pictured, stills FROM job JOIN board ON board.id = job.board`

type scanner interface{ Scan(...any) error }

func scanJob(row scanner) (Job, error) {
	var j Job
	var opened, changed int64
	var pictured sql.NullInt64
	var class, summary sql.NullString
	var confidence sql.NullFloat64
	err := row.Scan(&j.ID, &j.UID, &j.Board, &j.Donor, &j.Machine, &j.Tag, &j.Issue, &j.Complaint, &j.State, &j.Outcome,
		&opened, &changed, &class, &confidence, &summary, &pictured, &j.Stills)
	j.Opened, j.Changed = fromMicros(opened), fromMicros(changed)
	if pictured.Valid {
		t := fromMicros(pictured.Int64)
		j.Pictured = &t
	}
	if class.Valid {
		j.Verdict = &Verdict{Class: class.String, Confidence: pointer(confidence), Summary: summary.String}
	}
	return j, err
}

func pointer(f sql.NullFloat64) *float64 {
	if !f.Valid {
		return nil
	}
	return &f.Float64
}

// Job reads one job; ErrNoJob when there is none of this number.
func (s *Store) Job(ctx context.Context, id int64) (Job, error) {
	j, err := scanJob(s.db.QueryRowContext(ctx, "SELECT "+jobColumns+" WHERE job.id = ?", id))
	if errors.Is(err, sql.ErrNoRows) {
		return Job{}, fmt.Errorf("job %d: %w", id, ErrNoJob)
	}
	if err != nil {
		return Job{}, fmt.Errorf("reading job %d: %w", id, plain(err))
	}
	return j, nil
}

// List gives jobs, those changed last first: all, or those that are not closed.
func (s *Store) List(ctx context.Context, all bool) ([]Job, error) {
	query := "SELECT " + jobColumns
	if !all {
		query += " WHERE state IN ('open', 'waiting')"
	}
	rows, err := s.db.QueryContext(ctx, query)
	if err != nil {
		return nil, fmt.Errorf("listing jobs: %w", plain(err))
	}
	defer rows.Close()
	var list []Job
	for rows.Next() {
		j, err := scanJob(rows)
		if err != nil {
			return nil, fmt.Errorf("listing jobs: %w", plain(err))
		}
		list = append(list, j)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("listing jobs: %w", plain(err))
	}
	// Sorted here, for SQLite would carry whole rows through its sorter.
	slices.SortFunc(list, func(a, b Job) int {
		return cmp.Or(b.Changed.Compare(a.Changed), cmp.Compare(b.ID, a.ID))
	})
	return list, nil
}

// Count says how many jobs are in each state.
func (s *Store) Count(ctx context.Context) (map[State]int, error) {
	count := map[State]int{}
	err := each(ctx, s.db, "SELECT state, count(*) FROM job WHERE ? GROUP BY state", true, func(row scanner) error {
		var state State
		var n int
		err := row.Scan(&state, &n)
		count[state] = n
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("counting jobs: %w", plain(err))
	}
	return count, nil
}

// SetState moves a job on. Why is the outcome when it is closed.
func (s *Store) SetState(ctx context.Context, id int64, state State, why string) (Entry, error) {
	if state != StateOpen && state != StateWaiting && state != StateClosed {
		return Entry{}, fmt.Errorf("job %d: %q is no state", id, state)
	}
	e := Entry{Job: id, Kind: KindState, Text: tidy(why), Extra: Extra{State: state}}
	outcome := ""
	if state == StateClosed {
		outcome = e.Text
	}
	return s.add(ctx, &e, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE job SET state = ?, outcome = ? WHERE id = ?", state, outcome, id)
		return err
	})
}
