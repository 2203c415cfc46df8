package job

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// A Configuration is which part sat where when a verdict was seen.
type Configuration struct {
	Entry   int64             `json:"entry"`
	Job     int64             `json:"job"`
	At      time.Time         `json:"at"`
	Command string            `json:"command"`
	Source  string            `json:"source"`
	Device  string            `json:"device"`
	Board   string            `json:"board"`
	Fitted  map[string]string `json:"fitted"` // position to part
	Empty   []string          `json:"empty"`  // positions known to have held none
	Verdict Verdict           `json:"verdict"`
	Report  json.RawMessage   `json:"report,omitempty"` // as the command printed it
}

// Configurations gives the verdicts of a job in their order, each with the parts of its board at
// that moment.
func (s *Store) Configurations(ctx context.Context, job int64) ([]Configuration, error) {
	list, err := s.configurations(ctx, job)
	if err != nil {
		return nil, fmt.Errorf("reading job %d: %w", job, plain(err))
	}
	return list, nil
}

func (s *Store) configurations(ctx context.Context, job int64) ([]Configuration, error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer func() { _ = tx.Rollback() }()
	b, err := boardOf(ctx, tx, job)
	if err != nil {
		return nil, err
	}
	type placement struct {
		part, position string
		since          int64
		until          sql.NullInt64
	}
	var placements []placement
	err = each(ctx, tx, `SELECT part.name, placement.position, since, until FROM placement JOIN part ON part.id = placement.part
		WHERE placement.board = ? ORDER BY placement.id`, b.id, func(row scanner) error {
		var p placement
		err := row.Scan(&p.part, &p.position, &p.since, &p.until)
		placements = append(placements, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	var list []Configuration
	err = each(ctx, tx, `SELECT entry.id, at, command, source, device, class, confidence, verdict.kind, part, summary, report
		FROM entry JOIN verdict ON verdict.entry = entry.id WHERE job = ? ORDER BY entry.id`, job, func(row scanner) error {
		c := Configuration{Job: job, Board: b.name, Fitted: map[string]string{}, Empty: []string{}}
		var at int64
		var report sql.NullString
		var confidence sql.NullFloat64
		if err := row.Scan(&c.Entry, &at, &c.Command, &c.Source, &c.Device,
			&c.Verdict.Class, &confidence, &c.Verdict.Kind, &c.Verdict.Part, &c.Verdict.Summary, &report); err != nil {
			return err
		}
		c.At, c.Verdict.Confidence = fromMicros(at), pointer(confidence)
		if report.Valid {
			c.Report = json.RawMessage(report.String)
		}
		known := map[string]bool{}
		for _, p := range placements {
			if _, listed := known[p.position]; !listed {
				known[p.position] = false
			}
			if p.since < c.Entry && (!p.until.Valid || p.until.Int64 > c.Entry) {
				c.Fitted[p.position] = p.part
				known[p.position] = true
			}
		}
		for _, p := range placements {
			if full, listed := known[p.position]; listed && !full {
				c.Empty = append(c.Empty, p.position)
				delete(known, p.position)
			}
		}
		list = append(list, c)
		return nil
	})
	return list, err
}

// Related lists this job and those whose boards a part has moved between, directly or by way
// of others, in the order of their numbers.
func (s *Store) Related(ctx context.Context, job int64) ([]int64, error) {
	var list []int64
	err := each(ctx, s.db, `WITH RECURSIVE near (board) AS (
			SELECT board FROM job WHERE id = ?
			UNION
			SELECT other.board FROM near JOIN placement AS one ON one.board = near.board
				JOIN placement AS other ON other.part = one.part
		) SELECT job.id FROM job JOIN near ON job.board = near.board ORDER BY job.id`, job, func(row scanner) error {
		var id int64
		err := row.Scan(&id)
		list = append(list, id)
		return err
	})
	if err == nil && len(list) == 0 {
		err = ErrNoJob
	}
	if err != nil {
		return nil, fmt.Errorf("reading job %d: %w", job, plain(err))
	}
	return list, nil
}

// A Fingerprint is a machine as a capture device sees it, in the words of who measured it.
type Fingerprint struct {
	Job    int64           `json:"job"`
	Device string          `json:"device"`
	At     time.Time       `json:"at"`
	Body   json.RawMessage `json:"fingerprint"`
}

// SetFingerprint remembers a job's machine as seen by a device, in the place of what was
// remembered before.
func (s *Store) SetFingerprint(ctx context.Context, job int64, device string, body json.RawMessage) error {
	if !json.Valid(body) {
		return fmt.Errorf("job %d: the fingerprint is no JSON", job)
	}
	err := s.write(ctx, func(tx *sql.Tx) error {
		if _, err := boardOf(ctx, tx, job); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO fingerprint (job, device, at, body) VALUES (?, ?, ?, ?)
			ON CONFLICT (job, device) DO UPDATE SET at = excluded.at, body = excluded.body`, job, line(device), micros(s.now()), compact(body))
		return err
	})
	if err != nil {
		return fmt.Errorf("job %d: keeping its fingerprint: %w", job, err)
	}
	return nil
}

// Fingerprint is what is remembered of a job's machine as seen by a device; nil when nothing is.
func (s *Store) Fingerprint(ctx context.Context, job int64, device string) (*Fingerprint, error) {
	f := Fingerprint{Job: job, Device: line(device)}
	var at int64
	var body string
	err := s.db.QueryRowContext(ctx, "SELECT at, body FROM fingerprint WHERE job = ? AND device = ?", job, f.Device).Scan(&at, &body)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("job %d: reading its fingerprint: %w", job, plain(err))
	}
	f.At, f.Body = fromMicros(at), json.RawMessage(body)
	return &f, nil
}

// Fingerprints are all that are remembered of a device, by job.
func (s *Store) Fingerprints(ctx context.Context, device string) ([]Fingerprint, error) {
	return s.fingerprints(ctx, "device = ? ORDER BY job", line(device))
}

func (s *Store) fingerprints(ctx context.Context, which string, arg any) ([]Fingerprint, error) {
	var list []Fingerprint
	err := each(ctx, s.db, "SELECT job, device, at, body FROM fingerprint WHERE "+which, arg, func(row scanner) error {
		var f Fingerprint
		var at int64
		var body string
		err := row.Scan(&f.Job, &f.Device, &at, &body)
		f.At, f.Body = fromMicros(at), json.RawMessage(body)
		list = append(list, f)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("reading fingerprints: %w", plain(err))
	}
	return list, nil
}

// FingerprintsOf are all that are remembered of a job's machine, by device.
func (s *Store) FingerprintsOf(ctx context.Context, job int64) ([]Fingerprint, error) {
	return s.fingerprints(ctx, "job = ? ORDER BY device", job)
}

// ForgetFingerprints forgets what is remembered of a job's machine, and says so on the time line; it gives
// how many devices had seen it. Where none had, nothing is said.
func (s *Store) ForgetFingerprints(ctx context.Context, job int64) (int, error) {
	known, err := s.FingerprintsOf(ctx, job)
	if err != nil || len(known) == 0 {
		return 0, err
	}
	e := Entry{Job: job, Kind: KindNote, Text: "what was remembered of the machine's looks was forgotten; the next capture says it anew"}
	_, err = s.add(ctx, &e, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM fingerprint WHERE job = ?", job)
		return err
	})
	return len(known), err
}
