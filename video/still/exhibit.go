package still

import (
	"fmt"
	"image"
	"image/color"

	"golang.org/x/image/draw"

	"backporch/video"
)

// An Exhibit stands under or beside the text and shows one thing closely: a Part of a
// field, Rows of a table, or Swatches of colour.
type Exhibit struct {
	Title    string
	Note     string // small, below
	Part     *Part
	Rows     []Row
	Swatches []Swatch
}

// A Part of a field is shown enlarged, its samples as they are, stretched to the box.
type Part struct {
	Field   *video.Field    // nil: the annotated one
	Where   image.Rectangle // samples and lines
	Columns []Column        // named above the box
}

// A Column is a name over some samples; a bad one is pointed at.
type Column struct {
	X, W  float64 // samples of the field
	Label string
	Bad   bool
}

// A Row says which byte should be there and which is. Glyphs show a byte as the
// characters that it stands for rather than as its pixels.
type Row struct {
	Expected, Seen uint8
	Glyphs         bool
	Cells          int
}

// A Swatch is a colour with its name and what was found of it.
type Swatch struct {
	Colour color.RGBA
	Name   string
	Note   string
	Bad    bool
}

// The measures of exhibits: three columns fill the print's width.
const (
	mostExhibits = 3
	exhibitGap   = 28
	exhibitW     = (shownW + ruler - (mostExhibits-1)*exhibitGap) / mostExhibits
	boxH         = exhibitW * 3 / 4
	columnStep   = 30 // names of columns and their points
	rowStep      = 34
	swatchStep   = 34
	pixelSide    = 11 // of a byte's pixels in a table
	titleHeight  = 28
	noteHeight   = 22
)

func (e *Exhibit) height() int {
	h := titleHeight
	switch {
	case e.Part != nil:
		h += boxH
		if len(e.Part.Columns) > 0 {
			h += columnStep + 14
		}
	case len(e.Rows) > 0:
		h += 24 + rowStep*len(e.Rows)
	default:
		h += swatchStep * len(e.Swatches)
	}
	if e.Note != "" {
		h += noteHeight
	}
	return h
}

// exhibit draws one, its upper left corner at the given place.
func (p *print) exhibit(e *Exhibit, at image.Point, t Tone) error {
	p.text(p.faces.label, ink, at.X, at.Y+17, p.fit(p.faces.label, e.Title, exhibitW, false))
	y := at.Y + titleHeight
	switch {
	case e.Part != nil:
		if len(e.Part.Columns) > 0 {
			y += columnStep
		}
		box := image.Rect(at.X, y, at.X+exhibitW, y+boxH)
		if err := p.part(e.Part, box, t); err != nil {
			return err
		}
		y = box.Max.Y
		if len(e.Part.Columns) > 0 {
			y += 14
		}
	case len(e.Rows) > 0:
		y = p.table(e.Rows, at.X, y)
	default:
		for _, s := range e.Swatches {
			r := image.Rect(at.X, y, at.X+58, y+swatchStep-8)
			p.fill(r.Inset(-1), ink)
			p.fill(r, s.Colour)
			x := r.Max.X + 12
			p.text(p.faces.label, ink, x, y+19, s.Name)
			note := p.fit(p.faces.label, s.Note, exhibitW-190, false)
			c := faint
			if s.Bad {
				c = t.colour()
			}
			p.text(p.faces.label, c, at.X+190, y+19, note)
			y += swatchStep
		}
	}
	if e.Note != "" {
		p.text(p.faces.tiny, faint, at.X, y+17, p.fit(p.faces.tiny, e.Note, exhibitW, false))
	}
	return nil
}

// part enlarges a part of a field, names its columns and points at the bad ones.
func (p *print) part(e *Part, box image.Rectangle, t Tone) error {
	f := e.Field
	if f == nil {
		f = p.field
	}
	where := e.Where.Intersect(image.Rect(0, 0, f.Width, f.Height))
	if where.Empty() {
		return fmt.Errorf("an exhibit shows %v, outside a field of %d x %d", e.Where, f.Width, f.Height)
	}
	shown, err := show(f)
	if err != nil {
		return err
	}
	p.fill(box.Inset(-1), ink)
	scaler := draw.Scaler(draw.NearestNeighbor)
	if where.Dx() > box.Dx() {
		scaler = draw.ApproxBiLinear // made smaller
	}
	scaler.Scale(p.img, box, shown, where, draw.Src, nil)
	per := float64(box.Dx()) / float64(where.Dx())
	for _, c := range e.Columns {
		x := float64(box.Min.X) + (c.X+c.W/2-float64(where.Min.X))*per
		if x < float64(box.Min.X)+2 || x > float64(box.Max.X)-2 {
			continue
		}
		w := p.width(p.faces.tiny, c.Label)
		left := int(x) - w/2
		if !c.Bad {
			p.text(p.faces.tiny, faint, left, box.Min.Y-14, c.Label)
			continue
		}
		plate := image.Rect(int(x)-max(w, 9)/2-3, box.Min.Y-columnStep+3, int(x)+(max(w, 9)+1)/2+3, box.Min.Y-columnStep+20)
		p.fill(plate.Inset(-1), ink)
		p.fill(plate, mark)
		p.text(p.faces.tiny, ink, left, box.Min.Y-14, c.Label)
		for _, tip := range []struct{ y, base int }{{box.Min.Y - 1, box.Min.Y - 9}, {box.Max.Y + 1, box.Max.Y + 12}} {
			p.point(x, tip.y, tip.base, 6, t.colour())
		}
	}
	if e.Field == nil && where.Dx() < f.Width/2 {
		p.corners(where)
	}
	return nil
}

// point fills a triangle that points at (x, tip).
func (p *print) point(x float64, tip, base int, half float64, c color.RGBA) {
	r := image.Rect(int(x-half)-1, min(tip, base), int(x+half)+2, max(tip, base)+1)
	p.shape(r, c, func(px, py float64) bool {
		part := (py - float64(tip)) / float64(base-tip) // 0 at the tip
		return part >= 0 && part <= 1 && abs(px-x) <= half*part
	})
}

// corners mark where in the picture an enlarged part lies, outside it.
func (p *print) corners(part image.Rectangle) {
	r := p.place(part)
	var arms []image.Rectangle
	for _, at := range []image.Point{r.Min, {r.Max.X, r.Min.Y}, {r.Min.X, r.Max.Y}, r.Max} {
		dx, dy := 1, 1
		if at.X == r.Max.X {
			dx = -1
		}
		if at.Y == r.Max.Y {
			dy = -1
		}
		arms = append(arms, image.Rect(at.X-dx*2, at.Y-dy*2, at.X+dx*12, at.Y), image.Rect(at.X, at.Y, at.X-dx*2, at.Y+dy*12))
	}
	for _, arm := range arms {
		p.fill(arm.Inset(-1).Intersect(p.area), ink)
	}
	for _, arm := range arms {
		p.fill(arm.Intersect(p.area), paper)
	}
}

// table draws rows of expected against seen and gives the line below.
func (p *print) table(rows []Row, x, y int) int {
	columns := [4]int{x, x + 122, x + 244, x + exhibitW}
	for i, head := range []string{"expected", "seen", "exclusive-or"} {
		p.text(p.faces.tiny, faint, columns[i], y+13, head)
	}
	cells := "cells"
	p.text(p.faces.tiny, faint, columns[3]-p.width(p.faces.tiny, cells), y+13, cells)
	y += 24
	for _, r := range rows {
		p.fill(image.Rect(x, y-3, x+exhibitW, y-2), hair)
		xor := r.Expected ^ r.Seen
		p.value(r.Expected, 0, r.Glyphs, columns[0], y)
		p.value(r.Seen, xor, r.Glyphs, columns[1], y)
		p.text(p.faces.small, ink, columns[2], y+19, fmt.Sprintf("%08b", xor))
		n := number(r.Cells)
		p.text(p.faces.small, ink, columns[3]-p.width(p.faces.small, n), y+19, n)
		y += rowStep
	}
	return y
}

// value draws a byte: its pixels as they stand on the screen, the wrong ones framed, or
// its code and character.
func (p *print) value(b, wrong uint8, glyphs bool, x, y int) {
	if glyphs {
		s := fmt.Sprintf("0x%02X", b)
		if b > 0x20 && b < 0x7F {
			s += fmt.Sprintf(" %c", b)
		}
		p.text(p.faces.small, ink, x, y+19, s)
		return
	}
	for i := range 8 {
		r := image.Rect(x+i*(pixelSide+2), y+5, x+i*(pixelSide+2)+pixelSide, y+5+pixelSide+4)
		bit := uint8(0x80) >> i
		if wrong&bit != 0 {
			p.fill(r.Inset(-3), ink)
			p.fill(r.Inset(-2), mark)
		}
		p.fill(r, ink)
		if b&bit == 0 {
			p.fill(r.Inset(1), color.White)
		}
	}
}
