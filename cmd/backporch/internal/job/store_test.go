package job

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// writerEnv makes the test binary a process that adds to a store until it is ended.
const writerEnv = "BACKPORCH_TEST_WRITER"

func TestMain(m *testing.M) {
	if dir := os.Getenv(writerEnv); dir != "" {
		if err := keepWriting(dir); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// keepWriting adds entries of all sorts, and says each on standard output once it is committed:
// 'entry N still-number'.
func keepWriting(dir string) error {
	ctx := context.Background()
	s, err := Open(dir)
	if err != nil {
		return err
	}
	const job = 1
	for n := os.Getpid() << 16; ; n++ {
		var e Entry
		switch n % 4 {
		case 0:
			e, err = s.Note(ctx, job, "a remark")
		case 1, 2:
			e, err = s.Attach(ctx, job, Capture{
				Command: "check", Verdict: verdict("ram-bit"), Measures: []Measure{{Name: "snr"}},
				Stills: []NewStill{{Data: still(n), Path: strconv.Itoa(n) + ".png"}, {Data: still(n + 1<<40), Path: "marked.png", Marked: true}},
			})
		case 3:
			position := "K" + strconv.Itoa(n)
			if e, err = s.Pull(ctx, job, position, ""); err == nil {
				fmt.Println("entry", e.ID, n)
				e, err = s.Fit(ctx, job, position, Original(e.Move.Board, position), "", false)
			}
		}
		if err != nil {
			return err
		}
		fmt.Println("entry", e.ID, n)
	}
}

// A process that adds to the store is killed at a random instant, again and again, while another
// one that is left alone adds to it too now and then. Whatever was said to be kept must be there, and
// the store whole. BACKPORCH_KILLS=1000 is the long run.
func TestKilledAtAnyInstant(t *testing.T) {
	kills := 12
	if said := os.Getenv("BACKPORCH_KILLS"); said != "" {
		n, err := strconv.Atoi(said)
		if err != nil {
			t.Fatal(err)
		}
		kills = n
	} else if testing.Short() {
		kills = 3
	}
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m", Tag: "A"})
	committed := map[int64]int{} // entry to the number of its pictures
	torn, seed := 0, rand.Uint64()
	random := rand.New(rand.NewPCG(seed, 1))
	for kill := range kills {
		said := killedWriter(t, s.dir, time.Duration(random.IntN(40000))*time.Microsecond)
		lines := strings.SplitAfter(said, "\n")
		for _, l := range lines {
			var id int64
			var n int
			if strings.HasPrefix(l, "error") {
				t.Fatalf("kill %d: the writer stopped: %s", kill, l)
			}
			if strings.HasSuffix(l, "\n") {
				if _, err := fmt.Sscanf(l, "entry %d %d", &id, &n); err != nil {
					t.Fatalf("%q: %v", l, err)
				}
				committed[id] = n
			}
		}
		if kill%7 == 0 {
			e, err := s.Note(ctx, j.ID, "from another process")
			if err != nil {
				t.Fatalf("kill %d: %v", kill, err)
			}
			committed[e.ID] = 0
		}
	}
	if len(committed) < kills {
		t.Fatalf("only %d entries were committed in %d runs: the killing came too early", len(committed), kills)
	}
	list, err := s.Timeline(ctx, j.ID)
	if err != nil {
		t.Fatal(err)
	}
	there := map[int64]Entry{}
	for _, e := range list {
		there[e.ID] = e
		if e.Kind == KindCapture && (len(e.Stills) != 2 || e.Verdict == nil || len(e.Measures) != 1) {
			t.Errorf("entry %d is half there: %+v", e.ID, e)
		}
	}
	for id, n := range committed {
		e, ok := there[id]
		switch {
		case !ok:
			t.Errorf("entry %d was kept and is lost", id)
		case e.Kind == KindCapture:
			for i, want := range [][]byte{still(n), still(n + 1<<40)} {
				if data, err := s.Read(e.Stills[i]); err != nil || !bytes.Equal(data, want) {
					t.Errorf("entry %d, still %d: %v", id, i, err)
				}
			}
		}
	}
	// At most one entry a kill was committed and not yet said.
	if extra := len(list) - 1 - len(committed); extra < 0 || extra > kills {
		t.Errorf("%d entries that nobody said were kept, after %d kills", extra, kills)
	}
	verified(t, s)
	strays, err := s.Tidy(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if v := verified(t, s); len(v.Strays) != 0 {
		t.Errorf("strays after tidying: %v", v.Strays)
	}
	torn = len(strays)
	t.Logf("seed %d: %d kills, %d entries said to be kept, all there; %d more; %d files of entries that were cut short",
		seed, kills, len(committed), len(list)-1-len(committed), torn)
}

// killedWriter starts a writer and kills it so long after its first entry; it returns what the
// writer had said.
func killedWriter(t *testing.T, dir string, after time.Duration) string {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), writerEnv+"="+dir)
	pipe, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	out := bufio.NewReader(pipe)
	var said strings.Builder
	first, err := out.ReadString('\n')
	said.WriteString(first)
	if err == nil {
		time.Sleep(after)
	}
	if err := c.Process.Kill(); err != nil { // SIGKILL
		t.Fatal(err)
	}
	_, _ = out.WriteTo(&said)
	err = c.Wait()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
		t.Fatalf("the writer ended by itself: %v, %s", err, said.String())
	}
	return said.String()
}

func verified(t *testing.T, s *Store) Verification {
	t.Helper()
	v, err := s.Verify(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range v.Problems {
		t.Errorf("verify: %+v", p)
	}
	return v
}

// Two processes, and several goroutines of this one, write at once: all of it is there.
func TestWritersAtOnce(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m", Tag: "A"})
	var wg sync.WaitGroup
	var mu sync.Mutex
	said := 0
	for range 2 {
		wg.Go(func() {
			out := killedWriter(t, s.dir, 300*time.Millisecond)
			mu.Lock()
			defer mu.Unlock()
			said += strings.Count(out, "\n")
		})
	}
	const own = 20
	for g := range 2 {
		wg.Go(func() {
			other, err := Open(s.dir)
			if err != nil {
				t.Error(err)
				return
			}
			defer other.Close()
			for i := range own {
				if _, err := other.Attach(ctx, j.ID, Capture{Stills: []NewStill{{Data: still(g*own + i), Path: "a.png"}}}); err != nil {
					t.Error(err)
				}
				if _, err := other.List(ctx, true); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	list, err := s.Timeline(ctx, j.ID)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(list) - 1 - said - 2*own; n < 0 || n > 2 {
		t.Errorf("%d entries, of which %d were said to be kept", len(list)-1, said+2*own)
	}
	verified(t, s)
}

// Several processes make the same store at once.
func TestCreatedAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "jobs")
	var wg sync.WaitGroup
	begin := make(chan struct{})
	for range 12 {
		wg.Go(func() {
			<-begin
			s, err := Create(dir)
			if err != nil {
				t.Error(err)
				return
			}
			defer s.Close()
			if _, err := s.New(context.Background(), Job{Machine: "m"}, nil); err != nil {
				t.Error(err)
			}
		})
	}
	close(begin)
	wg.Wait()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if list, err := s.List(context.Background(), true); err != nil || len(list) != 12 {
		t.Errorf("%d jobs, %v", len(list), err)
	}
}

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
