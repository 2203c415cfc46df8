package still

import (
	"bytes"
	"errors"
	"image"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"backporch/video"
)

func plain(luma uint8) *video.Field {
	f := &video.Field{Width: 720, Height: 288, Y: make([]uint8, 720*288)}
	for i := range f.Y {
		f.Y[i] = luma
	}
	return f
}

func TestPairShowsBothAndOutlinesBoth(t *testing.T) {
	region := []Region{{X: 200, Y: 100, W: 40, H: 16}}
	p := Pair{
		Before: View{Field: plain(60), Heading: "Before", Regions: region}, After: View{Field: plain(180), Heading: "After", Regions: region},
		Title: "Better", Details: []string{"one", "two"}, Columns: []string{"", "before", "after", ""},
		Rows: []PairRow{{Cells: []string{"hum", "2 %", "1 %", "better"}, Marked: true, Tone: ToneClean}}, Print: []Entry{{"tool", "x"}},
	}
	img, err := p.Side()
	if err != nil {
		t.Fatal(err)
	}
	// The middle of each picture is its grey, the outline's colour is in both halves alone where the region is.
	for i, grey := range []uint8{51, 191} { // (60-16) and (180-16) of 219 of 255; ITU-R BT.601
		middle := image.Pt(pairMargin+i*(pairW+pairGap)+pairW/2, pairTop+pairH*3/4)
		if r, _, _, _ := img.At(middle.X, middle.Y).RGBA(); abs(float64(r>>8)-float64(grey)) > 2 {
			t.Errorf("picture %d: grey %d, want %d", i, r>>8, grey)
		}
		marks := 0
		area := image.Rect(0, 0, pairW, pairH).Add(image.Pt(pairMargin+i*(pairW+pairGap), pairTop))
		for y := area.Min.Y; y < area.Max.Y; y++ {
			for x := area.Min.X; x < area.Max.X; x++ {
				if img.At(x, y) == mark {
					marks++
					at := image.Pt((x-area.Min.X)*720/pairW, (y-area.Min.Y)*288/pairH)
					if !at.In(image.Rect(185, 90, 255, 126)) {
						t.Fatalf("picture %d: an outline at sample %v", i, at)
					}
				}
			}
		}
		if marks < 50 {
			t.Errorf("picture %d: %d pixels of outline", i, marks)
		}
	}
	path := filepath.Join(t.TempDir(), "pair.png")
	if _, err := SavePair(path, p); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil || !IsAnnotated(data) {
		t.Errorf("not marked as an annotated copy: %v", err)
	}
	if _, err := Read(bytes.NewReader(data)); !errors.Is(err, ErrAnnotated) {
		t.Errorf("read as a capture: %v", err)
	}
	if _, err := SavePair(path, p); !errors.Is(err, fs.ErrExist) {
		t.Errorf("overwrote: %v", err)
	}
	p.After.Field = nil
	if _, err := SavePair(path+"x", p); err == nil {
		t.Error("a pair of one picture")
	}
}
