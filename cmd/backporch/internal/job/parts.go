package job

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// Condition is what is thought of a part.
type Condition string

// The conditions.
const (
	Good    Condition = "good"
	Bad     Condition = "bad"
	Suspect Condition = "suspect"
	Unknown Condition = "unknown"
)

// Conditions lists them.
var Conditions = []Condition{Good, Bad, Suspect, Unknown}

// A Place is a position of a board.
type Place struct {
	Board    string `json:"board"`
	Position string `json:"position"`
}

// A Part is a thing that can sit in a position.
type Part struct {
	UID       string    `json:"uid"`
	Name      string    `json:"name"`
	Type      string    `json:"type"` // what it is, in words
	Condition Condition `json:"condition"`
	Reason    string    `json:"reason"` // of the condition
	Home      *Place    `json:"home"`   // where it sat first; nil: from stock
	Where     *Place    `json:"where"`  // where it sits; nil: it lies on the bench
	Marked    int64     `json:"marked_in_job,omitempty"`
}

// A Move is what an entry did to a part.
type Move struct {
	Part      string    `json:"part"`
	Board     string    `json:"board,omitempty"`
	Position  string    `json:"position,omitempty"`
	Condition Condition `json:"condition,omitempty"` // at that moment, or as marked
	Original  bool      `json:"original,omitempty"`  // it sat there when the machine came
}

// Original names the part that sat in a position when the machine came.
func Original(board, position string) string { return board + "/" + position }

// An Occupied is the error that a position holds another part, or a part another position.
type Occupied struct {
	Part  string
	Place Place
}

func (e *Occupied) Error() string {
	return fmt.Sprintf("%s sits in %s of %s", e.Part, e.Place.Position, e.Place.Board)
}

// A NotPulled is the error that nothing is known of a position in which a part is to be put.
type NotPulled struct{ Place }

func (e *NotPulled) Error() string {
	return fmt.Sprintf("%s of %s still holds its original part, as far as the ledger knows", e.Position, e.Board)
}

// ErrEmpty is the error that there is nothing to pull.
var ErrEmpty = errors.New("the position is empty")

// name checks a name that users type again.
func name(what, s string) (string, error) {
	s = line(s)
	switch {
	case s == "":
		return "", fmt.Errorf("no name of a %s given", what)
	case len(s) > 100:
		return "", fmt.Errorf("%d letters are too many for the name of a %s", len(s), what)
	case strings.HasPrefix(s, "-"):
		return "", fmt.Errorf("%q: the name of a %s does not begin with a dash", s, what)
	}
	return s, nil
}

func positionName(s string) (string, error) { return name("position", s) }

// AddPart takes a part from stock into the ledger.
func (s *Store) AddPart(ctx context.Context, p Part) error {
	var err error
	if p.Name, err = name("part", p.Name); err != nil {
		return fmt.Errorf("adding a part: %w", err)
	}
	if p.Condition == "" {
		p.Condition = Unknown
	}
	err = s.write(ctx, func(tx *sql.Tx) error {
		var taken int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM part WHERE name = ?", p.Name).Scan(&taken); err != nil {
			return err
		}
		if taken > 0 {
			return errors.New("a part of this name is in the ledger")
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO part (uid, name, type, condition, reason) VALUES (?, ?, ?, ?, ?)",
			newUID(), p.Name, line(p.Type), p.Condition, line(p.Reason))
		return err
	})
	if err != nil {
		return fmt.Errorf("adding part %s: %w", p.Name, err)
	}
	return nil
}

// partRow and boardRow are rows by which a move is made.
type partRow struct {
	id        int64
	name      string
	condition Condition
}

type boardRow struct {
	id   int64
	name string
}

func boardOf(ctx context.Context, tx *sql.Tx, job int64) (b boardRow, err error) {
	err = tx.QueryRowContext(ctx, "SELECT board.id, board.name FROM board JOIN job ON job.board = board.id WHERE job.id = ?", job).
		Scan(&b.id, &b.name)
	if errors.Is(err, sql.ErrNoRows) {
		err = ErrNoJob
	}
	return b, err
}

func findPart(ctx context.Context, tx *sql.Tx, name string) (p partRow, err error) {
	err = tx.QueryRowContext(ctx, "SELECT id, name, condition FROM part WHERE name = ?", line(name)).Scan(&p.id, &p.name, &p.condition)
	if errors.Is(err, sql.ErrNoRows) {
		err = fmt.Errorf("%s: %w", name, ErrNoPart)
	}
	return p, err
}

// original brings the part that a position held from the beginning into the ledger.
func original(ctx context.Context, tx *sql.Tx, board int64, boardName, position string) (p partRow, err error) {
	switch err = tx.QueryRowContext(ctx, `SELECT part.id, part.name, part.condition FROM placement JOIN part ON part.id = placement.part
		WHERE placement.board = ? AND placement.position = ? ORDER BY placement.id LIMIT 1`, board, position).Scan(&p.id, &p.name, &p.condition); {
	case err == nil:
		return p, nil
	case !errors.Is(err, sql.ErrNoRows):
		return p, err
	}
	p.name, p.condition = Original(boardName, position), Unknown
	r, err := tx.ExecContext(ctx, "INSERT INTO part (uid, name, type, condition, reason, board, position) VALUES (?, ?, '', ?, '', ?, ?)",
		newUID(), p.name, p.condition, board, position)
	if err != nil {
		return p, err
	}
	if p.id, err = r.LastInsertId(); err != nil {
		return p, err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO placement (part, board, position, since) VALUES (?, ?, ?, 0)", p.id, board, position)
	return p, err
}

// occupant is the part in a position, known whether the ledger has heard of the position.
func occupant(ctx context.Context, tx *sql.Tx, board int64, position string) (p partRow, there, known bool, err error) {
	err = tx.QueryRowContext(ctx, `SELECT part.id, part.name, part.condition FROM placement JOIN part ON part.id = placement.part
		WHERE placement.board = ? AND placement.position = ? AND until IS NULL`, board, position).Scan(&p.id, &p.name, &p.condition)
	if err == nil {
		return p, true, true, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return p, false, false, err
	}
	var n int
	err = tx.QueryRowContext(ctx, "SELECT count(*) FROM placement WHERE board = ? AND position = ?", board, position).Scan(&n)
	return p, false, n > 0, err
}

// Pull takes the part out of a position of the job's board. A position that the ledger has not
// heard of held its original.
func (s *Store) Pull(ctx context.Context, job int64, position, note string) (Entry, error) {
	e := Entry{Job: job, Kind: KindPull, Text: tidy(note)}
	position, err := positionName(position)
	if err != nil {
		return Entry{}, fmt.Errorf("pulling from job %d: %w", job, err)
	}
	return s.move(ctx, &e, func(tx *sql.Tx, b boardRow) error {
		p, there, known, err := occupant(ctx, tx, b.id, position)
		if err != nil {
			return err
		}
		if !there && known {
			return fmt.Errorf("%s of %s: %w", position, b.name, ErrEmpty)
		}
		if !known {
			if p, err = original(ctx, tx, b.id, b.name, position); err != nil {
				return err
			}
		}
		e.Move = &Move{Part: p.name, Board: b.name, Position: position, Condition: p.condition, Original: p.name == Original(b.name, position)}
		return nil
	}, func(tx *sql.Tx, b boardRow) error {
		_, err := tx.ExecContext(ctx, "UPDATE placement SET until = ? WHERE board = ? AND position = ? AND until IS NULL", e.ID, b.id, position)
		return err
	})
}

// Fit puts a part of the ledger into a position of the job's board. The position must have been
// pulled; empty says that it held nothing when the machine came.
func (s *Store) Fit(ctx context.Context, job int64, position, part, note string, empty bool) (Entry, error) {
	e := Entry{Job: job, Kind: KindFit, Text: tidy(note)}
	position, err := positionName(position)
	if err != nil {
		return Entry{}, fmt.Errorf("fitting to job %d: %w", job, err)
	}
	var p partRow
	return s.move(ctx, &e, func(tx *sql.Tx, b boardRow) error {
		if p, err = findPart(ctx, tx, part); err != nil {
			return err
		}
		holds, there, known, err := occupant(ctx, tx, b.id, position)
		switch {
		case err != nil:
			return err
		case there:
			return &Occupied{holds.name, Place{b.name, position}}
		case !known && !empty:
			return &NotPulled{Place{b.name, position}}
		}
		var elsewhere Place
		err = tx.QueryRowContext(ctx, `SELECT board.name, placement.position FROM placement JOIN board ON board.id = placement.board
			WHERE placement.part = ? AND until IS NULL`, p.id).Scan(&elsewhere.Board, &elsewhere.Position)
		if err == nil {
			return &Occupied{p.name, elsewhere}
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		e.Move = &Move{Part: p.name, Board: b.name, Position: position, Condition: p.condition, Original: p.name == Original(b.name, position)}
		return nil
	}, func(tx *sql.Tx, b boardRow) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO placement (part, board, position, since) VALUES (?, ?, ?, ?)", p.id, b.id, position, e.ID)
		return err
	})
}

// move makes an entry of a move: plan says what it is before the entry is written, carry does it.
func (s *Store) move(ctx context.Context, e *Entry, plan, carry func(*sql.Tx, boardRow) error) (Entry, error) {
	err := s.write(ctx, func(tx *sql.Tx) error {
		b, err := boardOf(ctx, tx, e.Job)
		if err != nil {
			return err
		}
		if err := plan(tx, b); err != nil {
			return err
		}
		e.At = s.now()
		if err := insertEntry(ctx, tx, e); err != nil {
			return err
		}
		if err := carry(tx, b); err != nil {
			return err
		}
		return insertWords(ctx, tx, e)
	})
	if err != nil {
		return Entry{}, fmt.Errorf("job %d: %w", e.Job, err)
	}
	return *e, nil
}

// Mark states a part's condition. It stands on the time line of the job, or with job 0 of the
// last job of the board in which the part sits; of a part on the bench only the ledger says it.
// The Entry is nil then.
func (s *Store) Mark(ctx context.Context, part string, c Condition, reason string, job int64) (*Entry, error) {
	var made *Entry
	err := s.write(ctx, func(tx *sql.Tx) error {
		p, err := findPart(ctx, tx, part)
		if err != nil {
			return err
		}
		m := Move{Part: p.name, Condition: c}
		var last int64
		err = tx.QueryRowContext(ctx, `SELECT board.name, placement.position, (SELECT max(id) FROM job WHERE job.board = board.id)
			FROM placement JOIN board ON board.id = placement.board WHERE placement.part = ? AND until IS NULL`, p.id).
			Scan(&m.Board, &m.Position, &last)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if job == 0 {
			job = last
		}
		if job != 0 {
			if _, err := boardOf(ctx, tx, job); err != nil {
				return fmt.Errorf("job %d: %w", job, err)
			}
			e := Entry{Job: job, At: s.now(), Kind: KindMark, Text: tidy(reason), Extra: Extra{Move: &m}}
			if err := insertEntry(ctx, tx, &e); err != nil {
				return err
			}
			if err := insertWords(ctx, tx, &e); err != nil {
				return err
			}
			made = &e
		}
		_, err = tx.ExecContext(ctx, "UPDATE part SET condition = ?, reason = ?, marked = ? WHERE id = ?",
			c, line(reason), sql.NullInt64{Int64: job, Valid: job != 0}, p.id)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("marking part %w", err)
	}
	return made, nil
}

const partColumns = `SELECT part.uid, part.name, type, condition, reason, home.name, part.position, board.name, placement.position, marked
	FROM part LEFT JOIN board AS home ON home.id = part.board
	LEFT JOIN placement ON placement.part = part.id AND until IS NULL
	LEFT JOIN board ON board.id = placement.board`

func scanPart(row scanner) (Part, error) {
	var p Part
	var home, first, board, position sql.NullString
	var marked sql.NullInt64
	err := row.Scan(&p.UID, &p.Name, &p.Type, &p.Condition, &p.Reason, &home, &first, &board, &position, &marked)
	p.Marked = marked.Int64
	if home.Valid {
		p.Home = &Place{home.String, first.String}
	}
	if board.Valid {
		p.Where = &Place{board.String, position.String}
	}
	return p, err
}

// Parts lists the ledger by name.
func (s *Store) Parts(ctx context.Context) ([]Part, error) {
	list, err := parts(ctx, s.db, partColumns+" WHERE ? ORDER BY part.name", true)
	if err != nil {
		return nil, fmt.Errorf("reading the parts ledger: %w", plain(err))
	}
	return list, nil
}

func parts(ctx context.Context, q querier, query string, arg any) ([]Part, error) {
	var list []Part
	err := each(ctx, q, query, arg, func(row scanner) error {
		p, err := scanPart(row)
		list = append(list, p)
		return err
	})
	return list, err
}
