package still

import (
	"fmt"
	"image"
	"image/color"
	"io"

	"golang.org/x/image/draw"

	"backporch/video"
)

// A Pair is two pictures side by side, with what they differ in outlined in both.
type Pair struct {
	Before, After View
	Tone          Tone
	Title         string   // one line: what became of it
	Details       []string // a paragraph each
	Columns       []string // heads of the table, the first over the names
	Rows          []PairRow
	Print         []Entry
}

// A View is one picture of a pair.
type View struct {
	Field   *video.Field
	Heading string
	Note    string // beside the heading, small
	Regions []Region
}

// A PairRow is a line of the table below; its last cell is drawn in Tone where Marked.
type PairRow struct {
	Cells  []string
	Marked bool
	Tone   Tone
}

const (
	pairGap    = 24
	pairW      = (printWidth - 2*pairMargin - pairGap) / 2
	pairH      = pairW * 3 / 4
	pairMargin = 44
	pairTop    = 76
	pairStep   = 26
	mostRows   = 14
)

// Side draws a pair.
func (a Pair) Side() (image.Image, error) {
	faces, err := loadFaces()
	if err != nil {
		return nil, err
	}
	views := [2]*View{&a.Before, &a.After}
	prints := [2]*print{}
	for i, v := range views {
		p := &print{faces: faces, field: v.Field, sx: pairW / float64(v.Field.Width), sy: pairH / float64(v.Field.Height)}
		p.area = image.Rect(0, 0, pairW, pairH).Add(image.Pt(pairMargin+i*(pairW+pairGap), pairTop))
		prints[i] = p
	}
	// The text is laid out before the paper's length is known.
	p := prints[0]
	width := printWidth - 2*pairMargin - signSpace
	y := pairTop + pairH + 40
	title := p.wrap(faces.title, a.Title, width, mostTitle)
	titleY := y
	y += titleStep*len(title) + 8
	type line struct {
		text  string
		first bool
		y     int
	}
	var lines []line
	for _, paragraph := range a.Details {
		for i, text := range p.wrap(faces.body, paragraph, width, 4) {
			if len(lines) < 2*mostDetail {
				lines = append(lines, line{text, i == 0, y})
				y += bodyStep
			}
		}
	}
	y += 16
	rows := a.Rows[:min(len(a.Rows), mostRows)]
	tableY := y
	if len(rows) > 0 {
		y += pairStep*(len(rows)+1) + 18
	}
	ruleY := y
	y += 16
	printY := y
	if len(a.Print) > 0 {
		y += cellStep * ((len(a.Print) + 1) / 2)
	}

	img := image.NewRGBA(image.Rect(0, 0, printWidth, y+14))
	draw.Draw(img, img.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	for i, v := range views {
		q := prints[i]
		q.img = img
		shown, err := show(v.Field)
		if err != nil {
			return nil, err
		}
		draw.CatmullRom.Scale(img, q.area, shown, shown.Bounds(), draw.Src, nil)
		q.box(q.area)
		q.text(faces.title, ink, q.area.Min.X, q.area.Min.Y-22, v.Heading)
		at := q.area.Min.X + q.width(faces.title, v.Heading) + 14
		q.text(faces.small, faint, at, q.area.Min.Y-22, q.fit(faces.small, v.Note, q.area.Max.X-at, true))
		q.outline(grouped(v.Regions, v.Field.Width, v.Field.Height))
	}
	x := pairMargin + signSpace
	p.sign(a.Tone, image.Rect(pairMargin, titleY+3, pairMargin+28, titleY+31))
	for i, text := range title {
		p.text(faces.title, ink, x, titleY+titleStep*i+29, text)
	}
	for _, l := range lines {
		if l.first && len(a.Details) > 1 {
			p.fill(image.Rect(x-16, l.y+11, x-10, l.y+17), a.Tone.colour())
		}
		p.text(faces.body, ink, x, l.y+21, l.text)
	}
	p.pairTable(a.Columns, rows, tableY)
	p.fill(image.Rect(pairMargin, ruleY, printWidth-pairMargin, ruleY+1), hair)
	for i, e := range a.Print {
		cx, cy := pairMargin+i%2*(pairW+pairGap), printY+i/2*cellStep
		p.text(faces.tiny, faint, cx, cy+13, e.Name)
		p.text(faces.small, ink, cx, cy+33, p.fit(faces.small, e.Value, pairW, true))
	}
	return img, nil
}

// box draws a hairline around a picture.
func (p *print) box(r image.Rectangle) {
	for _, edge := range []image.Rectangle{
		image.Rect(r.Min.X-1, r.Min.Y-1, r.Max.X+1, r.Min.Y), image.Rect(r.Min.X-1, r.Max.Y, r.Max.X+1, r.Max.Y+1),
		image.Rect(r.Min.X-1, r.Min.Y, r.Min.X, r.Max.Y), image.Rect(r.Max.X, r.Min.Y, r.Max.X+1, r.Max.Y),
	} {
		p.fill(edge, ink)
	}
}

// pairTable draws names at the left and figures in columns, right-aligned, but for the last, a word.
func (p *print) pairTable(columns []string, rows []PairRow, y int) {
	if len(rows) == 0 {
		return
	}
	left := pairMargin + signSpace
	names := 330
	place := func(i int, text string, right bool) int {
		x := left + names + (i-1)*170
		if i == 0 {
			return left
		}
		if right {
			return x + 130 - p.width(p.faces.small, text)
		}
		return x + 40
	}
	put := func(cells []string, y int, c color.Color, last color.Color) {
		for i, text := range cells {
			shade := c
			if i == len(cells)-1 {
				shade = last
			}
			p.text(p.faces.small, shade, place(i, text, i < len(cells)-1), y, text)
		}
	}
	put(columns, y+18, faint, faint)
	p.fill(image.Rect(left, y+pairStep-1, left+names+170*len(columns)-340+300, y+pairStep), hair)
	for i, r := range rows {
		last := color.Color(ink)
		if r.Marked {
			last = r.Tone.colour()
		}
		put(r.Cells, y+pairStep*(i+1)+19, ink, last)
	}
}

// SavePair keeps a pair in a file, as Save does.
func SavePair(path string, a Pair) (sum string, err error) {
	for _, v := range []View{a.Before, a.After} {
		if v.Field == nil || v.Field.Width < 16 || v.Field.Height < 16 {
			return "", fmt.Errorf("%s: a field smaller than 16 x 16 can't be shown", v.Heading)
		}
	}
	return save(path, func(w io.Writer) error { return writePair(w, a) })
}

func writePair(w io.Writer, a Pair) error {
	img, err := a.Side()
	if err != nil {
		return err
	}
	return writeMarked(w, img)
}
