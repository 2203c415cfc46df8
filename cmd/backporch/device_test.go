//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backporch/video"
	"backporch/video/capture/v4l2"
	"backporch/video/capture/v4l2/v4l2test"
	"backporch/video/source"
)

// These run on a machine with a kernel's virtual capture drivers ('make device-test'), whose
// devices the environment names, and are skipped elsewhere.

// testDevice gives a test driver's device.
func testDevice(t *testing.T, variable string) string {
	t.Helper()
	path := os.Getenv(variable)
	if path == "" {
		t.Skip(variable + " names no device")
	}
	return path
}

// checked is what these tests look at in check --json.
type checked struct {
	Source struct {
		Kind          string
		Width, Height int
		Frames        int
	}
	Display string
	Sync    struct {
		State        string
		DeviceStatus []string `json:"device_status"`
	}
	Registration struct {
		OK      bool
		OriginX *float64 `json:"origin_x"`
		OriginY *float64 `json:"origin_y"`
		PitchX  *float64 `json:"pitch_x"`
	}
	Verdict struct {
		Class  string
		Faults []struct {
			Kind       string
			Bit, Level *int
			Columns    string
		}
		Why []string
	}
}

func runCheck(t *testing.T, args ...string) checked {
	t.Helper()
	var out, errs bytes.Buffer
	status := run(context.Background(), append([]string{"check", "--json"}, args...), &out, &errs)
	var c checked
	if err := json.Unmarshal(out.Bytes(), &c); status == statusFailed || err != nil {
		t.Fatalf("check %v: status %d, %v, %s", args, status, err, errs.String())
	}
	return c
}

func setDriver(t *testing.T, path string, args ...string) {
	t.Helper()
	if out, err := exec.Command("v4l2-ctl", append([]string{"-d", path}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("v4l2-ctl %v: %v\n%s", args, err, out)
	}
}

// What the device says of the signal decides between no signal and no lock, which its
// picture, noise at full rate, does not tell; both standards.
func TestDeviceSignalStates(t *testing.T) {
	path := testDevice(t, "CAPTURE_VM_VIVID")
	defer setDriver(t, path, "-c", "standard_signal_mode=0")
	for _, c := range []struct {
		standard, mode string
		height         int
		state, kind    string
		words          []string
	}{
		{"pal", "0", 576, "", "", nil},
		{"pal", "1", 576, "no-signal", "no-signal", []string{"no signal"}},
		{"pal", "2", 576, "no-lock", "sync-weak", []string{"no horizontal lock"}},
		{"ntsc", "1", 480, "no-signal", "no-signal", []string{"no signal"}},
		{"ntsc", "2", 480, "no-lock", "sync-weak", []string{"no horizontal lock"}},
	} {
		setDriver(t, path, "-i", "0", "-s", c.standard, "-c", "standard_signal_mode="+c.mode)
		got := runCheck(t, path, "--input", "S-Video 0", "--standard", c.standard, "--seconds", "1")
		if got.Source.Kind != "device" || got.Source.Height != c.height || !slices.Equal(got.Sync.DeviceStatus, c.words) && len(c.words)+len(got.Sync.DeviceStatus) > 0 {
			t.Errorf("%s, mode %s: %+v", c.standard, c.mode, got)
		}
		if c.state == "" {
			continue
		}
		if got.Sync.State != c.state || got.Verdict.Class != "signal" || len(got.Verdict.Faults) == 0 || got.Verdict.Faults[0].Kind != c.kind {
			t.Errorf("%s, mode %s: sync %s, verdict %+v", c.standard, c.mode, got.Sync.State, got.Verdict)
		}
		if why := strings.Join(got.Verdict.Why, "; "); !strings.Contains(why, "the device itself says: "+c.words[0]) {
			t.Errorf("%s, mode %s: why %q", c.standard, c.mode, why)
		}
	}
}

func TestDevicesAndGrabOnDriver(t *testing.T) {
	path := testDevice(t, "CAPTURE_VM_VIVID")
	setDriver(t, path, "-i", "0", "-s", "pal", "-c", "standard_signal_mode=1")
	defer setDriver(t, path, "-c", "standard_signal_mode=0")
	do := func(want int, args ...string) (string, string) {
		t.Helper()
		var out, errs bytes.Buffer
		if got := run(context.Background(), args, &out, &errs); got != want {
			t.Errorf("%v: status %d: %s", args, got, errs.String())
		}
		return out.String(), errs.String()
	}
	listed, _ := do(statusClean, "devices")
	for _, want := range []string{path, "S-Video 0", "tuner", "set to pal", "the device says: no signal", "YUYV (used)"} {
		if !strings.Contains(listed, want) {
			t.Errorf("devices does not say %q:\n%s", want, listed)
		}
	}
	setDriver(t, path, "-c", "standard_signal_mode=0")
	said, _ := do(statusClean, "grab", path, "--seconds", "1", "--out", t.TempDir())
	if !strings.Contains(said, "720x576, mean of") {
		t.Errorf("grab: %s", said)
	}
	// Another program holds it.
	holder := exec.Command("v4l2-ctl", "-d", path, "--stream-mmap", "--stream-count=1000")
	if err := holder.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = holder.Process.Kill(); _ = holder.Wait() }()
	time.Sleep(2 * time.Second)
	begin := time.Now()
	_, complaint := do(statusFailed, "check", path)
	if took := time.Since(begin); took > 4*time.Second || !strings.Contains(complaint, "another program holds the device") || strings.Count(complaint, "\n") > 2 {
		t.Errorf("a device that is in use, after %v: %q", took, complaint)
	}
}

// Captures fed to a device in real time are judged as the files are. The files, and what
// check says of them, were made before ('make device-test').
func TestDeviceVerdictsAreTheFiles(t *testing.T) {
	path := testDevice(t, "CAPTURE_VM_LOOPBACK")
	folder := os.Getenv("BACKPORCH_CAPTURES")
	if folder == "" {
		t.Skip("BACKPORCH_CAPTURES names no folder of captures")
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.avi"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no captures in %s: %v", folder, err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".avi"), func(t *testing.T) {
			data, err := os.ReadFile(strings.TrimSuffix(file, ".avi") + ".json")
			if err != nil {
				t.Fatal(err)
			}
			var want checked
			if err := json.Unmarshal(data, &want); err != nil {
				t.Fatal(err)
			}
			frames, width, height := packedFrames(t, file)
			f, err := v4l2test.Feed(path, width, height, func(n int) []byte { return frames[n%len(frames)] })
			if err != nil {
				t.Fatal(err)
			}
			defer func() {
				if err := f.Stop(); err != nil {
					t.Error(err)
				}
			}()
			for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); time.Sleep(50 * time.Millisecond) {
				if _, err := v4l2.Query(path); err == nil {
					break
				}
			}
			got := runCheck(t, path, "--display", want.Display, "--seconds", "1")
			kinds := []string{}
			for _, f := range got.Verdict.Faults {
				kinds = append(kinds, f.Kind)
			}
			t.Logf("%d frames: %s, %s %v", got.Source.Frames, got.Sync.State, got.Verdict.Class, kinds)
			if got.Sync.State != want.Sync.State || got.Verdict.Class != want.Verdict.Class || got.Source.Height != want.Source.Height {
				t.Errorf("sync %s, class %s; of the file: %s, %s", got.Sync.State, got.Verdict.Class, want.Sync.State, want.Verdict.Class)
			}
			if len(want.Verdict.Faults) > 0 {
				a, b := got.Verdict.Faults, want.Verdict.Faults
				if len(a) == 0 || a[0].Kind != b[0].Kind || !same(a[0].Bit, b[0].Bit) || !same(a[0].Level, b[0].Level) {
					t.Errorf("faults %+v, of the file %+v", a, b)
				}
			}
			near := func(name string, a, b *float64, by float64) {
				switch {
				case (a == nil) != (b == nil):
					t.Errorf("%s: measured %v, of the file %v", name, a != nil, b != nil)
				case a != nil && math.Abs(*a-*b) > by:
					t.Errorf("%s: %v, of the file %v", name, *a, *b)
				}
			}
			near("origin_x", got.Registration.OriginX, want.Registration.OriginX, 0.5)
			near("origin_y", got.Registration.OriginY, want.Registration.OriginY, 0.5)
			near("pitch_x", got.Registration.PitchX, want.Registration.PitchX, 0.002)
		})
	}
}

func same(a, b *int) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

// packedFrames reads a capture as YUYV packets, codes as they are.
func packedFrames(t *testing.T, file string) (packets [][]byte, width, height int) {
	t.Helper()
	src, err := source.Open(context.Background(), file, source.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	for {
		f, err := src.Next(context.Background())
		if errors.Is(err, io.EOF) {
			return packets, width, height
		}
		if err != nil {
			t.Fatal(err)
		}
		width, height = f.Width, f.Height
		packets = append(packets, yuyv(f))
	}
}

func yuyv(f *video.Frame) []byte {
	p := make([]byte, 2*len(f.Y))
	for i, v := range f.Y {
		p[2*i] = v
	}
	for i := range f.Cb {
		p[4*i+1], p[4*i+3] = f.Cb[i], f.Cr[i]
	}
	return p
}
