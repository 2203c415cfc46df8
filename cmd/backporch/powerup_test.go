package main

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
)

// switched records a machine that is switched off and on, and runs powerup on the recording.
func switched(t *testing.T, sc simulator.Scenario, args ...string) (powerFinding, int) {
	t.Helper()
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	if sc.Display, err = display.Find(all, "attr-256x192-50"); err != nil {
		t.Fatal(err)
	}
	sc.Order = video.TopFirst
	sc.Fields = sc.Power.On
	for _, c := range sc.Power.Cycles {
		sc.Fields += int(c.Off.Seconds()*sc.Display.FieldHz()) + c.On
	}
	file := filepath.Join(t.TempDir(), "switched.avi")
	if _, err := record(context.Background(), sc, file, func(int) {}); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	status := run(context.Background(), append([]string{"powerup", file, "--json", "--display", sc.Display.Name}, args...), &out, &errs)
	var f powerFinding
	if err := json.Unmarshal(out.Bytes(), &f); err != nil {
		t.Fatalf("status %d, %s: %v", status, errs.String(), err)
	}
	var text bytes.Buffer
	if err := f.text(&text); err != nil {
		t.Fatal(err)
	}
	t.Logf("\n%s", text.String())
	return f, status
}

// From a composite signal to the weak lane: the times put in are found again.
func TestRetentionOfASimulatedMachine(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates seven seconds of capture")
	}
	power := simulator.Power{On: 40, Spread: 0.5}
	for _, off := range []time.Duration{300 * time.Millisecond, 500 * time.Millisecond, 800 * time.Millisecond} {
		// The screen is written again before the next time, as a patient technician does.
		power.Cycles = append(power.Cycles, simulator.Cycle{Off: off, On: 80})
	}
	power.Clear = 40
	for lane := range power.Median {
		power.Median[lane] = 1.2
	}
	power.Median[6] = 0.5
	f, status := switched(t, simulator.Scenario{Seed: 21, Screen: simulator.ScreenBusy, Power: &power}, "--retention")
	if f.Retention == nil || f.Retention.Weakest == nil || *f.Retention.Weakest != 6 || status != statusFault {
		t.Fatalf("status %d, %+v, %s", status, f.Retention, f.Decay)
	}
	for _, l := range f.Retention.Lanes {
		if l.Median == nil {
			t.Errorf("bit %d was not measured", l.Bit)
			continue
		}
		// The device takes a fifth of a second to lock, which lengthens the times seen.
		// A lane's own intervals hold it in 95 of 100; a tenth more for the eight of them.
		if want := power.Median[l.Bit]; *l.Low > 1.1*want || *l.High < 0.9*want {
			t.Errorf("bit %d: %.2f to %.2f s, put in %.2f", l.Bit, *l.Low, *l.High, want)
		}
		if want := power.Median[l.Bit]; *l.Median < 0.85*want || *l.Median > 1.2*(want+0.25) {
			t.Errorf("bit %d: %.2f s, put in %.2f", l.Bit, *l.Median, want)
		}
	}
}

// Unwritten memory changes from one power-up to the next; a written screen is the same.
func TestPowerUpsCompared(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates some seconds of capture")
	}
	power := simulator.Power{On: 40, Cold: true, Fickle: 0.08, Cycles: []simulator.Cycle{{Off: 700 * time.Millisecond, On: 40}, {Off: 700 * time.Millisecond, On: 40}}}
	for lane := range power.Median {
		power.Median[lane] = 0.05
	}
	f, status := switched(t, simulator.Scenario{Seed: 5, Screen: simulator.ScreenBusy, Power: &power})
	if f.Word != "changes" || len(f.Runs) != 3 || status != statusFault {
		t.Errorf("unwritten memory: status %d, %s, %d power-ups", status, f.Word, len(f.Runs))
	}
	for lane := range power.Median {
		power.Median[lane] = 100 // or rather: a program writes it at once
	}
	power.Cold = false
	f, status = switched(t, simulator.Scenario{Seed: 5, Screen: simulator.ScreenBusy, Power: &power})
	if f.Word != "same" || status != statusClean {
		t.Errorf("a written screen: status %d, %s: %s", status, f.Word, f.Summary)
	}
}
