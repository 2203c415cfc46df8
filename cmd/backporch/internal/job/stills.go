package job

import (
	"bytes"
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
	"strings"

	"backporch/video/keep"
)

// Role is when a still was taken, seen from the repair.
type Role string

// The roles.
const (
	Before Role = "before"
	During Role = "during"
	After  Role = "after"
)

// A NewStill is a file to keep: a still, its marked copy, a photo of the board, a waveform.
type NewStill struct {
	Path   string // to read it from; it stays where it is
	Data   []byte // or the file itself, and then Path is only its name
	Role   Role   // "": Before until something was done to the machine, then During
	Marked bool   // an annotated copy
	Note   string
}

// A Still is a file that the store keeps.
type Still struct {
	Entry  int64  `json:"-"`
	SHA256 string `json:"sha256"`
	Ending string `json:"ending"` // ".png"
	Bytes  int64  `json:"bytes"`
	Role   Role   `json:"role,omitempty"`
	Marked bool   `json:"marked,omitempty"`
	Name   string `json:"name"` // of the file it was taken from
	Note   string `json:"note,omitempty"`
}

// Picture tells whether the file is one that a page can show.
func (k *Still) Picture() bool { return picture(k.Ending) }

func picture(ending string) bool { return ending == ".png" || ending == ".jpg" }

// mostBytes is the largest file that is taken: some minutes of a sampled waveform.
const mostBytes = 256 << 20

// ErrTooLarge says that a file is no still.
var ErrTooLarge = fmt.Errorf("it has more than %d MB", mostBytes>>20)

// Path is where a still lies in the store.
func (s *Store) Path(k Still) string {
	return filepath.Join(s.dir, stills, k.SHA256[:2], k.SHA256+k.Ending)
}

// Read reads a still, and refuses one that is not what was kept.
func (s *Store) Read(k Still) ([]byte, error) {
	data, err := os.ReadFile(s.Path(k))
	if err != nil {
		return nil, fmt.Errorf("reading still %s: %w", k.SHA256[:12], plain(err))
	}
	if hash(data) != k.SHA256 {
		return nil, fmt.Errorf("reading still %s: the file is not the one that was kept", k.SHA256[:12])
	}
	return data, nil
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// load reads the files before the store is locked.
func load(stills []NewStill) ([]NewStill, error) {
	var loaded []NewStill
	for _, n := range stills {
		switch n.Role {
		case "", Before, During, After:
		default:
			return nil, fmt.Errorf("a still is taken before, during or after, not %q", n.Role)
		}
		if n.Data == nil {
			data, err := readWhole(n.Path)
			if err != nil {
				return nil, err
			}
			n.Data = data
		}
		if len(n.Data) > mostBytes {
			return nil, fmt.Errorf("%s: %w", n.Path, ErrTooLarge)
		}
		loaded = append(loaded, n)
	}
	return loaded, nil
}

// readWhole reads a file of the user's, if it is one and not too large.
func readWhole(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil {
		return nil, plain(err)
	} else if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: this is no file", path)
	}
	data, err := io.ReadAll(io.LimitReader(f, mostBytes+1))
	if err != nil {
		return nil, plain(err)
	}
	if len(data) > mostBytes {
		return nil, fmt.Errorf("%s: %w", path, ErrTooLarge)
	}
	return data, nil
}

// ending is how a file's name ends in the store: by what it holds where that can be told.
func ending(name string, data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		return ".png"
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return ".jpg"
	}
	e := strings.ToLower(filepath.Ext(name))
	if len(e) < 2 || len(e) > 8 || picture(e) || strings.Trim(e[1:], "abcdefghijklmnopqrstuvwxyz0123456789") != "" {
		return ".bin"
	}
	return e
}

// keepStills writes files and then their rows. It runs while the writer's lock is held, so that
// no other process takes a file that is being put there for one that nobody names.
// Files that were not there before are noted in e.
func (s *Store) keepStills(ctx context.Context, tx *sql.Tx, e *Entry, loaded []NewStill) error {
	role, err := usualRole(ctx, tx, e)
	if err != nil {
		return err
	}
	for _, n := range loaded {
		k := Still{
			Entry: e.ID, SHA256: hash(n.Data), Ending: ending(n.Path, n.Data), Bytes: int64(len(n.Data)),
			Role: n.Role, Marked: n.Marked, Name: line(filepath.Base(filepath.ToSlash(n.Path))), Note: line(n.Note),
		}
		if k.Role == "" {
			k.Role = role
		}
		fresh, err := s.place(k, n.Data)
		if err != nil {
			return err
		}
		if fresh {
			e.written = append(e.written, k)
		}
		if err := insertStill(ctx, tx, k); err != nil {
			return err
		}
		e.Stills = append(e.Stills, k)
	}
	return nil
}

func insertStill(ctx context.Context, tx *sql.Tx, k Still) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO still (entry, sha256, ending, bytes, role, marked, name, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`, k.Entry, k.SHA256, k.Ending, k.Bytes, k.Role, k.Marked, k.Name, k.Note)
	return err
}

// forget removes the files of an entry that did not come to be, unless another process has kept
// the same since. What can't be removed stays as a stray.
func (s *Store) forget(e *Entry) {
	if len(e.written) == 0 {
		return
	}
	ctx := context.Background() // also when the caller's was cancelled
	_ = s.write(ctx, func(tx *sql.Tx) error {
		for _, k := range e.written {
			var named int
			if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM still WHERE sha256 = ?", k.SHA256).Scan(&named); err != nil {
				return err
			}
			if named == 0 {
				_ = os.Remove(s.Path(k))
			}
		}
		return nil
	})
}

// usualRole is the role of a still for which none was given.
func usualRole(ctx context.Context, tx *sql.Tx, e *Entry) (Role, error) {
	var moves int
	err := tx.QueryRowContext(ctx, "SELECT count(*) FROM entry WHERE job = ? AND id < ? AND kind IN (?, ?)",
		e.Job, e.ID, KindFit, KindPull).Scan(&moves)
	if moves > 0 {
		return During, err
	}
	return Before, err
}

// A putter writes a file under a name that is free, whole or not at all.
type putter func(path string, data []byte) error

func writeStill(path string, data []byte) error {
	return keep.Write(path, 0o444, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// place puts a still where it belongs; fresh tells whether it was not there yet.
func (s *Store) place(k Still, data []byte) (fresh bool, err error) {
	path := s.Path(k)
	folder := filepath.Dir(path)
	if err := os.Mkdir(folder, 0o777); err == nil {
		if parent, err := os.Open(filepath.Dir(folder)); err == nil {
			_ = parent.Sync() // some file systems refuse it
			_ = parent.Close()
		}
	} else if !errors.Is(err, fs.ErrExist) {
		return false, fmt.Errorf("keeping still %s: %w", k.SHA256[:12], plain(err))
	}
	if there, err := os.ReadFile(path); err == nil {
		if hash(there) == k.SHA256 {
			return false, nil
		}
		// What lies there is not what its name says: out of the way with it, but not away.
		if err := os.Rename(path, path+damaged); err != nil {
			return false, fmt.Errorf("keeping still %s: %w", k.SHA256[:12], plain(err))
		}
	}
	if err := s.put(path, data); err != nil {
		return false, fmt.Errorf("keeping still %s: %w", k.SHA256[:12], err)
	}
	return true, nil
}

// damaged ends the name of a file that was found not to be what its name says.
const damaged = ".damaged"
