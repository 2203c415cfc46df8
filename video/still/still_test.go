package still

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"backporch/video"
	"backporch/video/picture"
)

// noisy is a frame with every code in it, also those outside R, G, B's gamut.
func noisy(width, height, chromaWidth, chromaHeight int, seed uint64) *video.Frame {
	r := rand.New(rand.NewPCG(seed, 2))
	f := picture.NewFrame(width, height, chromaWidth, chromaHeight)
	for _, p := range [][]uint8{f.Y, f.Cb, f.Cr} {
		for i := range p {
			p[i] = uint8(r.Uint32())
		}
	}
	return f
}

func encode(t testing.TB, f *video.Frame, text Text) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, f, text); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestEverySizeAndTextComesBack(t *testing.T) {
	words := rapid.StringMatching(`[^\x00]{0,40}`)
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 40).Draw(t, "width"), rapid.IntRange(1, 40).Draw(t, "height")
		cw, ch := 0, 0
		switch rapid.IntRange(0, 3).Draw(t, "chroma") {
		case 1:
			cw, ch = w, h
		case 2:
			cw, ch = (w+1)/2, h
		case 3:
			cw, ch = (w+1)/2, (h+1)/2
		}
		f := noisy(w, h, cw, ch, rapid.Uint64().Draw(t, "seed"))
		text := Text{
			Source: words.Draw(t, "source"), Time: time.Duration(rapid.IntRange(0, 1<<40).Draw(t, "time")) * time.Microsecond,
			Frame: rapid.IntRange(0, 1<<30).Draw(t, "frame"), Field: rapid.IntRange(-1, 1).Draw(t, "field"),
			Order: video.FieldOrder(rapid.IntRange(0, 2).Draw(t, "order")), Tool: words.Draw(t, "tool"),
			Display: words.Draw(t, "display"), Verdict: words.Draw(t, "verdict"), Note: words.Draw(t, "note"),
		}
		var b bytes.Buffer
		if err := Write(&b, f, text); err != nil {
			t.Fatal(err)
		}
		s, err := Read(&b)
		if err != nil {
			t.Fatal(err)
		}
		f.Index, f.Time = text.Frame, text.Time
		if d := cmp.Diff(f, s.Frame); d != "" {
			t.Fatalf("frame (-written +read):\n%s", d)
		}
		if d := cmp.Diff(text, s.Text); d != "" || !s.Exact {
			t.Fatalf("exact %v, text (-written +read):\n%s", s.Exact, d)
		}
	})
}

// Any viewer must show the picture: the standard library's decoder stands for them.
func TestShownPicture(t *testing.T) {
	f := picture.NewFrame(64, 32, 32, 32)
	for i := range f.Y { // 75 % red by BT.601: R 191, G 0, B 0
		f.Y[i] = 65
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = 100, 212
	}
	img, err := png.Decode(bytes.NewReader(encode(t, f, Text{Source: "x"})))
	if err != nil {
		t.Fatal(err)
	}
	got := color.RGBAModel.Convert(img.At(20, 20)).(color.RGBA)
	if got.R < 189 || got.R > 193 || got.G > 2 || got.B > 2 || img.Bounds() != image.Rect(0, 0, 64, 32) {
		t.Errorf("%v in %v", got, img.Bounds())
	}
}

func TestForeignPNG(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 720, 576))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	s, err := Read(&b)
	if err != nil {
		t.Fatal(err)
	}
	if s.Exact || s.Frame.Y[0] != 235 || s.Frame.Cb[0] != 128 || s.Text.Field != -1 || s.Text.Order != video.TopFirst {
		t.Errorf("exact %v, white is %d %d, text %+v", s.Exact, s.Frame.Y[0], s.Frame.Cb[0], s.Text)
	}
}

func TestDamageIsNoticed(t *testing.T) {
	good := encode(t, noisy(48, 32, 24, 32, 1), Text{Source: "a.avi"})
	if _, err := Read(bytes.NewReader(good)); err != nil {
		t.Fatal(err)
	}
	for at := range good {
		bad := slices.Clone(good)
		bad[at] ^= 0x10
		if s, err := Read(bytes.NewReader(bad)); err == nil {
			t.Fatalf("byte %d changed: read as if whole, %+v", at, s.Text)
		} else if strings.Contains(err.Error(), "\n") {
			t.Fatalf("byte %d changed: %q", at, err)
		}
	}
	for n := range len(good) {
		if _, err := Read(bytes.NewReader(good[:n])); err == nil {
			t.Fatalf("cut to %d bytes: read as if whole", n)
		}
	}
}

func TestSave(t *testing.T) {
	dir := t.TempDir()
	f := noisy(64, 48, 32, 48, 5)
	var paths []string
	for range 3 {
		path, sum, err := SaveNext(dir, "worst", f, Text{})
		if err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if want := sha256.Sum256(data); sum != hex.EncodeToString(want[:]) {
			t.Errorf("%s: sum %s, the file's is %x", path, sum, want)
		}
		if st, _ := os.Stat(path); st.Mode().Perm() != 0o444 {
			t.Errorf("%s: mode %v", path, st.Mode())
		}
		paths = append(paths, filepath.Base(path))
	}
	if want := []string{"worst.png", "worst-2.png", "worst-3.png"}; !slices.Equal(paths, want) {
		t.Errorf("names %v, want %v", paths, want)
	}
	if _, err := Save(filepath.Join(dir, "worst.png"), f, Text{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a still: %v", err)
	}
	f.Cb = f.Cb[:3]
	if _, err := Save(filepath.Join(dir, "new.png"), f, Text{}); err == nil {
		t.Error("kept a frame whose planes do not fit")
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 3 {
		t.Errorf("the folder holds %v", entries)
	}
}

func FuzzRead(f *testing.F) {
	f.Add(encode(f, noisy(16, 8, 8, 8, 1), Text{Source: "a.avi", Frame: 3, Field: 1}))
	f.Add(encode(f, noisy(9, 5, 0, 0, 1), Text{}))
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, err := png.DecodeConfig(bytes.NewReader(data)); err == nil && (c.Width > 256 || c.Height > 256) {
			return // sizes are capped elsewhere; here they would only slow the search
		}
		s, err := Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		again, err := Read(bytes.NewReader(encode(t, s.Frame, s.Text)))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(s.Frame, again.Frame); d != "" {
			t.Fatal(d)
		}
	})
}
