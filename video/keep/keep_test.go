package keep

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

func say(text string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}
}

func TestWriteKeepsOrLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	if err := Write(path, 0o444, say("first")); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, 0o444, say("second")); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a second write gave %v", err)
	}
	if err := Write(filepath.Join(dir, "b.txt"), 0o644, func(w io.Writer) error {
		_, _ = io.WriteString(w, "half")
		return io.ErrShortWrite
	}); !errors.Is(err, io.ErrShortWrite) {
		t.Errorf("a failing write gave %v", err)
	}
	if err := Write(filepath.Join(dir, "none", "c.txt"), 0o644, say("")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing folder gave %v", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 1 || entries[0].Name() != "a.txt" {
		t.Errorf("the folder holds %v", entries)
	}
	if got, _ := os.ReadFile(path); string(got) != "first" {
		t.Errorf("the file holds %q", got)
	}
}

// The name is taken while the file is being written: the other one stays.
func TestCommitNeverReplaces(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	f, err := Create(path, false)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("other"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(0o644); !errors.Is(err, fs.ErrExist) {
		t.Errorf("commit gave %v", err)
	}
	if got, _ := os.ReadFile(path); string(got) != "other" {
		t.Errorf("the file holds %q", got)
	}
	f, err = Create(path, true)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(f, "new"); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(0o644); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(path); string(got) != "new" {
		t.Errorf("the file holds %q", got)
	}
}
