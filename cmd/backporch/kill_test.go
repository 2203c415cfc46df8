package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"backporch/cmd/backporch/internal/soak"
)

// A soak that is killed has lost at most the second after its last beat, and is gone on with.
func TestKilledSoak(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the program for some seconds")
	}
	dir := t.TempDir()
	film, night := filepath.Join(dir, "good.avi"), filepath.Join(dir, "night")
	if status := run(context.Background(), []string{"simulate", "--screen", "boot", "--seed", "4", "--fields", "120", "--out", film}, io.Discard, io.Discard); status != 0 {
		t.Fatal("no recording")
	}
	c := exec.Command("backporch", "soak", film, "--loop", "--out", night) // this test's own binary, see TestMain
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	checked := func() (fields int, at time.Time) {
		records, err := soak.Read(night)
		if err != nil || len(records) == 0 {
			return 0, at
		}
		s := soak.Summarise(records)
		return s.Total.Fields, s.Ended
	}
	for begun := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		if n, _ := checked(); n > 200 {
			break
		}
		if time.Since(begun) > 2*time.Minute {
			_ = c.Process.Kill()
			t.Fatal("it checks nothing")
		}
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	killed := time.Now()
	_ = c.Wait() // it was killed
	before, last := checked()
	// A second between beats, and a frame that was being looked at; half a second for a busy computer.
	if lost := killed.Sub(last); lost > 1700*time.Millisecond {
		t.Errorf("the log ends %v before the end", lost)
	}
	log, err := os.OpenFile(filepath.Join(night, "soak.log"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := log.WriteString("1234abcd {\"t\":\"beat\""); err != nil { // cut off in the middle of a line
		t.Fatal(err)
	}
	if err := log.Close(); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if status := run(context.Background(), []string{"soak", film, "--resume", "--out", night}, &out, &errs); status != 0 {
		t.Fatalf("resumed: status %d, %s", status, errs.String())
	}
	after, _ := checked()
	if after <= before || !bytes.Contains(out.Bytes(), []byte("in 2 sessions")) {
		t.Errorf("%d fields, then %d: %s", before, after, out.String())
	}
}
