package capture

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"backporch/video"
	"backporch/video/picture"
)

// ramp is a 4:2:2 frame whose codes depend on its number.
func ramp(width, height, n int) *video.Frame {
	f := picture.NewFrame(width, height, width/2, height)
	for i := range f.Y {
		f.Y[i] = uint8(16 + (i%width/4+n*20)%219)
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = uint8(100+i%(width/2)/8), uint8(150-n*5)
	}
	return f
}

func record(t *testing.T, path string, width, height, frames int, rate float64, o WriterOptions) {
	t.Helper()
	w, err := NewWriter(path, width, height, rate, o)
	if err != nil {
		t.Fatal(err)
	}
	for n := range frames {
		if err := w.Write(ramp(width, height, n)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// What FFmpeg, a foreign reader, says of our recordings.
func TestFFmpegReadsOurAVI(t *testing.T) {
	program, err := exec.LookPath("ffprobe")
	if err != nil {
		t.Skip("ffprobe is not installed")
	}
	for _, c := range []struct {
		height int
		rate   float64
		bare   bool
		want   string
	}{
		{576, 25, false, "mjpeg,720,576,yuvj422p,25/1,7,7"},
		{576, 25, true, "mjpeg,720,576,yuvj422p,25/1,7,7"},
		{480, 30000.0 / 1001, false, "mjpeg,720,480,yuvj422p,30000/1001,7,7"},
	} {
		path := filepath.Join(t.TempDir(), "a.avi")
		record(t, path, 720, c.height, 7, c.rate, WriterOptions{NoTables: c.bare})
		out, err := exec.Command(program, "-loglevel", "error", "-count_frames", "-select_streams", "v:0", "-show_entries",
			"stream=codec_name,width,height,pix_fmt,r_frame_rate,nb_frames,nb_read_frames", "-of", "csv=p=0", path).CombinedOutput()
		if err != nil || strings.TrimSpace(string(out)) != c.want {
			t.Errorf("ffprobe says %q (%v), want %q", out, err, c.want)
		}
	}
}

func TestRecordingComesBack(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.avi")
	record(t, path, 720, 576, 5, 25, WriterOptions{Quality: 95, NoTables: true})
	s, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if i := s.Info(); i.Frames != 5 || i.Rate != 25 || i.Codec != "MJPG" || len(i.Notes) > 0 {
		t.Errorf("info %+v", i)
	}
	frames, bad := readAll(t, s)
	if len(frames) != 5 || len(bad) > 0 {
		t.Fatalf("%d frames, %v", len(frames), bad)
	}
	for n, f := range frames {
		want := ramp(720, 576, n)
		if f.ChromaWidth != 360 || f.ChromaHeight != 576 {
			t.Fatalf("chroma %d x %d", f.ChromaWidth, f.ChromaHeight)
		}
		sum := 0.0
		for i := range f.Y {
			sum += math.Abs(float64(f.Y[i]) - float64(want.Y[i]))
		}
		// The ramp's step from 235 to 16 rings; a frame in the wrong place is off by 20.
		if d := sum / float64(len(f.Y)); d > 2 {
			t.Errorf("frame %d: luma off by %.2f codes in the mean", n, d)
		}
		if d := math.Abs(float64(f.Cr[1000]) - float64(want.Cr[1000])); d > 1 {
			t.Errorf("frame %d: Cr %d, want %d", n, f.Cr[1000], want.Cr[1000])
		}
	}
}

func TestWriterRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.avi")
	if err := os.WriteFile(path, []byte("kept"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := NewWriter(path, 720, 576, 25, WriterOptions{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a file: %v", err)
	}
	for _, c := range []struct {
		w, h int
		rate float64
	}{{0, 576, 25}, {720, 5000, 25}, {720, 576, 0}, {720, 576, math.NaN()}} {
		if _, err := NewWriter(filepath.Join(dir, "b.avi"), c.w, c.h, c.rate, WriterOptions{}); err == nil {
			t.Errorf("%v: no error", c)
		}
	}
	w, err := NewWriter(path, 720, 576, 25, WriterOptions{Overwrite: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(ramp(64, 64, 0)); err == nil {
		t.Error("took a frame of another size")
	}
	if err := w.Close(); err == nil {
		t.Error("closed a recording without frames as if it were one")
	}
	if got, _ := os.ReadFile(path); string(got) != "kept" {
		t.Errorf("the file that was there holds %q", got)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("left behind: %v", entries)
	}
	record(t, path, 64, 64, 1, 25, WriterOptions{Overwrite: true})
}
