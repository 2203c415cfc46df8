package still

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"backporch/video"
)

func annotated(t testing.TB, f *video.Field, a Annotation) *image.RGBA {
	t.Helper()
	img, err := Annotate(f, a)
	if err != nil {
		t.Fatal(err)
	}
	return img.(*image.RGBA)
}

// The picture is 4:3 whatever the standard, and what lies inside an outline is untouched.
func TestAnnotationLeavesTheEvidence(t *testing.T) {
	for _, height := range []int{288, 240} {
		f, _ := screen(height, 3)
		plain := annotated(t, f, Annotation{Title: "a"})
		r := Region{X: 300, Y: 100, W: 46, H: 24, Label: "three cells"}
		marked := annotated(t, f, Annotation{Title: "a", Regions: []Region{r}})
		p := &print{field: f, sx: float64(shownW) / 720, sy: float64(shownH) / float64(height), area: image.Rect(margin+ruler, top, margin+ruler+shownW, top+shownH)}
		if dx, dy := p.area.Dx(), p.area.Dy(); dx*3 != dy*4 {
			t.Errorf("the picture is %d x %d", dx, dy)
		}
		q := p.place(image.Rect(r.X, r.Y, r.X+r.W, r.Y+r.H))
		outside := 0
		for y := p.area.Min.Y; y < p.area.Max.Y; y++ {
			for x := p.area.Min.X; x < p.area.Max.X; x++ {
				if plain.RGBAAt(x, y) == marked.RGBAAt(x, y) {
					continue
				}
				if image.Pt(x, y).In(q) {
					t.Fatalf("height %d: pixel %d, %d inside the outline was changed", height, x, y)
				}
				outside++
			}
		}
		if least := 2 * (q.Dx() + q.Dy()) * outlineReach; outside < least {
			t.Errorf("height %d: %d pixels drawn about the region, its outline has %d", height, outside, least)
		}
	}
}

// labelled puts regions' labels on a blank print and gives it.
func labelled(t testing.TB, f *video.Field, regions []Region) (p *print, unlabelled int) {
	t.Helper()
	faces, err := loadFaces()
	if err != nil {
		t.Fatal(err)
	}
	p = &print{faces: faces, field: f, sx: float64(shownW) / float64(f.Width), sy: float64(shownH) / float64(f.Height)}
	p.area = image.Rect(margin+ruler, top, margin+ruler+shownW, top+shownH)
	p.img = image.NewRGBA(image.Rect(0, 0, printWidth, top+shownH+100))
	groups := grouped(regions, f.Width, f.Height)
	for _, g := range groups {
		if g.lane {
			p.lane(g)
		}
	}
	return p, p.labels(groups)
}

func TestLabelsKeepApart(t *testing.T) {
	f, _ := screen(288, -1)
	rapid.Check(t, func(rt *rapid.T) {
		var regions []Region
		for i := range rapid.IntRange(0, 40).Draw(rt, "regions") {
			regions = append(regions, Region{
				X: rapid.IntRange(-50, 760).Draw(rt, "x"), Y: rapid.IntRange(-50, 320).Draw(rt, "y"),
				W: rapid.IntRange(-5, 300).Draw(rt, "w"), H: rapid.IntRange(-5, 300).Draw(rt, "h"),
				Label: strings.Repeat("long ", rapid.IntRange(0, 30).Draw(rt, "length")) + fmt.Sprint(i%9),
			})
		}
		p, unlabelled := labelled(t, f, regions)
		for i, a := range p.plates {
			if !a.In(p.area) {
				rt.Fatalf("label %v leaves the picture %v", a, p.area)
			}
			for _, b := range p.plates[:i] {
				if a.Overlaps(b) {
					rt.Fatalf("labels %v and %v overlap", a, b)
				}
			}
		}
		if len(p.plates) > mostLabels || unlabelled < 0 {
			rt.Fatalf("%d labels, %d more", len(p.plates), unlabelled)
		}
	})
}

func TestHundredsOfRegions(t *testing.T) {
	f, lanes := screen(288, 3)
	var cells, pieces, sixLanes []Region
	for row := range 24 {
		for column := range 32 {
			x := 113 + int(float64(column)*15.43)
			cells = append(cells, Region{X: x, Y: 48 + 8*row, W: 15, H: 8, Label: fmt.Sprintf("cell %d, %d", column, row)})
			pieces = append(pieces, Region{X: x + 7, Y: 48 + 8*row, W: 2, H: 8, Label: "bit 3"})
		}
	}
	for bit := range 6 {
		for _, l := range lanes {
			l.X -= 2 * bit
			l.Label = fmt.Sprint("bit ", 3+bit)
			sixLanes = append(sixLanes, l)
		}
	}
	if g := grouped(cells, 720, 288); len(g) != 1 || g[0].lane || g[0].label != "cell 0, 0 and 767 more" {
		t.Errorf("768 cells that touch make %d groups, the first is %q", len(g), g[0].label)
	}
	if g := grouped(pieces, 720, 288); len(g) != 1 || !g[0].lane || len(g[0].rects) != 32 || g[0].rects[0].Dy() != 192 {
		t.Errorf("a lane told cell by cell makes %d groups", len(g))
	}
	for name, c := range map[string]struct {
		regions []Region
		plates  int
	}{"cells": {cells, 1}, "pieces of a lane": {pieces, 1}, "192 lane marks": {sixLanes, 6}} {
		if p, more := labelled(t, f, c.regions); len(p.plates) != c.plates || more != 0 {
			t.Errorf("%s: %d labels and %d without, want %d", name, len(p.plates), more, c.plates)
		}
		annotated(t, f, Annotation{Title: name, Regions: c.regions})
	}
}

func TestAnnotateTakesAnyText(t *testing.T) {
	f, _ := screen(240, -1)
	for _, s := range []string{"", "a\nb\tc", strings.Repeat("word ", 900), strings.Repeat("x", 5000), "\xff\x00…é漢"} {
		img := annotated(t, f, Annotation{Title: s, Details: []string{s, s, s}, Print: []Entry{{s, s}, {"source", s}}, Regions: []Region{{10, 10, 20, 20, s}}})
		if h := img.Bounds().Dy(); h > 2000 {
			t.Errorf("a print of %d lines for %.10q", h, s)
		}
	}
}

func TestWrapKeepsPerCent(t *testing.T) {
	faces, err := loadFaces()
	if err != nil {
		t.Fatal(err)
	}
	p := &print{faces: faces}
	for width := 60; width < 400; width += 7 {
		for _, line := range p.wrap(faces.body, "bit 5 has 36 % of it, bit 7 has 28 %; the rest has 36 %", width, 30) {
			if strings.HasPrefix(line, "%") {
				t.Fatalf("width %d: a line begins with %q", width, line)
			}
		}
	}
}

// An exhibit that lies outside its field is refused, and the print grows with exhibits.
func TestExhibits(t *testing.T) {
	f, _ := screen(288, 3)
	bare := annotated(t, f, Annotation{Title: "a"}).Bounds().Dy()
	rows := Exhibit{Title: "t", Rows: []Row{{Expected: 0x21, Seen: 0x29, Cells: 4}, {Expected: 'O', Seen: 'M', Glyphs: true, Cells: 9999}}}
	part := Exhibit{Title: "t", Note: "n", Part: &Part{Where: image.Rect(100, 60, 146, 78), Columns: []Column{{X: 110, W: 2, Label: "3", Bad: true}, {X: 0, W: 2, Label: "7"}}}}
	for n, all := range [][]Exhibit{{part}, {part, rows}, {rows, part, rows, part}} {
		if dy := annotated(t, f, Annotation{Title: "a", Exhibits: all}).Bounds().Dy(); dy < bare+boxH {
			t.Errorf("%d: the print is %d high, %d without exhibits", n, dy, bare)
		}
	}
	out := Exhibit{Part: &Part{Where: image.Rect(800, 0, 900, 20)}}
	if _, err := Annotate(f, Annotation{Exhibits: []Exhibit{out}}); err == nil {
		t.Error("a part outside the field was drawn")
	}
}

func TestAnnotateRefuses(t *testing.T) {
	for name, f := range map[string]*video.Field{
		"nothing": {}, "a point": {Y: []uint8{1}, Width: 1, Height: 1},
		"short planes": {Y: make([]uint8, 100), Width: 720, Height: 288},
	} {
		if _, err := Annotate(f, Annotation{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestSaveAnnotatedMonochrome(t *testing.T) {
	f := &video.Field{Y: make([]uint8, 64*32), Width: 64, Height: 32}
	var b bytes.Buffer
	if err := WriteAnnotated(&b, f, Annotation{Title: "no colour", Tone: ToneClean}); err != nil {
		t.Fatal(err)
	}
	if _, err := png.Decode(bytes.NewReader(b.Bytes())); err != nil {
		t.Fatal(err)
	}
	if !IsAnnotated(b.Bytes()[:128]) || IsAnnotated(encode(t, noisy(64, 64, 0, 0, 1), Text{Source: "x"})[:128]) || IsAnnotated(nil) {
		t.Error("annotated copies and stills are not told apart by their first bytes")
	}
	if _, err := Read(&b); !errors.Is(err, ErrAnnotated) {
		t.Errorf("read as a capture: %v", err)
	}
}

// Against encoding the very picture, which an annotated copy can't do without.
func BenchmarkAnnotate(b *testing.B) {
	f, lanes := screen(288, 3)
	img := annotated(b, f, Annotation{Title: "a", Regions: lanes})
	begin := time.Now()
	for range 5 {
		_ = png.Encode(&bytes.Buffer{}, img)
	}
	bare := time.Since(begin).Seconds() / 5
	for b.Loop() {
		annotated(b, f, Annotation{Title: "a", Regions: lanes})
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*1000, "ms/print")
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/bare, "x-png-encode")
}
