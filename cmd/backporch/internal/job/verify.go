package job

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A Verification is what Verify found.
type Verification struct {
	Jobs     int       `json:"jobs"`
	Entries  int       `json:"entries"`
	Stills   int       `json:"stills"` // files; one that several entries name counts once
	Bytes    int64     `json:"bytes"`
	Problems []Problem `json:"problems"`
	// Strays are files in the store that no entry names, by path within it: what a command that was
	// ended in its middle left behind. They do no harm.
	Strays []string `json:"strays"`
}

// A Problem is something that was kept and is not as it was.
type Problem struct {
	Still string  `json:"still,omitempty"` // path within the store; "": the index itself
	Jobs  []int64 `json:"jobs,omitempty"`  // that name it
	What  string  `json:"what"`
}

// Verify reads the whole store again: the index with its references, and each still, whose hash
// must be its name. Progress, which may be nil, is told of each still.
func (s *Store) Verify(ctx context.Context, progress func(done, total int)) (Verification, error) {
	v := Verification{Problems: []Problem{}, Strays: []string{}}
	if err := s.verify(ctx, &v, progress); err != nil {
		return v, fmt.Errorf("verifying %s: %w", s.dir, plain(err))
	}
	return v, nil
}

func (s *Store) verify(ctx context.Context, v *Verification, progress func(done, total int)) error {
	if err := s.verifyIndex(ctx, v); err != nil {
		return err
	}
	if len(v.Problems) > 0 {
		return nil // what a damaged index names is not to be relied on
	}
	var kept map[string]*file
	err := s.write(ctx, func(tx *sql.Tx) (err error) { // no other process is in the middle of an entry
		if kept, err = filed(ctx, tx); err != nil {
			return err
		}
		v.Strays, err = s.strays(kept)
		return err
	})
	if err != nil {
		return err
	}
	paths := make([]string, 0, len(kept))
	for path := range kept {
		paths = append(paths, path)
	}
	slices.Sort(paths)
	for i, path := range paths {
		if err := ctx.Err(); err != nil {
			return err
		}
		f := kept[path]
		if what := f.check(filepath.Join(s.dir, stills, filepath.FromSlash(path))); what != "" {
			v.Problems = append(v.Problems, Problem{Still: stills + "/" + path, Jobs: f.jobs, What: what})
		}
		v.Stills++
		v.Bytes += f.bytes
		if progress != nil {
			progress(i+1, len(paths))
		}
	}
	return nil
}

// verifyIndex lets SQLite check its pages, indices and references, and our own sums.
func (s *Store) verifyIndex(ctx context.Context, v *Verification) error {
	problem := func(format string, args ...any) {
		v.Problems = append(v.Problems, Problem{What: fmt.Sprintf(format, args...)})
	}
	err := each(ctx, s.db, "SELECT integrity_check FROM pragma_integrity_check WHERE ? LIMIT 20", true, func(row scanner) error {
		var said string
		err := row.Scan(&said)
		if said != "ok" && err == nil {
			problem("the index: %s", said)
		}
		return err
	})
	if errors.Is(plain(err), ErrDamaged) {
		problem("the index is damaged: %v", err)
		return nil
	}
	if err != nil {
		return err
	}
	if err := each(ctx, s.db, `SELECT "table", parent FROM pragma_foreign_key_check WHERE ?`, true, func(row scanner) error {
		var table, parent string
		err := row.Scan(&table, &parent)
		problem("the index: a row of %s names a %s that is not there", table, parent)
		return err
	}); err != nil {
		return err
	}
	// What stands in the list at a glance against what stands on the time lines.
	if err := each(ctx, s.db, `SELECT job.id FROM job WHERE ? AND (
			stills <> (SELECT count(*) FROM still JOIN entry ON entry.id = still.entry WHERE entry.job = job.id)
			OR judged IS NOT (SELECT max(entry.id) FROM entry JOIN verdict ON verdict.entry = entry.id WHERE entry.job = job.id)
			OR NOT EXISTS (SELECT 1 FROM entry WHERE entry.job = job.id))`, true, func(row scanner) error {
		var id int64
		err := row.Scan(&id)
		problem("the index: job %d is not what its time line says", id)
		return err
	}); err != nil {
		return err
	}
	return s.db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM job), (SELECT count(*) FROM entry)").Scan(&v.Jobs, &v.Entries)
}

// A file is a still as the index has it.
type file struct {
	sha256 string
	bytes  int64
	jobs   []int64
}

// filed gives the files that the index names, by path within the folder of stills.
func filed(ctx context.Context, q querier) (map[string]*file, error) {
	kept := map[string]*file{}
	err := each(ctx, q, `SELECT sha256, ending, bytes, entry.job FROM still JOIN entry ON entry.id = still.entry
		WHERE ? ORDER BY entry.job`, true, func(row scanner) error {
		var f file
		var ending string
		var job int64
		if err := row.Scan(&f.sha256, &ending, &f.bytes, &job); err != nil {
			return err
		}
		path := f.sha256[:2] + "/" + f.sha256 + ending
		there := kept[path]
		if there == nil {
			there = &f
			kept[path] = there
		}
		if len(there.jobs) == 0 || there.jobs[len(there.jobs)-1] != job {
			there.jobs = append(there.jobs, job)
		}
		return nil
	})
	return kept, err
}

// check says what is wrong with a file, "" when nothing is.
func (f *file) check(path string) string {
	opened, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "the file is missing"
	}
	if err != nil {
		return fmt.Sprintf("the file cannot be read: %v", cause(err))
	}
	defer opened.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, opened)
	switch {
	case err != nil:
		return fmt.Sprintf("the file cannot be read: %v", cause(err))
	case n != f.bytes:
		return fmt.Sprintf("the file has %d bytes instead of %d", n, f.bytes)
	case hex.EncodeToString(sum.Sum(nil)) != f.sha256:
		return "the file is not what it was: its hash differs"
	}
	return ""
}

func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// strays lists the files that the index does not name, by path within the store; those put
// aside as damaged are not among them.
func (s *Store) strays(kept map[string]*file) ([]string, error) {
	list := []string{}
	root := filepath.Join(s.dir, stills)
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if kept[rel] == nil && !strings.HasSuffix(rel, damaged) {
			list = append(list, stills+"/"+rel)
		}
		return nil
	})
	return list, err
}

// Tidy removes the strays, and says which.
func (s *Store) Tidy(ctx context.Context) ([]string, error) {
	var list []string
	err := s.write(ctx, func(tx *sql.Tx) error {
		kept, err := filed(ctx, tx)
		if err != nil {
			return err
		}
		if list, err = s.strays(kept); err != nil {
			return err
		}
		for _, path := range list {
			if err := os.Remove(filepath.Join(s.dir, filepath.FromSlash(path))); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("tidying %s: %w", s.dir, err)
	}
	return list, nil
}
