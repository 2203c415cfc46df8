package job

import (
	"context"
	"crypto/rand"
	"database/sql"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Errors that a caller decides on.
var (
	ErrNoStore = errors.New("there is no job store")
	ErrNoJob   = errors.New("there is no such job")
	ErrNoPart  = errors.New("there is no such part")
	ErrFull    = errors.New("the disk is full; nothing of this was kept, and what was kept before is whole")
	ErrBusy    = errors.New("another process is writing and did not come to an end")
	ErrDamaged = errors.New("the index is damaged")
	ErrNewer   = errors.New("it was made by a newer version of this program")
)

const (
	index  = "jobs.db"
	stills = "stills"
	// application marks our files (sqlite.org/fileformat.html, 1.3.15): "bpJo".
	application = 0x62704a6f
	// patience is how long a writer waits for another; a writer holds the lock while it copies the
	// stills of one entry.
	patience = 30 * time.Second
)

// A Store is open; its methods may be called from several goroutines.
type Store struct {
	dir string
	db  *sql.DB
	now func() time.Time
	put putter
}

//go:embed schema/*.sql
var schema embed.FS

// schemaVersion is the newest; schema/1.sql to schema/N.sql lead up to it, in order.
const schemaVersion = 1

// Open opens the store in a folder. It makes none: ErrNoStore.
func Open(dir string) (*Store, error) { return open(dir, false) }

// Create opens the store in a folder, which is made when there is none.
func Create(dir string) (*Store, error) { return open(dir, true) }

func open(dir string, create bool) (*Store, error) {
	path := filepath.Join(dir, index)
	if create {
		if err := os.MkdirAll(filepath.Join(dir, stills), 0o777); err != nil {
			return nil, fmt.Errorf("opening the job store: %w", plain(err))
		}
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, fmt.Errorf("opening the job store: %s is a folder", path)
	} else if errors.Is(err, fs.ErrNotExist) && !create {
		return nil, fmt.Errorf("opening the job store: %w in %s", ErrNoStore, dir)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("opening the job store: %w", plain(err))
	}
	where, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("opening the job store: %w", err)
	}
	options := url.Values{
		"_pragma": {"busy_timeout(" + strconv.Itoa(int(patience.Milliseconds())) + ")", "foreign_keys(1)",
			"synchronous(FULL)", "trusted_schema(0)", "cache_size(-16000)"},
		"_txlock": {"immediate"},
	}
	name := (&url.URL{Scheme: "file", Path: filepath.ToSlash(where), RawQuery: options.Encode()}).String()
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, fmt.Errorf("opening the job store %s: %w", path, err)
	}
	db.SetMaxOpenConns(4)
	s := &Store{dir: dir, db: db, now: time.Now, put: writeStill}
	if err := s.migrate(context.Background()); err != nil {
		db.Close()
		return nil, fmt.Errorf("opening the job store %s: %w", path, plain(err))
	}
	return s, nil
}

// Close ends the use of the store.
func (s *Store) Close() error { return s.db.Close() }

// Dir is the store's folder.
func (s *Store) Dir() string { return s.dir }

// migrate brings the index to the newest schema, each step whole or not at all.
func (s *Store) migrate(ctx context.Context) error {
	var version, id, tables int
	row := s.db.QueryRowContext(ctx, "SELECT (SELECT user_version FROM pragma_user_version), "+
		"(SELECT application_id FROM pragma_application_id), (SELECT count(*) FROM sqlite_schema)")
	if err := row.Scan(&version, &id, &tables); err != nil {
		return err
	}
	switch {
	case id != application && (tables > 0 || id != 0 || version != 0):
		return errors.New("this is a database of another program")
	case version > schemaVersion:
		return ErrNewer
	case version == schemaVersion:
		return nil
	}
	if err := s.writeAhead(ctx); err != nil {
		return err
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		// Another process may have been faster.
		if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
			return err
		}
		for v := version + 1; v <= schemaVersion; v++ {
			step, err := schema.ReadFile(fmt.Sprintf("schema/%d.sql", v))
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, string(step)); err != nil {
				return fmt.Errorf("schema %d: %w", v, err)
			}
		}
		_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", application, schemaVersion))
		return err
	})
}

// writeAhead puts the file into write-ahead mode, a property of it that can't be changed inside a transaction. SQLite
// reads the file first and then asks for the writer's lock; a reader that asks for that is refused at once
// where another does the same, whatever the busy timeout, lest both wait for ever (sqlite.org/c3ref/busy_handler.html).
// So it is asked again.
func (s *Store) writeAhead(ctx context.Context) error {
	for begun := time.Now(); ; {
		_, err := s.db.ExecContext(ctx, "PRAGMA journal_mode = WAL")
		if !errors.Is(plain(err), ErrBusy) || time.Since(begun) > patience {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// write runs f in a transaction that holds the writer's lock from its beginning.
func (s *Store) write(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return plain(err)
	}
	if err := f(tx); err != nil {
		_ = tx.Rollback() // the error that led here says more
		return plain(err)
	}
	return plain(tx.Commit())
}

// plain says an error of the database or of a file in words that a user can act on.
func plain(err error) error {
	var e *sqlite.Error
	if errors.As(err, &e) {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return ErrFull
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return ErrBusy
		case sqlite3.SQLITE_CORRUPT:
			return ErrDamaged
		case sqlite3.SQLITE_NOTADB:
			return errors.New("this is no job store")
		case sqlite3.SQLITE_READONLY:
			return errors.New("it may not be written to")
		case sqlite3.SQLITE_CANTOPEN:
			return errors.New("it cannot be opened; the folder must be there and may be written to")
		case sqlite3.SQLITE_IOERR:
			// Some file systems report a full disk only as a failed write.
			return fmt.Errorf("the disk refuses: %w", e)
		}
	}
	if isFull(err) {
		return ErrFull
	}
	if p, ok := err.(*fs.PathError); ok {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	return err
}

// isFull tells whether the disk, or what the user may use of it, is full.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG)
}

// newUID names a thing for all stores, so that what was imported is known again.
func newUID() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails (Go 1.24)
	return hex.EncodeToString(b[:])
}

func micros(t time.Time) int64 { return t.UnixMicro() }
func fromMicros(us int64) time.Time {
	return time.UnixMicro(us)
}
