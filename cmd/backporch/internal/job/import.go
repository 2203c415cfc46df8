package job

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"
)

// A Known is the error that an archive's job is in the store already.
type Known struct{ Job int64 }

func (e *Known) Error() string { return fmt.Sprintf("it is here already, as job %d", e.Job) }

// Import takes a job from an archive, a folder or a zip, as a new job of this store. All of it is
// checked: each still against its hash, every text, every reference. The board's parts come
// with it, unless the ledger knows the board already.
func (s *Store) Import(ctx context.Context, from string) (Job, error) {
	id, err := s.importFrom(ctx, from)
	if err != nil {
		return Job{}, fmt.Errorf("importing %s: %w", from, err)
	}
	return s.Job(ctx, id)
}

func (s *Store) importFrom(ctx context.Context, from string) (int64, error) {
	u, err := unpack(from)
	if err != nil {
		return 0, err
	}
	defer u.Close()
	raw, err := u.read(archiveFile, mostArchive)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, errNoArchive
	}
	if err != nil {
		return 0, err
	}
	var a archive
	if err := json.Unmarshal(raw, &a); err != nil {
		return 0, fmt.Errorf("%s: %w", archiveFile, err)
	}
	if err := a.check(); err != nil {
		return 0, fmt.Errorf("%s: %w", archiveFile, err)
	}
	i := &importing{store: s, archive: &a, from: u, left: mostTotal, board: a.Job.Board, entries: map[int64]int64{}}
	err = s.write(ctx, func(tx *sql.Tx) error { return i.run(ctx, tx) })
	if err != nil {
		s.forget(&Entry{written: i.written})
		return 0, err
	}
	return i.job, nil
}

// check refuses what no export writes, and tidies the texts.
func (a *archive) check() error {
	switch {
	case a.Format != archiveFormat:
		return errNoArchive
	case a.Version < 1 || a.Version > archiveVersion:
		return ErrNewer
	case len(a.Entries) == 0:
		return errors.New("the job has no entry")
	case len(a.Entries) > mostEntries || len(a.Parts) > mostEntries || len(a.Placements) > mostEntries:
		return fmt.Errorf("more than %d entries are too many", mostEntries)
	}
	j := &a.Job
	for _, uid := range []string{j.UID, a.BoardUID} {
		if err := checkUID(uid); err != nil {
			return err
		}
	}
	j.Machine, j.Tag, j.Issue, j.Board = line(j.Machine), line(j.Tag), line(j.Issue), line(j.Board)
	j.Complaint, j.Outcome = tidy(j.Complaint), tidy(j.Outcome)
	if j.State != StateOpen && j.State != StateWaiting && j.State != StateClosed {
		return fmt.Errorf("%q is no state of a job", j.State)
	}
	if j.Board == "" {
		return errors.New("the job has no board")
	}
	last := int64(0)
	for i := range a.Entries {
		e := &a.Entries[i]
		if e.ID <= last {
			return fmt.Errorf("entry %d comes after entry %d", e.ID, last)
		}
		last = e.ID
		if err := e.check(); err != nil {
			return fmt.Errorf("entry %d: %w", e.ID, err)
		}
	}
	for i := range a.Parts {
		p := &a.Parts[i]
		if err := checkUID(p.UID); err != nil {
			return err
		}
		var err error
		if p.Name, err = name("part", p.Name); err != nil {
			return err
		}
		p.Type, p.Reason = line(p.Type), line(p.Reason)
	}
	for i := range a.Placements {
		var err error
		if a.Placements[i].Position, err = positionName(a.Placements[i].Position); err != nil {
			return err
		}
	}
	return nil
}

func checkUID(uid string) error {
	if len(uid) != 32 || strings.Trim(uid, "0123456789abcdef") != "" {
		return fmt.Errorf("%.40q is no identity", uid)
	}
	return nil
}

var kinds = map[Kind]bool{KindOpened: true, KindNote: true, KindCapture: true, KindAttached: true, KindFit: true,
	KindPull: true, KindMark: true, KindState: true, KindImported: true}

func (e *Entry) check() error {
	moved := e.Kind == KindFit || e.Kind == KindPull || e.Kind == KindMark
	switch {
	case !kinds[e.Kind]:
		return fmt.Errorf("%.40q is no kind of entry", e.Kind)
	case moved != (e.Move != nil):
		return errors.New("a move without a part")
	case e.At.Before(time.Unix(0, 0)) || e.At.Year() > 9999:
		return errors.New("its time is none")
	}
	e.Command, e.Source, e.Device, e.Display, e.Text = line(e.Command), line(e.Source), line(e.Device), line(e.Display), tidy(e.Text)
	e.Meaning, e.Screen, e.Warnings = tidy(e.Meaning), tidied(e.Screen), tidied(e.Warnings)
	if m := e.Move; m != nil {
		m.Part, m.Board, m.Position, m.Condition = line(m.Part), line(m.Board), line(m.Position), Condition(line(string(m.Condition)))
	}
	if v := e.Verdict; v != nil {
		v.Class, v.Kind, v.Part, v.Summary = line(v.Class), line(v.Kind), line(v.Part), tidy(v.Summary)
	}
	if s := e.Soak; s != nil {
		s.Summary = tidy(s.Summary)
	}
	if c := e.Comparison; c != nil {
		c.Word, c.Before, c.After, c.Summary = line(c.Word), line(c.Before), line(c.After), tidy(c.Summary)
	}
	for i := range e.Stimuli {
		e.Stimuli[i].Mark = line(e.Stimuli[i].Mark)
	}
	for i := range e.Measures {
		m := &e.Measures[i]
		m.Name, m.Unit, m.Note = line(m.Name), line(m.Unit), line(m.Note)
	}
	for i := range e.Stills {
		k := &e.Stills[i]
		k.Name, k.Note = line(k.Name), line(k.Note)
		switch {
		case len(k.SHA256) != 64 || strings.Trim(k.SHA256, "0123456789abcdef") != "":
			return fmt.Errorf("%.40q is no SHA-256", k.SHA256)
		case k.Bytes < 0 || k.Bytes > mostBytes:
			return ErrTooLarge
		case k.Role != Before && k.Role != During && k.Role != After && k.Role != "":
			return fmt.Errorf("a still is taken before, during or after, not %.40q", k.Role)
		}
	}
	return nil
}

// importing is an archive on its way into the store.
type importing struct {
	store   *Store
	archive *archive
	from    unpacker
	left    int64  // bytes of stills that may still be read
	board   string // its name in the archive's store
	job     int64
	entries map[int64]int64 // the archive's to ours
	written []Still
}

func (i *importing) run(ctx context.Context, tx *sql.Tx) error {
	a := i.archive
	var there int64
	err := tx.QueryRowContext(ctx, "SELECT id FROM job WHERE uid = ?", a.Job.UID).Scan(&there)
	if err == nil {
		return &Known{there}
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	var board int64
	known := true
	err = tx.QueryRowContext(ctx, "SELECT id FROM board WHERE uid = ?", a.BoardUID).Scan(&board)
	if errors.Is(err, sql.ErrNoRows) {
		known = false
		if a.Job.Board, err = unused(ctx, tx, "board", a.Job.Board); err == nil {
			board, err = insertBoard(ctx, tx, a.BoardUID, a.Job.Board, a.Job.Donor)
		}
	}
	if err != nil {
		return err
	}
	if i.job, err = nextJob(ctx, tx); err != nil {
		return err
	}
	a.Job.ID = i.job
	if err := insertJob(ctx, tx, &a.Job, board, a.Entries[0].At); err != nil {
		return err
	}
	for n := range a.Entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := i.entry(ctx, tx, &a.Entries[n]); err != nil {
			return err
		}
	}
	last := Entry{Job: i.job, At: i.store.now(), Kind: KindImported}
	if err := insertEntry(ctx, tx, &last); err != nil {
		return err
	}
	if err := insertWords(ctx, tx, &last); err != nil {
		return err
	}
	if !known {
		if err := i.ledger(ctx, tx, board, last.ID); err != nil {
			return err
		}
	}
	for _, f := range a.Fingerprints {
		if !json.Valid(f.Body) {
			return errors.New("a fingerprint is no JSON")
		}
		if _, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO fingerprint (job, device, at, body) VALUES (?, ?, ?, ?)",
			i.job, line(f.Device), micros(f.At), compact(f.Body)); err != nil {
			return err
		}
	}
	return nil
}

// unused is a name that no row of a table has.
func unused(ctx context.Context, tx *sql.Tx, table, name string) (string, error) {
	for n := 1; ; n++ {
		try := name
		if n > 1 {
			try = fmt.Sprintf("%s (%d)", name, n)
		}
		var taken int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+table+" WHERE name = ?", try).Scan(&taken); err != nil || taken == 0 {
			return try, err
		}
	}
}

// entry takes over one entry with its stills.
func (i *importing) entry(ctx context.Context, tx *sql.Tx, e *Entry) error {
	old := e.ID
	e.Job = i.job
	if err := insertEntry(ctx, tx, e); err != nil {
		return fmt.Errorf("entry %d: %w", old, err)
	}
	i.entries[old] = e.ID
	for n := range e.Stills {
		k := &e.Stills[n]
		k.Entry = e.ID
		name, listed := i.archive.Files[k.SHA256+k.Ending]
		if !listed {
			return fmt.Errorf("entry %d: its still %s is not in the archive", old, k.SHA256[:12])
		}
		if i.left -= k.Bytes; i.left < 0 {
			return fmt.Errorf("the stills have more than %d GB", mostTotal>>30)
		}
		data, err := i.from.read(name, k.Bytes)
		if err != nil {
			return err
		}
		if int64(len(data)) != k.Bytes || hash(data) != k.SHA256 {
			return fmt.Errorf("%s: it is not the still that was exported: its hash differs", name)
		}
		k.Ending = ending(k.Ending, data) // by what it holds, not by what is said
		fresh, err := i.store.place(*k, data)
		if err != nil {
			return err
		}
		if fresh {
			i.written = append(i.written, *k)
		}
		if err := insertStill(ctx, tx, *k); err != nil {
			return err
		}
	}
	return insertWords(ctx, tx, e)
}

// ledger takes over the board's parts and where they sat. A part that is known here stays as it
// is; one that sits elsewhere now has left the board with the import.
func (i *importing) ledger(ctx context.Context, tx *sql.Tx, board, last int64) error {
	byUID := map[string]int64{}
	for _, p := range i.archive.Parts {
		var id int64
		err := tx.QueryRowContext(ctx, "SELECT id FROM part WHERE uid = ?", p.UID).Scan(&id)
		if errors.Is(err, sql.ErrNoRows) {
			id, err = i.part(ctx, tx, p, board)
		}
		if err != nil {
			return fmt.Errorf("part %s: %w", p.Name, err)
		}
		byUID[p.UID] = id
	}
	for _, p := range i.archive.Placements {
		part, listed := byUID[p.Part]
		if !listed {
			return fmt.Errorf("%s holds a part that is not in the archive", p.Position)
		}
		since := i.nearest(p.Since, -1, 0)
		until := sql.NullInt64{}
		if p.Until != nil {
			until = sql.NullInt64{Int64: i.nearest(*p.Until, 1, last), Valid: true}
		} else {
			var elsewhere int
			if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM placement WHERE until IS NULL
				AND (part = ? OR board = ? AND position = ?)`, part, board, p.Position).Scan(&elsewhere); err != nil {
				return err
			}
			if elsewhere > 0 {
				until = sql.NullInt64{Int64: last, Valid: true}
			}
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO placement (part, board, position, since, until) VALUES (?, ?, ?, ?, ?)",
			part, board, p.Position, since, until); err != nil {
			return err
		}
	}
	return nil
}

func (i *importing) part(ctx context.Context, tx *sql.Tx, p Part, board int64) (int64, error) {
	name, err := unused(ctx, tx, "part", p.Name)
	if err != nil {
		return 0, err
	}
	home, position := sql.NullInt64{}, sql.NullString{}
	if p.Home != nil && line(p.Home.Board) == i.board {
		home = sql.NullInt64{Int64: board, Valid: true}
		position = sql.NullString{String: line(p.Home.Position), Valid: true}
	}
	r, err := tx.ExecContext(ctx, "INSERT INTO part (uid, name, type, condition, reason, board, position) VALUES (?, ?, ?, ?, ?, ?, ?)",
		p.UID, name, p.Type, p.Condition, p.Reason, home, position)
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// nearest is our number of an entry of the archive's store; one of another job stands for the
// next of this job in a direction, and otherwise is there when there is none.
func (i *importing) nearest(old, direction, otherwise int64) int64 {
	if old == 0 {
		return 0
	}
	best := otherwise
	distance := int64(-1)
	for from, to := range i.entries {
		if d := (from - old) * direction; d >= 0 && (distance < 0 || d < distance) {
			best, distance = to, d
		}
	}
	return best
}
