package capture

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backporch/video"
	"backporch/video/capture/v4l2"
)

func TestOpenDeviceRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a")
	if err := os.WriteFile(file, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	for word, want := range map[string]string{
		"977": "no such device", "/dev/video977": "no such device", "/dev/null": "no video device", file: "no video device",
	} {
		d, err := OpenDevice(context.Background(), word, DeviceOptions{})
		if err == nil {
			_ = d.Close()
			t.Errorf("%s: opened", word)
		} else if !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %q, want one line with %q", word, err, want)
		}
	}
}

func TestDevicePath(t *testing.T) {
	for word, want := range map[string]string{"0": "/dev/video0", "10": "/dev/video10", "/dev/video2": "/dev/video2", "/dev/v4l/by-id/x": "/dev/v4l/by-id/x"} {
		if got, ok := DevicePath(word); !ok || got != want {
			t.Errorf("%s: %q, %v", word, got, ok)
		}
	}
	for _, word := range []string{"", "-1", "01", "a.avi", "5000", "dev/video0"} {
		if got, ok := DevicePath(word); ok {
			t.Errorf("%s: taken for %q", word, got)
		}
	}
}

// driver gives a test driver's device (the kernel's vivid, v4l2loopback) from the
// environment; the test is skipped without one.
func driver(t *testing.T, variable string) string {
	t.Helper()
	path := os.Getenv(variable)
	if path == "" {
		t.Skip(variable + " names no device")
	}
	return path
}

func control(t *testing.T, path string, args ...string) {
	t.Helper()
	if out, err := exec.Command("v4l2-ctl", append([]string{"-d", path}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("v4l2-ctl %v: %v\n%s", args, err, out)
	}
}

func TestDeviceGivesItsOwnPlanes(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	for _, c := range []struct {
		standard string
		height   int
		want     video.Standard
		order    video.FieldOrder
	}{{"pal", 576, video.Std625, video.TopFirst}, {"ntsc", 480, video.Std525, video.BottomFirst}} {
		control(t, path, "-i", "0", "-s", c.standard)
		d, err := OpenDevice(context.Background(), path, DeviceOptions{})
		if err != nil {
			t.Fatal(err)
		}
		i := d.Info()
		if i.Width != 720 || i.Height != c.height || i.RGB || i.Codec != "YUYV" || i.Standard != c.want || i.Order != c.order || len(i.Notes) > 0 || len(i.DeviceStatus) > 0 {
			t.Errorf("%s: info %+v", c.standard, i)
		}
		last := time.Duration(-1)
		for range 10 {
			f, err := d.Next(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			if f.Width != 720 || f.Height != c.height || f.ChromaWidth != 360 || f.ChromaHeight != c.height || f.Time <= last {
				t.Fatalf("%s: frame %d x %d, chroma %d x %d, time %v after %v", c.standard, f.Width, f.Height, f.ChromaWidth, f.ChromaHeight, f.Time, last)
			}
			last = f.Time
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		if _, err := d.Next(context.Background()); err == nil {
			for err == nil { // what was queued
				_, err = d.Next(context.Background())
			}
		}
	}
}

func TestDeviceStatusWords(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	control(t, path, "-i", "0", "-s", "pal")
	defer control(t, path, "-c", "standard_signal_mode=0")
	for mode, want := range map[string][]string{"0": nil, "1": {"no signal"}, "2": {"no horizontal lock"}} {
		control(t, path, "-c", "standard_signal_mode="+mode)
		s, err := v4l2.Query(path)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(s.Input().Status, want) || s.Standard.Scan() != video.Std625 || s.Input().Name == "" || s.Card == "" {
			t.Errorf("mode %s: %+v, want %v", mode, s, want)
		}
	}
}

func TestDeviceThatGoesAway(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	d, err := OpenDevice(context.Background(), path, DeviceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if _, err := d.Next(context.Background()); err != nil {
		t.Fatal(err)
	}
	control(t, path, "-c", "disconnect=1")
	limit := time.Now().Add(30 * time.Second) // emulated; the point is that it ends
	for err == nil && time.Now().Before(limit) {
		_, err = d.Next(context.Background())
	}
	if err == nil || errors.Is(err, io.EOF) {
		t.Fatalf("after the device went away: %v", err)
	}
	t.Log(err)
}
