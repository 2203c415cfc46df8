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
