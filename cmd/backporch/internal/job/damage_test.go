package job

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// fill attaches until the store refuses, and checks that it refuses for a full disk and that
// what was there before is whole.
func fill(t *testing.T, s *Store, job int64) {
	t.Helper()
	ctx := context.Background()
	kept := 0
	var err error
	for n := range 10000 {
		big := append(still(n), make([]byte, 20000)...)
		if _, err = s.Attach(ctx, job, Capture{
			Text: strings.Repeat("words ", 200), Verdict: verdict("clean"), Stills: []NewStill{{Data: big, Path: "a.png"}},
		}); err != nil {
			break
		}
		kept++
	}
	if !errors.Is(err, ErrFull) {
		t.Fatalf("after %d captures: %v", kept, err)
	}
	if kept < 3 {
		t.Fatalf("only %d captures before the disk was full", kept)
	}
	list, err := s.Timeline(ctx, job)
	if err != nil || len(list) != kept+1 {
		t.Errorf("%d captures kept, %d entries: %v", kept, len(list), err)
	}
	for _, e := range list[1:] {
		if len(e.Stills) != 1 {
			t.Errorf("entry %d is half there", e.ID)
		} else if _, err := s.Read(e.Stills[0]); err != nil {
			t.Error(err)
		}
	}
}

// A small file system of its own fills up; with room again all goes on.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("no small file system can be made here: mounting: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	s, err := Create(filepath.Join(dir, "jobs"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	j := begin(t, s, Job{Machine: "m"})
	fill(t, s, j.ID)
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=4m"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Attach(context.Background(), j.ID, Capture{Stills: []NewStill{{Data: still(1 << 20), Path: "a.png"}}}); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if v := verified(t, s); len(v.Strays) > 1 {
		t.Errorf("a full disk left %v", v.Strays)
	}
}

// The index may not grow: SQLite itself reports the full disk, after the stills were written.
func TestFullIndex(t *testing.T) {
	s := create(t)
	j := begin(t, s, Job{Machine: "m"})
	s.db.SetMaxOpenConns(1) // the bound is a connection's own
	var pages int
	if err := s.db.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages+20)); err != nil {
		t.Fatal(err)
	}
	fill(t, s, j.ID)
	if v := verified(t, s); len(v.Strays) != 0 {
		t.Errorf("a full index left %v", v.Strays)
	}
}

// The second of two stills can't be written: neither it nor the first nor the entry is there.
func TestStillThatCannotBeWritten(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m"})
	calls := 0
	s.put = func(path string, data []byte) error {
		if calls++; calls == 2 {
			return &os.PathError{Op: "write", Path: path, Err: syscall.ENOSPC}
		}
		return writeStill(path, data)
	}
	_, err := s.Attach(ctx, j.ID, Capture{Stills: []NewStill{{Data: still(1), Path: "a.png"}, {Data: still(2), Path: "b.png"}}})
	if !errors.Is(err, ErrFull) {
		t.Errorf("%v", err)
	}
	if list, err := s.Timeline(ctx, j.ID); err != nil || len(list) != 1 {
		t.Errorf("%d entries, %v", len(list), err)
	}
	if v := verified(t, s); len(v.Strays) != 0 {
		t.Errorf("left behind: %v", v.Strays)
	}
}

func TestVerifyFindsDamage(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m"})
	e, err := s.AttachFiles(ctx, j.ID, "", []NewStill{
		{Data: still(1), Path: "a.png"}, {Data: still(2), Path: "b.png"}, {Data: still(3), Path: "c.png"}, {Data: still(4), Path: "d.png"},
	})
	if err != nil {
		t.Fatal(err)
	}
	if v := verified(t, s); v.Stills != 4 || v.Jobs != 1 || v.Entries != 2 {
		t.Errorf("verified %+v", v)
	}
	flipped, shorter, gone := s.Path(e.Stills[0]), s.Path(e.Stills[1]), s.Path(e.Stills[2])
	data, err := os.ReadFile(flipped)
	if err != nil {
		t.Fatal(err)
	}
	data[len(data)/2] ^= 1
	for _, err := range []error{
		os.Chmod(flipped, 0o666), os.WriteFile(flipped, data, 0o666),
		os.Chmod(shorter, 0o666), os.Truncate(shorter, 10), os.Remove(gone),
		os.WriteFile(filepath.Join(s.dir, stills, ".x.part"), nil, 0o666),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	v, err := s.Verify(ctx, nil)
	if err != nil || len(v.Problems) != 3 || len(v.Strays) != 1 {
		t.Fatalf("%+v, %v", v, err)
	}
	said := fmt.Sprint(v.Problems)
	for _, want := range []string{"hash differs", "10 bytes instead of", "missing", "[1]"} {
		if !strings.Contains(said, want) {
			t.Errorf("%s: nothing of %q", said, want)
		}
	}
	// A list at a glance that is not what happened.
	if _, err := s.db.Exec("UPDATE job SET stills = 9"); err != nil {
		t.Fatal(err)
	}
	if v, err := s.Verify(ctx, nil); err != nil || len(v.Problems) == 0 || !strings.Contains(v.Problems[0].What, "time line") {
		t.Errorf("%+v, %v", v, err)
	}
}

// Pages of the index are overwritten at random: Verify or Open says so, and nothing panics.
func TestDamagedIndex(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m"})
	for n := range 200 {
		if _, err := s.Attach(ctx, j.ID, Capture{Text: "some words", Verdict: verdict("clean"), Stills: []NewStill{{Data: still(n % 3), Path: "a.png"}}}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(s.dir, index)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	noticed := 0
	const rounds = 25
	for range rounds {
		broken := bytes.Clone(whole)
		at := random.IntN(len(broken) - 4096)
		for i := range 2048 {
			broken[at+i] = byte(random.Uint32())
		}
		if err := os.WriteFile(path, broken, 0o666); err != nil {
			t.Fatal(err)
		}
		s, err := Open(s.dir)
		if err != nil {
			noticed++
			continue
		}
		if v, err := s.Verify(ctx, nil); err != nil || len(v.Problems) > 0 {
			noticed++
		}
		_, _ = s.Timeline(ctx, j.ID)
		_, _, _ = s.Search(ctx, "words", 5)
		s.Close()
	}
	// SQLite keeps no checksum of its pages: what changes a text within a row goes unnoticed.
	if noticed < rounds/2 {
		t.Errorf("%d of %d damages noticed", noticed, rounds)
	}
	t.Logf("%d of %d damages noticed", noticed, rounds)
}
