package source

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"

	"backporch/video"
	"backporch/video/capture"
	"backporch/video/picture"
	"backporch/video/still"
	"backporch/video/videotest"
)

func wedge(width, height int, shift uint8) *video.Frame {
	f := picture.NewFrame(width, height, (width+1)/2, height)
	for i := range f.Y {
		f.Y[i] = uint8(16+i%width/4) + shift
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = uint8(100+i%50), 140+shift
	}
	return f
}

func put(t *testing.T, path string, encode func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := encode(&b); err != nil {
		t.Fatal(err)
	}
	return bytesFile(t, path, b.Bytes())
}

func bytesFile(t *testing.T, path string, data []byte) string {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func all(t *testing.T, s video.Source) (frames []*video.Frame, bad []error) {
	t.Helper()
	for {
		f, err := s.Next(context.Background())
		var b *video.BadFrame
		switch {
		case errors.As(err, &b):
			bad = append(bad, err)
		case errors.Is(err, io.EOF):
			return frames, bad
		case err != nil:
			t.Fatal(err)
		default:
			frames = append(frames, f)
		}
	}
}

func TestStillsOfEverySort(t *testing.T) {
	dir := t.TempDir()
	own := wedge(720, 576, 3)
	ownPath := put(t, filepath.Join(dir, "own.png"), func(w io.Writer) error {
		return still.Write(w, own, still.Text{Frame: 12, Time: 480 * time.Millisecond, Order: video.BottomFirst})
	})
	// 75 % yellow in R, G, B; its codes by BT.601 are 162, 44, 142.
	flat := image.NewRGBA(image.Rect(0, 0, 720, 480))
	for y := range 480 {
		for x := range 720 {
			flat.SetRGBA(x, y, color.RGBA{191, 191, 0, 255})
		}
	}
	kept, err := picture.EncodeJPEG(nil, own, picture.JPEGOptions{Quality: 98})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, path string
		want       video.Info
		check      func(f *video.Frame) bool
	}{
		{"our own", ownPath, video.Info{Kind: video.KindStill, Width: 720, Height: 576, Frames: 1, Order: video.BottomFirst, Standard: video.Std625, Codec: "PNG"},
			func(f *video.Frame) bool {
				return videotest.Distance(f, own, videotest.Tolerance{}) == nil && f.Index == 12 && f.Time == 480*time.Millisecond
			}},
		{"png", put(t, filepath.Join(dir, "a.png"), func(w io.Writer) error { return png.Encode(w, flat) }),
			video.Info{Kind: video.KindStill, Width: 720, Height: 480, Frames: 1, Order: video.BottomFirst, Standard: video.Std525, Codec: "PNG", RGB: true}, yellow},
		{"bmp", put(t, filepath.Join(dir, "a.bmp"), func(w io.Writer) error { return bmp.Encode(w, flat) }),
			video.Info{Kind: video.KindStill, Width: 720, Height: 480, Frames: 1, Order: video.BottomFirst, Standard: video.Std525, Codec: "BMP", RGB: true}, yellow},
		{"tiff by another name", put(t, filepath.Join(dir, "a.avi"), func(w io.Writer) error { return tiff.Encode(w, flat, nil) }),
			video.Info{Kind: video.KindStill, Width: 720, Height: 480, Frames: 1, Order: video.BottomFirst, Standard: video.Std525, Codec: "TIFF", RGB: true}, yellow},
		{"jpeg", bytesFile(t, filepath.Join(dir, "a.jpg"), kept),
			video.Info{Kind: video.KindStill, Width: 720, Height: 576, Frames: 1, Order: video.TopFirst, Standard: video.Std625, Codec: "JPEG", Block: 8},
			func(f *video.Frame) bool {
				return videotest.Distance(f, own, videotest.Tolerance{Y: 4, C: 4, RMS: 1.5}) == nil
			}},
	} {
		s, err := Open(context.Background(), c.path, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		i := s.Info()
		if (len(i.Notes) > 0) != c.want.RGB {
			t.Errorf("%s: notes %q", c.name, i.Notes)
		}
		i.Notes, c.want.Spec = nil, c.path
		if i.Kind != c.want.Kind || i.Width != c.want.Width || i.Height != c.want.Height || i.Frames != 1 || i.Order != c.want.Order ||
			i.Standard != c.want.Standard || i.Codec != c.want.Codec || i.RGB != c.want.RGB || i.Block != c.want.Block || i.Spec != c.path {
			t.Errorf("%s: info %+v, want %+v", c.name, i, c.want)
		}
		frames, bad := all(t, s)
		if len(frames) != 1 || len(bad) > 0 || !c.check(frames[0]) {
			t.Errorf("%s: %d frames, %v", c.name, len(frames), bad)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func yellow(f *video.Frame) bool {
	near := func(a, b uint8) bool { return max(a, b)-min(a, b) <= 1 }
	return near(f.Y[5000], 162) && near(f.Cb[5000], 44) && near(f.Cr[5000], 142)
}

func TestFolder(t *testing.T) {
	dir := t.TempDir()
	for i, name := range []string{"s-2.png", "s-10.png", "s-1.png"} {
		if _, err := still.Save(filepath.Join(dir, name), wedge(720, 576, uint8(i)), still.Text{}); err != nil {
			t.Fatal(err)
		}
	}
	bytesFile(t, filepath.Join(dir, "notes.txt"), []byte("not looked at"))
	bytesFile(t, filepath.Join(dir, ".hidden.png"), []byte("not looked at"))
	bytesFile(t, filepath.Join(dir, "s-0.png"), []byte("broken"))
	if _, err := still.Save(filepath.Join(dir, "s-11.png"), wedge(720, 480, 0), still.Text{}); err != nil {
		t.Fatal(err)
	}
	field := wedge(720, 576, 0).Fields(video.TopFirst, 25)[0]
	if _, err := still.SaveAnnotated(filepath.Join(dir, "s-1-annotated.png"), field, still.Annotation{Title: "a"}); err != nil {
		t.Fatal(err)
	}
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if i := s.Info(); i.Kind != video.KindFolder || i.Frames != 5 || i.Height != 576 {
		t.Errorf("info %+v", i)
	}
	frames, bad := all(t, s)
	var shifts []uint8
	for _, f := range frames {
		shifts = append(shifts, f.Y[0]-16)
	}
	if !slices.Equal(shifts, []uint8{2, 0, 1}) || len(bad) != 2 {
		t.Errorf("stills %v, want 2 0 1 (s-1, s-2, s-10); bad: %v", shifts, bad)
	}
	for i, want := range []string{"s-0.png", "s-11.png"} {
		if i < len(bad) && !strings.Contains(bad[i].Error(), want) {
			t.Errorf("bad still %d: %v", i, bad[i])
		}
	}
}

func TestOptions(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.avi")
	w, err := capture.NewWriter(path, 720, 480, 25, capture.WriterOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for n := range 30 {
		if err := w.Write(wedge(720, 480, uint8(n))); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	order := video.TopFirst
	for _, c := range []struct {
		o      Options
		frames int
	}{{Options{}, 30}, {Options{Seconds: 0.4, Order: &order, Standard: video.Std525}, 10}, {Options{Seconds: 0.01}, 1}, {Options{Seconds: 1e30}, 30}} {
		s, err := Open(context.Background(), path, c.o)
		if err != nil {
			t.Fatal(err)
		}
		i := s.Info()
		frames, bad := all(t, s)
		if len(frames) != c.frames || len(bad) > 0 || i.Frames != c.frames || i.Kind != video.KindFile {
			t.Errorf("%+v: %d frames, %v, info %+v", c.o, len(frames), bad, i)
		}
		if c.o.Order != nil && (i.Order != order || i.Standard != video.Std525) {
			t.Errorf("info %+v", i)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

// header is a PNG of this size with nothing behind its header.
func header(width, height uint32) []byte {
	body := append([]byte("IHDR"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)...)
	body = append(body, 8, 2, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	return binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
}

func TestOpenRefusesInOneLine(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	small := func(w, h int) func(io.Writer) error {
		return func(out io.Writer) error { return png.Encode(out, image.NewRGBA(image.Rect(0, 0, w, h))) }
	}
	var whole bytes.Buffer
	if err := png.Encode(&whole, image.NewRGBA(image.Rect(0, 0, 720, 576))); err != nil {
		t.Fatal(err)
	}
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewRGBA(image.Rect(0, 0, 720, 576)), nil); err != nil {
		t.Fatal(err)
	}
	empty := at("folder")
	broken := at("broken")
	for _, d := range []string{empty, broken} {
		if err := os.Mkdir(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	bytesFile(t, filepath.Join(broken, "a.png"), []byte("text"))
	field := wedge(720, 576, 0).Fields(video.TopFirst, 25)[0]
	if _, err := still.SaveAnnotated(at("marked.png"), field, still.Annotation{}); err != nil {
		t.Fatal(err)
	}
	tiny := at("tiny.avi")
	w, err := capture.NewWriter(tiny, 32, 32, 25, capture.WriterOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write(wedge(32, 32, 0)), w.Close()); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, spec, want string }{
		{"missing", at("none.avi"), "no such file"},
		{"empty", bytesFile(t, at("empty.avi"), nil), "the file is empty"},
		{"empty still", bytesFile(t, at("empty.png"), nil), "the file is empty"},
		{"text as recording", bytesFile(t, at("text.avi"), []byte("hello\n")), "it is text"},
		{"text as still", bytesFile(t, at("text.png"), []byte("hello\n")), "it is text"},
		{"1 x 1", put(t, at("one.png"), small(1, 1)), "1 x 1: too small"},
		{"63 lines", put(t, at("low.png"), small(720, 63)), "720 x 63: too small"},
		{"no lines", bytesFile(t, at("flat.png"), header(720, 0)), "dimension"},
		{"wider than any", bytesFile(t, at("wide.png"), header(5000, 576)), "5000 x 576: larger"},
		{"larger than memory", bytesFile(t, at("huge.png"), header(4000000000, 4000000000)), "dimension"},
		{"still cut off", bytesFile(t, at("cut.png"), whole.Bytes()[:whole.Len()/2]), "cut off"},
		{"photo cut off", bytesFile(t, at("cut.jpg"), photo.Bytes()[:photo.Len()/2]), "cut off"},
		{"BMP cut off", bytesFile(t, at("cut.bmp"), []byte("BM\x00\x00")), "cut off"},
		{"TIFF of nothing", bytesFile(t, at("bad.tif"), []byte("II*\x00\xff\xff\xff\xff")), ""},
		{"tiny recording", tiny, "32 x 32: too small"},
		{"annotated copy", at("marked.png"), "annotated copy"},
		{"empty folder", empty, "no stills in this folder"},
		{"folder of broken stills", broken, "a.png"},
		{"no such device", "/dev/none7", "no such device"},
		{"number of none", "977", "no such device"},
		{"not a capture device", "/dev/null", "no video device"},
	} {
		s, err := Open(context.Background(), c.spec, Options{})
		if err == nil {
			_ = s.Close()
			t.Errorf("%s: opened", c.name)
			continue
		}
		name := c.spec
		if c.spec == "977" {
			name = "/dev/video977"
		}
		if got := err.Error(); !strings.Contains(got, c.want) || strings.Contains(got, "\n") || strings.Count(got, name) != 1 {
			t.Errorf("%s: %q, want one line with the name once and %q", c.name, got, c.want)
		}
	}
	if _, err := Open(context.Background(), "", Options{}); err == nil {
		t.Error("opened nothing")
	}
	if os.Geteuid() != 0 {
		locked := bytesFile(t, at("locked.avi"), []byte("RIFF"))
		if err := os.Chmod(locked, 0); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(context.Background(), locked, Options{}); err == nil || !strings.Contains(err.Error(), "permission denied") {
			t.Errorf("unreadable: %v", err)
		}
	}
}

func TestCancelled(t *testing.T) {
	path := put(t, filepath.Join(t.TempDir(), "a.png"), func(w io.Writer) error { return png.Encode(w, image.NewGray(image.Rect(0, 0, 100, 100))) })
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Next(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestByName(t *testing.T) {
	got := []string{"b1", "a10", "a2", "a02", "a", "b", "a1c", "a1b"}
	slices.SortFunc(got, byName)
	if want := []string{"a", "a1b", "a1c", "a02", "a2", "a10", "b", "b1"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(header(100, 100))
	f.Add([]byte("BM"))
	f.Add([]byte("II*\x00\x08\x00\x00\x00"))
	var b bytes.Buffer
	if err := bmp.Encode(&b, image.NewRGBA(image.Rect(0, 0, 4, 4))); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		l, err := decode(data)
		if err == nil && (len(l.frame.Y) != l.frame.Width*l.frame.Height || l.frame.Width < 1) {
			t.Fatalf("%d samples for %d x %d", len(l.frame.Y), l.frame.Width, l.frame.Height)
		}
	})
}
