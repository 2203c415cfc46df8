package videotest

import (
	"context"
	"errors"
	"io"
	"path/filepath"
	"testing"
	"time"

	"backporch/video"
	"backporch/video/picture"
	"backporch/video/still"
)

var _ video.Source = (*Playback)(nil)

func TestPlaybackFails(t *testing.T) {
	f := picture.NewFrame(720, 576, 360, 576)
	lost := errors.New("lost")
	p := &Playback{
		Frames: []*video.Frame{f, f, f, f, f},
		Fail:   map[int]error{1: io.ErrUnexpectedEOF}, Fatal: map[int]error{4: lost}, Wait: map[int]bool{3: true},
	}
	if i := p.Info(); i.Standard != video.Std625 || i.Frames != 5 || i.Width != 720 {
		t.Errorf("info %+v", i)
	}
	ctx := context.Background()
	if got, err := p.Next(ctx); err != nil || got.Index != 0 {
		t.Fatal(err)
	}
	var bad *video.BadFrame
	if _, err := p.Next(ctx); !errors.As(err, &bad) || bad.Index != 1 || !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("frame 1: %v", err)
	}
	if got, err := p.Next(ctx); err != nil || got.Index != 2 || got.Time != 80*time.Millisecond {
		t.Errorf("frame 2: %v", err)
	}
	short, cancel := context.WithTimeout(ctx, 10*time.Millisecond)
	defer cancel()
	if _, err := p.Next(short); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("frame 3: %v", err)
	}
	for range 2 {
		if _, err := p.Next(ctx); !errors.Is(err, lost) {
			t.Errorf("frame 4: %v", err)
		}
	}
}

func TestFieldsComeBackFromTheWeave(t *testing.T) {
	f := picture.NewFrame(8, 6, 4, 6)
	for i := range f.Y {
		f.Y[i] = uint8(i)
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = uint8(i+60), uint8(i+90)
	}
	fields := f.Fields(video.TopFirst, 25)
	p := OfFields(fields)
	if err := Distance(p.Frames[0], f, Tolerance{}); err != nil || len(p.Frames) != 1 {
		t.Errorf("%d frames, %v", len(p.Frames), err)
	}
}

func TestDistance(t *testing.T) {
	a, b := picture.NewFrame(8, 8, 4, 8), picture.NewFrame(8, 8, 4, 8)
	if err := Distance(a, b, Tolerance{}); err != nil {
		t.Error(err)
	}
	b.Y[9] += 3
	b.Cr[2] -= 5
	for _, c := range []struct {
		tol  Tolerance
		near bool
	}{
		{Tolerance{Y: 3, C: 5}, true}, {Tolerance{Y: 2, C: 5}, false}, {Tolerance{Y: 3, C: 4}, false},
		{Tolerance{Beyond: 1}, true}, {Tolerance{Y: 3, C: 5, RMS: 0.1}, false}, {Tolerance{Y: 3, C: 5, RMS: 1}, true},
	} {
		if err := Distance(a, b, c.tol); (err == nil) != c.near {
			t.Errorf("%+v: %v", c.tol, err)
		}
	}
	if Distance(a, picture.NewFrame(8, 7, 4, 7), Tolerance{Y: 255, C: 255}) == nil {
		t.Error("other sizes are near")
	}
}

func TestNearReadsAStill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "golden.png")
	f := picture.NewFrame(32, 16, 16, 16)
	if _, err := still.Save(path, f, still.Text{}); err != nil {
		t.Fatal(err)
	}
	Near(t, f, path, Tolerance{})
	f.Y[0] += 40
	r := &recorder{TB: t, dir: t.TempDir()}
	Near(r, f, path, Tolerance{Y: 30})
	if !r.failed {
		t.Error("a sample that is 40 codes off is near by 30")
	}
	for _, name := range []string{"got.png", "want.png", "difference.png"} {
		if m, _ := filepath.Glob(filepath.Join(r.dir, name)); len(m) != 1 {
			t.Errorf("%s was not kept", name)
		}
	}
}

// recorder takes the failure that a test wants to see.
type recorder struct {
	testing.TB
	dir    string
	failed bool
}

func (r *recorder) Errorf(string, ...any) { r.failed = true }
func (r *recorder) ArtifactDir() string   { return r.dir }
