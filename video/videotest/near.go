package videotest

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"testing"

	"backporch/video"
	"backporch/video/still"
)

// Tolerance is how far pictures may be apart, in codes. Zero allows nothing.
type Tolerance struct {
	Y, C   float64 // any sample of luma, of chroma
	Beyond int     // samples of each plane that may be further off
	RMS    float64 // over each plane; 0: not looked at
}

// Distance compares two frames; nil when they are within the tolerance.
func Distance(got, want *video.Frame, tol Tolerance) error {
	if got.Width != want.Width || got.Height != want.Height || got.ChromaWidth != want.ChromaWidth || got.ChromaHeight != want.ChromaHeight {
		return fmt.Errorf("size %d x %d (chroma %d x %d), want %d x %d (%d x %d)", got.Width, got.Height, got.ChromaWidth, got.ChromaHeight,
			want.Width, want.Height, want.ChromaWidth, want.ChromaHeight)
	}
	var problems []error
	for _, p := range []struct {
		name      string
		got, want []uint8
		width     int
		tol       float64
	}{{"Y", got.Y, want.Y, got.Width, tol.Y}, {"Cb", got.Cb, want.Cb, got.ChromaWidth, tol.C}, {"Cr", got.Cr, want.Cr, got.ChromaWidth, tol.C}} {
		if len(p.got) != len(p.want) {
			problems = append(problems, fmt.Errorf("%s has %d samples, want %d", p.name, len(p.got), len(p.want)))
			continue
		}
		sum, worst, at, beyond := 0.0, -1.0, 0, 0
		for i := range p.got {
			d := math.Abs(float64(p.got[i]) - float64(p.want[i]))
			sum += d * d
			if d > worst {
				worst, at = d, i
			}
			if d > p.tol {
				beyond++
			}
		}
		if beyond > tol.Beyond {
			problems = append(problems, fmt.Errorf("%s: %d samples are more than %g codes off, the worst %g at %d, %d", p.name, beyond, p.tol, worst, at%p.width, at/p.width))
		}
		if rms := math.Sqrt(sum / float64(max(1, len(p.got)))); tol.RMS > 0 && rms > tol.RMS {
			problems = append(problems, fmt.Errorf("%s: %.2f codes rms off, %g allowed", p.name, rms, tol.RMS))
		}
	}
	return errors.Join(problems...)
}

// Near compares a frame with a golden still. When they differ, what came, what was
// wanted and the difference (grey is none, times eight) are put into t.ArtifactDir. With
// the environment's BACKPORCH_RENEW=1 the golden still is written anew: look at it
// before keeping it.
func Near(t testing.TB, got *video.Frame, golden string, tol Tolerance) {
	t.Helper()
	if os.Getenv("BACKPORCH_RENEW") == "1" {
		if err := os.Remove(golden); err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
		if _, err := still.Save(golden, got, still.Text{Field: -1, Order: video.OrderOf(got.Width, got.Height)}); err != nil {
			t.Fatal(err)
		}
		return
	}
	file, err := os.Open(golden)
	if err != nil {
		t.Fatalf("golden still: %v (BACKPORCH_RENEW=1 writes it)", err)
	}
	defer file.Close()
	want, err := still.Read(file)
	if err != nil {
		t.Fatalf("golden still %s: %v", golden, err)
	}
	off := Distance(got, want.Frame, tol)
	if off == nil {
		return
	}
	dir := t.ArtifactDir()
	keep := func(name string, f *video.Frame) {
		if _, err := still.Save(filepath.Join(dir, name+".png"), f, still.Text{Field: -1}); err != nil {
			t.Log(err)
		}
	}
	keep("got", got)
	keep("want", want.Frame)
	if got.Width == want.Frame.Width && got.Height == want.Frame.Height {
		if err := difference(filepath.Join(dir, "difference.png"), got, want.Frame); err != nil {
			t.Log(err)
		}
	}
	t.Errorf("%s (pictures in %s):\n%v", golden, dir, off)
}

func difference(path string, a, b *video.Frame) error {
	img := image.NewGray(image.Rect(0, 0, a.Width, a.Height))
	for i := range a.Y {
		d := 128 + 8*(int(a.Y[i])-int(b.Y[i]))
		img.SetGray(i%a.Width, i/a.Width, color.Gray{Y: uint8(max(0, min(255, d)))})
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(png.Encode(f, img), f.Close())
}
