package job

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
)

// The archive of a job is job.json, and the stills beside it under names that a person can read.
const (
	archiveFile    = "job.json"
	archiveFormat  = "backporch job"
	archiveVersion = 1
)

// An archive is what job.json holds.
type archive struct {
	Format       string            `json:"format"`
	Version      int               `json:"version"`
	Job          Job               `json:"job"`
	BoardUID     string            `json:"board_uid"`
	Entries      []Entry           `json:"entries"`
	Files        map[string]string `json:"files"` // of each still, by SHA-256 and ending
	Parts        []Part            `json:"parts"`
	Placements   []archivedPlace   `json:"placements"`
	Fingerprints []Fingerprint     `json:"fingerprints"`
}

// An archivedPlace is a part in a position of the job's board, from one entry to another.
type archivedPlace struct {
	Part     string `json:"part"` // UID
	Position string `json:"position"`
	Since    int64  `json:"since"` // entry; 0: since before the first
	Until    *int64 `json:"until"` // entry; nil: still
}

// Export gives the files of a job's archive, job.json last: with it the archive is whole.
func (s *Store) Export(ctx context.Context, id int64, put func(name string, data []byte) error) error {
	a, err := s.archive(ctx, id)
	if err != nil {
		return fmt.Errorf("exporting job %d: %w", id, plain(err))
	}
	for _, e := range a.Entries {
		for _, k := range e.Stills {
			key := k.SHA256 + k.Ending
			if a.Files[key] != "" {
				continue
			}
			data, err := s.Read(k)
			if err != nil {
				return fmt.Errorf("exporting job %d: %w", id, err)
			}
			role := string(k.Role)
			if k.Marked {
				role += "-marked"
			}
			a.Files[key] = fmt.Sprintf("stills/%04d-%s-%s%s", e.ID, role, k.SHA256[:12], k.Ending)
			if err := put(a.Files[key], data); err != nil {
				return err
			}
		}
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(a); err != nil {
		return fmt.Errorf("exporting job %d: %w", id, err)
	}
	return put(archiveFile, b.Bytes())
}

func (s *Store) archive(ctx context.Context, id int64) (*archive, error) {
	a := &archive{Format: archiveFormat, Version: archiveVersion, Files: map[string]string{},
		Parts: []Part{}, Placements: []archivedPlace{}, Fingerprints: []Fingerprint{}}
	var err error
	if a.Job, err = s.Job(ctx, id); err != nil {
		return nil, err
	}
	if a.Entries, err = s.timeline(ctx, id); err != nil {
		return nil, err
	}
	for i := range a.Entries {
		if a.Entries[i].Verdict == nil {
			continue
		}
		if a.Entries[i].Report, err = s.Report(ctx, a.Entries[i].ID); err != nil {
			return nil, err
		}
	}
	var board int64
	if err := s.db.QueryRowContext(ctx, "SELECT board.id, board.uid FROM board JOIN job ON job.board = board.id WHERE job.id = ?", id).
		Scan(&board, &a.BoardUID); err != nil {
		return nil, err
	}
	list, err := parts(ctx, s.db, partColumns+` WHERE part.id IN (SELECT part FROM placement AS there WHERE there.board = ?) ORDER BY part.name`, board)
	if err != nil {
		return nil, err
	}
	a.Parts = append(a.Parts, list...)
	err = each(ctx, s.db, `SELECT part.uid, placement.position, since, until FROM placement JOIN part ON part.id = placement.part
		WHERE placement.board = ? ORDER BY placement.id`, board, func(row scanner) error {
		var p archivedPlace
		var until sql.NullInt64
		err := row.Scan(&p.Part, &p.Position, &p.Since, &until)
		if until.Valid {
			p.Until = &until.Int64
		}
		a.Placements = append(a.Placements, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	err = each(ctx, s.db, "SELECT job, device, at, body FROM fingerprint WHERE job = ? ORDER BY device", id, func(row scanner) error {
		var f Fingerprint
		var at int64
		var body string
		err := row.Scan(&f.Job, &f.Device, &at, &body)
		f.At, f.Body = fromMicros(at), json.RawMessage(body)
		a.Fingerprints = append(a.Fingerprints, f)
		return err
	})
	return a, err
}
