package job

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
)

// Timeline gives a job's entries in the order in which they were made, without their reports.
func (s *Store) Timeline(ctx context.Context, id int64) ([]Entry, error) {
	list, err := s.timeline(ctx, id)
	if err != nil {
		return nil, fmt.Errorf("reading job %d: %w", id, plain(err))
	}
	return list, nil
}

func (s *Store) timeline(ctx context.Context, id int64) ([]Entry, error) {
	// One snapshot for all tables: other processes may be writing.
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer func() { _ = tx.Rollback() }()
	var list []Entry
	place := map[int64]int{}
	err = each(ctx, tx, entryColumns+" WHERE job = ? ORDER BY entry.id", id, func(row scanner) error {
		e, err := scanEntry(row)
		if err != nil {
			return err
		}
		place[e.ID] = len(list)
		list = append(list, e)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = each(ctx, tx, `SELECT still.entry, sha256, ending, bytes, role, marked, name, note
		FROM still JOIN entry ON entry.id = still.entry WHERE job = ? ORDER BY still.id`, id, func(row scanner) error {
		var k Still
		if err := row.Scan(&k.Entry, &k.SHA256, &k.Ending, &k.Bytes, &k.Role, &k.Marked, &k.Name, &k.Note); err != nil {
			return err
		}
		e := &list[place[k.Entry]]
		e.Stills = append(e.Stills, k)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = each(ctx, tx, `SELECT measure.entry, name, value, unit, note
		FROM measure JOIN entry ON entry.id = measure.entry WHERE job = ? ORDER BY measure.entry, place`, id, func(row scanner) error {
		var m Measure
		var entry int64
		var value sql.NullFloat64
		if err := row.Scan(&entry, &m.Name, &value, &m.Unit, &m.Note); err != nil {
			return err
		}
		m.Value = pointer(value)
		e := &list[place[entry]]
		e.Measures = append(e.Measures, m)
		return nil
	})
	return list, err
}

const entryColumns = `SELECT entry.id, job, at, entry.kind, command, text, source, device, display, body,
	class, confidence, verdict.kind, part, summary FROM entry LEFT JOIN verdict ON verdict.entry = entry.id`

func scanEntry(row scanner) (Entry, error) {
	var e Entry
	var at int64
	var body, class, kind, part, summary sql.NullString
	var confidence sql.NullFloat64
	if err := row.Scan(&e.ID, &e.Job, &at, &e.Kind, &e.Command, &e.Text, &e.Source, &e.Device, &e.Display, &body,
		&class, &confidence, &kind, &part, &summary); err != nil {
		return e, err
	}
	e.At = fromMicros(at)
	if class.Valid {
		e.Verdict = &Verdict{Class: class.String, Confidence: pointer(confidence), Kind: kind.String, Part: part.String, Summary: summary.String}
	}
	if body.Valid {
		if err := json.Unmarshal([]byte(body.String), &e.Extra); err != nil {
			return e, fmt.Errorf("entry %d: %w", e.ID, err)
		}
	}
	return e, nil
}

// Report is the JSON that came with an entry, nil when none did.
func (s *Store) Report(ctx context.Context, entry int64) (json.RawMessage, error) {
	var report sql.NullString
	err := s.db.QueryRowContext(ctx, "SELECT report FROM verdict WHERE entry = ?", entry).Scan(&report)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("reading entry %d: %w", entry, plain(err))
	}
	if !report.Valid {
		return nil, nil
	}
	return json.RawMessage(report.String), nil
}

type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}

// each calls f for every row that a query with one argument gives.
func each(ctx context.Context, q querier, query string, arg any, f func(scanner) error) error {
	rows, err := q.QueryContext(ctx, query, arg)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
