package job

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
)

// What an archive may hold at most. It comes from strangers.
const (
	mostArchive = 64 << 20 // of job.json
	mostTotal   = 4 << 30  // of all stills
	mostFiles   = 100_000  // in a zip
	mostEntries = 200_000
)

// An unpacker reads single files of an archive, each no longer than asked for. Nothing of an archive
// is ever written under a name that stands in it.
type unpacker interface {
	read(name string, most int64) ([]byte, error)
	Close() error
}

// unpack opens an archive: a folder, or a zip of one.
func unpack(from string) (unpacker, error) {
	info, err := os.Stat(from)
	if err != nil {
		return nil, plain(err)
	}
	if info.IsDir() {
		root, err := os.OpenRoot(from)
		if err != nil {
			return nil, plain(err)
		}
		return &folderArchive{root}, nil
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: this is neither a folder nor a file", from)
	}
	return openZip(from)
}

// local checks a name within an archive: relative, with slashes, and within.
func local(name string) error {
	if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, "\\:\x00") {
		return fmt.Errorf("%q is no name of a file within the archive", name)
	}
	return nil
}

// bounded reads at most so many bytes.
func bounded(r io.Reader, name string, most int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, cause(err))
	}
	if int64(len(data)) > most {
		return nil, fmt.Errorf("%s: it has more than %d bytes", name, most)
	}
	return data, nil
}

// A folderArchive can't be left by links (os.Root).
type folderArchive struct{ root *os.Root }

func (f *folderArchive) Close() error { return f.root.Close() }

func (f *folderArchive) read(name string, most int64) ([]byte, error) {
	if err := local(name); err != nil {
		return nil, err
	}
	// A device or a pipe would block; a link may point at one.
	if info, err := f.root.Lstat(name); err != nil {
		return nil, fmt.Errorf("%s: %w", name, cause(err))
	} else if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: this is no file", name)
	}
	opened, err := f.root.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, cause(err))
	}
	defer opened.Close()
	return bounded(opened, name, most)
}

type zipArchive struct {
	*zip.ReadCloser
	files map[string]*zip.File // by name within the archive's folder
}

// errNoArchive says that there is no job in it.
var errNoArchive = errors.New("there is no job.json in it: this is no exported job")

func openZip(from string) (*zipArchive, error) {
	r, err := zip.OpenReader(from)
	if err != nil {
		if errors.Is(err, zip.ErrFormat) {
			return nil, fmt.Errorf("%s: this is neither a folder nor a zip", from)
		}
		return nil, plain(err)
	}
	z := &zipArchive{r, map[string]*zip.File{}}
	if err := z.index(); err != nil {
		r.Close()
		return nil, fmt.Errorf("%s: %w", from, err)
	}
	return z, nil
}

func (z *zipArchive) index() error {
	if len(z.File) > mostFiles {
		return fmt.Errorf("%d files are too many", len(z.File))
	}
	folder, found := "", false
	for _, f := range z.File {
		name := strings.TrimSuffix(f.Name, "/")
		if err := local(name); err != nil {
			return err
		}
		if mode := f.Mode(); !mode.IsRegular() && !mode.IsDir() {
			return fmt.Errorf("%s: links and devices do not belong in it", f.Name)
		}
		if dir, base := path.Split(name); base == archiveFile && strings.Count(dir, "/") <= 1 {
			if found {
				return errors.New("there are several jobs in it: unpack it, and import one folder after the other")
			}
			folder, found = dir, true
		}
	}
	if !found {
		return errNoArchive
	}
	for _, f := range z.File {
		name, within := strings.CutPrefix(f.Name, folder)
		if !within || f.Mode().IsDir() {
			continue
		}
		if z.files[name] != nil {
			return fmt.Errorf("%s is in it twice", f.Name)
		}
		z.files[name] = f
	}
	return nil
}

func (z *zipArchive) read(name string, most int64) ([]byte, error) {
	if err := local(name); err != nil {
		return nil, err
	}
	f := z.files[name]
	if f == nil {
		return nil, fmt.Errorf("%s: %w", name, fs.ErrNotExist)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	defer r.Close()
	return bounded(r, name, most) // what is said of its size may be a lie
}
