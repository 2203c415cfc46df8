package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backporch/analyse/rate"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/report"
)

// What watch kept of a mark moves a check's weights, until a part is moved.
func TestCheckTakesMarksOfTheJob(t *testing.T) {
	dir := t.TempDir()
	store, capture, board := filepath.Join(dir, "jobs"), filepath.Join(dir, "weak.avi"), filepath.Join(dir, "board.toml")
	do := func(want int, args ...string) (string, string) {
		t.Helper()
		var out, errs bytes.Buffer
		if status := run(context.Background(), args, &out, &errs); status != want {
			t.Fatalf("%v: status %d: %s", args, status, errs.String())
		}
		return out.String(), errs.String()
	}
	if err := os.WriteFile(board, demoBoard, 0o666); err != nil {
		t.Fatal(err)
	}
	do(0, "simulate", "--screen", "listing", "--seed", "11", "--fields", "50", "--fault", "data-bit-weak:bit=3,level=1,mode=fields,share=0.3", "--out", capture)
	do(0, "job", "new", "--machine", "practice board", "--store", store)
	check := func() (*report.Report, string) {
		t.Helper()
		out, errs := do(1, "check", capture, "--display", "attr-256x192-50", "--job", "1", "--store", store, "--board", board, "--json")
		var r report.Report
		if err := json.Unmarshal([]byte(out), &r); err != nil {
			t.Fatal(err)
		}
		return &r, errs
	}
	chip := func(r *report.Report) float64 {
		for _, w := range r.Verdict.Rivals {
			if w.Cause == "chip" {
				return w.Share
			}
		}
		return 0
	}
	before, _ := check()

	s, err := job.Open(store)
	if err != nil {
		t.Fatal(err)
	}
	watch := func(bad int) rate.Watch {
		return rate.Watch{Fields: 3000, Bad: bad, Seconds: 60, Errored: min(bad, 60), WholeSeconds: 60}
	}
	if _, err := s.Attach(context.Background(), 1, job.Capture{Command: "watch", Source: "/dev/video0", Stimuli: []job.Stimulus{
		{Mark: "cooled K4", Before: watch(70), After: watch(1)},
		{Mark: "put the lamp out", Before: watch(1), After: watch(1)},
	}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	after, errs := check()
	if why := strings.Join(after.Verdict.Why, "\n"); !strings.Contains(why, "mark 'cooled K4' (") || !strings.Contains(why, "to the memory chip K4 (") {
		t.Errorf("why: %s", why)
	}
	if a, b := chip(before), chip(after); b < a+.1 {
		t.Errorf("the chip at %v, then %v", a, b)
	}
	if !strings.Contains(errs, "the mark 'put the lamp out' is left out: ") {
		t.Errorf("standard error: %s", errs)
	}

	do(0, "job", "pull", "1", "K4", "--store", store)
	moved, _ := check()
	if why := strings.Join(moved.Verdict.Why, "\n"); strings.Contains(why, "mark '") {
		t.Errorf("the part was moved since: %s", why)
	}
}
