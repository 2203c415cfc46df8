package job

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestSearch(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	a := begin(t, s, Job{Machine: "Quillmark 16", Tag: "QM-0412", Complaint: "Stripes since the move."})
	b := begin(t, s, Job{Machine: "Tessel 40", Complaint: "No picture (at all)."})
	for _, j := range []Job{a, b} {
		if _, err := s.Note(ctx, j.ID, `5 V is "5.02" V AND clean`); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Attach(ctx, a.ID, Capture{Verdict: verdict("ram-bit"), Stills: []NewStill{{Data: still(1), Path: "socket-photo.png", Note: "notch left"}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Pull(ctx, a.ID, "K4", ""); err != nil {
		t.Fatal(err)
	}
	for words, want := range map[string][]int64{
		"quill":             {a.ID},       // the beginning of a word
		"QM-0412 stripes":   {a.ID},       // tag and complaint
		"tessel ram-bit":    nil,          // of two jobs
		"quillmark ram-bit": {a.ID},       // machine and verdict
		"socket notch":      {a.ID},       // a file's name and note
		"k4":                {a.ID},       // a part
		"5.02":              {b.ID, a.ID}, // the one found last first
		"clean":             {b.ID, a.ID},
		"AND":               {b.ID, a.ID}, // no operator
		"OR NOT NEAR(":      nil,
		`"`:                 nil,
		"* - ^":             nil,
		"picture":           {b.ID},
		"words:x":           nil,
	} {
		hits, more, err := s.Search(ctx, words, 10)
		if err != nil || more {
			t.Errorf("%s: %v, more %v", words, err, more)
		}
		var got []int64
		for _, h := range hits {
			got = append(got, h.Job.ID)
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: found %v, want %v", words, got, want)
		}
	}
	hits, more, err := s.Search(ctx, "clean", 1)
	if err != nil || len(hits) != 1 || !more {
		t.Errorf("one of two: %d, more %v, %v", len(hits), more, err)
	}
	if hits, _, _ := s.Search(ctx, "notch", 1); len(hits) != 1 || hits[0].Entry.Verdict == nil {
		t.Errorf("the entry that was found: %+v", hits)
	}
}

const (
	pileJobs  = 10_000
	pileShots = 10 // captures of a job, with a still each
)

// heap is a store of so many jobs; their stills are rows without files, since neither a list nor
// a search opens them.
func heap(b *testing.B) *Store {
	b.Helper()
	ctx := context.Background()
	s := create(b)
	faults := []string{"data bit 3 lane stuck at 1", "green is missing", "no signal", "the border is wrong", "noise"}
	err := s.write(ctx, func(tx *sql.Tx) error {
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		for n := range int64(pileJobs) {
			j := Job{ID: n + 1, UID: fmt.Sprintf("%032x", n), Machine: fmt.Sprintf("machine %d", n%40), Tag: fmt.Sprintf("T-%05d", n),
				State: []State{StateOpen, StateClosed, StateWaiting}[n%3], Complaint: "Stripes since it was moved."}
			board, err := insertBoard(ctx, tx, j.UID, j.Tag, false)
			if err == nil {
				err = insertJob(ctx, tx, &j, board, at)
			}
			for shot := range int64(pileShots) {
				p := 0.9
				at = at.Add(time.Second)
				e := Entry{Job: j.ID, At: at, Kind: KindCapture, Command: "check", Source: fmt.Sprintf("capture-%d.avi", shot),
					Text:    fmt.Sprintf("remark number %d", n*pileShots+shot),
					Verdict: &Verdict{Class: "ram-bit", Confidence: &p, Summary: faults[(n+shot)%int64(len(faults))]}}
				k := Still{SHA256: fmt.Sprintf("%064x", n*pileShots+shot), Ending: ".png", Role: Before, Name: fmt.Sprintf("still-%d.png", shot)}
				if err == nil {
					err = insertEntry(ctx, tx, &e)
				}
				k.Entry = e.ID
				e.Stills = []Still{k}
				if err == nil {
					err = insertStill(ctx, tx, k)
				}
				if err == nil {
					err = insertWords(ctx, tx, &e)
				}
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// processor is the time that this process has had of the processors.
func processor(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// How long the list at a glance and a search take over 10,000 jobs with 100,000 stills, in
// milliseconds; beside the same rows read by a bare query, and the same words looked through one by one.
func BenchmarkPile(b *testing.B) {
	ctx := context.Background()
	s := heap(b)
	start := time.Now()
	var texts []string
	if err := each(ctx, s.db, `SELECT machine || ' ' || tag || ' ' || text || ' ' || verdict.summary || ' ' || still.name FROM entry
		JOIN job ON job.id = entry.job JOIN verdict ON verdict.entry = entry.id JOIN still ON still.entry = entry.id WHERE ?`, true,
		func(row scanner) error {
			var text string
			err := row.Scan(&text)
			texts = append(texts, text)
			return err
		}); err != nil {
		b.Fatal(err)
	}
	read := time.Since(start)
	through := func(word string) float64 { // seconds to look through every text
		start, n := time.Now(), 0
		for _, text := range texts {
			if strings.Contains(strings.ToLower(text), word) {
				n++
			}
		}
		if n == 0 {
			b.Fatalf("nobody has %q", word)
		}
		return time.Since(start).Seconds()
	}
	// The processor's time beside the clock's: the two part on a machine that does other things.
	var began time.Duration
	perOp := func(b *testing.B) float64 {
		b.ReportMetric((processor(b)-began).Seconds()*1e3/float64(b.N), "cpu-ms")
		seconds := b.Elapsed().Seconds() / float64(b.N)
		b.ReportMetric(seconds*1e3, "ms")
		return seconds
	}
	b.Run("list=all", func(b *testing.B) {
		start := time.Now()
		if err := each(ctx, s.db, "SELECT id FROM job WHERE ?", true, func(row scanner) error { var id int64; return row.Scan(&id) }); err != nil {
			b.Fatal(err)
		}
		bare := time.Since(start).Seconds()
		began = processor(b)
		for b.Loop() {
			if list, err := s.List(ctx, true); err != nil || len(list) != pileJobs {
				b.Fatal(len(list), err)
			}
		}
		b.ReportMetric(perOp(b)/bare, "x-numbers-alone")
	})
	b.Run("list=open", func(b *testing.B) {
		began = processor(b)
		for b.Loop() {
			if list, err := s.List(ctx, false); err != nil || len(list) < pileJobs/2 {
				b.Fatal(len(list), err)
			}
		}
		perOp(b)
	})
	for name, words := range map[string]string{
		"one": "T-07777", "number": "99999", "two": "machine 7 green", "everything": "remark", "beginning": "st",
	} {
		b.Run("search="+name, func(b *testing.B) {
			first, _, _ := strings.Cut(strings.ToLower(words), " ")
			scan := through(first)
			began = processor(b)
			for b.Loop() {
				if hits, _, err := s.Search(ctx, words, 50); err != nil || len(hits) == 0 {
					b.Fatal(len(hits), err)
				}
			}
			seconds := perOp(b)
			b.ReportMetric(seconds/(read.Seconds()+scan), "x-reading-all")
		})
	}
	b.Run("show=one", func(b *testing.B) {
		began = processor(b)
		for b.Loop() {
			if list, err := s.Timeline(ctx, pileJobs/2); err != nil || len(list) != pileShots {
				b.Fatal(len(list), err)
			}
		}
		perOp(b)
	})
}
