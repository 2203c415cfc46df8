package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// shellWords takes a line apart as a shell does, as far as help's examples go: words in double
// quotes are one.
func shellWords(line string) []string {
	var words []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			words = append(words, part)
		} else {
			words = append(words, strings.Fields(part)...)
		}
	}
	return words
}

// unexpected is what of standard error an example may not say: a job's cautions and the
// number of an entry that was kept are no failure.
func unexpected(errs string) string {
	var left []string
	for _, l := range strings.SplitAfter(errs, "\n") {
		if l != "" && !strings.HasPrefix(l, "backporch: caution: ") && !strings.HasPrefix(l, "backporch: kept as entry ") {
			left = append(left, l)
		}
	}
	return strings.Join(left, "")
}

// jobFiles makes the store that help's examples speak of, and a job that was exported elsewhere.
func jobFiles(t *testing.T, shared string, prepare func(args ...string)) {
	t.Helper()
	elsewhere := filepath.Join(shared, "elsewhere")
	prepare("job", "new", "--store", elsewhere, "--machine", "other board")
	prepare("job", "export", "1", "--store", elsewhere, "--zip", "--out", filepath.Join(shared, "job-1.zip"))
	store := []string{"--store", filepath.Join(shared, "jobs")}
	do := func(args ...string) { prepare(append(args, store...)...) }
	do("job", "new", "--machine", "practice board", "--tag", "PB-7", "--complaint", "Stripes since it was moved.")
	do("job", "note", "1", "memory bit")
	do("job", "pull", "1", "K4")
	do("part", "add", "spare-1")
}

// ownStore makes the jobs in the user's data folder a copy of that store.
func ownStore(t *testing.T, shared, dir string) {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", filepath.Join(dir, "data"))
	to := filepath.Join(dir, "data", "backporch", "jobs")
	if err := os.CopyFS(to, os.DirFS(filepath.Join(shared, "jobs"))); err != nil {
		t.Fatal(err)
	}
}
