// Package keep writes files that must be whole or not there: to a temporary name in
// the same folder, synced, then linked to their own name, which must be free unless the
// caller says otherwise. Stills and recordings are written through it.
package keep

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// A File is being written; it appears under its name with Commit and never without.
type File struct {
	*os.File
	path    string
	replace bool
}

// Create begins a file. Without replace a name that is taken is an error that
// wraps fs.ErrExist.
func Create(path string, replace bool) (*File, error) {
	if !replace {
		if _, err := os.Lstat(path); err == nil {
			return nil, fmt.Errorf("writing %s: %w; nothing is overwritten, give another name", path, fs.ErrExist)
		}
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return nil, fmt.Errorf("writing %s: %w", path, cause(err))
	}
	return &File{f, path, replace}, nil
}

// cause leaves out the temporary name, which means nothing to a reader.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}

// Commit syncs the file and gives it its name, with these permissions. On an error
// nothing is left.
func (f *File) Commit(mode fs.FileMode) error {
	err := errors.Join(f.Chmod(mode), f.Sync(), f.File.Close())
	if err == nil {
		err = f.name()
	}
	if err != nil {
		f.Discard()
		return fmt.Errorf("writing %s: %w", f.path, cause(err))
	}
	// The name itself is durable once its folder is; some file systems refuse to sync one.
	if dir, err := os.Open(filepath.Dir(f.path)); err == nil {
		_ = dir.Sync()
		_ = dir.Close()
	}
	return nil
}

func (f *File) name() error {
	if f.replace {
		return os.Rename(f.Name(), f.path)
	}
	// A link fails where the name is taken, which a rename does not.
	err := os.Link(f.Name(), f.path)
	if err == nil {
		return os.Remove(f.Name())
	}
	if errors.Is(err, fs.ErrExist) {
		return err
	}
	// No links on this file system: hold the name, then move over it.
	held, err := os.OpenFile(f.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	if err := held.Close(); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), f.path); err != nil {
		return errors.Join(err, os.Remove(f.path))
	}
	return nil
}

// Discard ends writing and leaves nothing. After Commit it does nothing.
func (f *File) Discard() {
	_ = f.File.Close()
	_ = os.Remove(f.Name())
}

// Write keeps a whole file at once.
func Write(path string, mode fs.FileMode, write func(io.Writer) error) error {
	f, err := Create(path, false)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		f.Discard()
		return fmt.Errorf("writing %s: %w", path, cause(err))
	}
	return f.Commit(mode)
}
