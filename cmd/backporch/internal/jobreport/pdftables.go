package jobreport

import (
	"bytes"

	"codeberg.org/go-pdf/fpdf"
)

// pictures sets them in so many columns, each at most so many millimetres high.
func (s *sheet) pictures(list []*Picture, columns int, most float64) {
	const gutter = 5.0
	width := (s.width - 2*marginX - gutter*float64(columns-1)) / float64(columns)
	for len(list) > 0 {
		row := list[:min(columns, len(list))]
		list = list[len(row):]
		tallest := 0.0
		for _, p := range row {
			tallest = max(tallest, min(width*float64(p.Height)/float64(p.Width), most))
		}
		s.room(tallest + 12)
		y, below := s.GetY(), 0.0
		for i, p := range row {
			kind := "PNG"
			if p.JPEG {
				kind = "JPG"
			}
			o := fpdf.ImageOptions{ImageType: kind}
			s.RegisterImageOptionsReader(p.Name, o, bytes.NewReader(p.Data))
			x := marginX + float64(i)*(width+gutter)
			h := min(width*float64(p.Height)/float64(p.Width), most)
			s.ImageOptions(p.Name, x, y, h*float64(p.Width)/float64(p.Height), h, false, o, 0, "")
			s.SetXY(x, y+h+1)
			s.face("", smallSize, soft)
			s.MultiCell(width, smallSize*point*leading, plane(p.Caption), "", "L", false)
			below = max(below, s.GetY())
		}
		s.SetY(below + 2)
	}
}

// cells is a row of a table: the columns' left edges, and what stands in each.
func (s *sheet) cells(edges []float64, size float64, c colour, said ...string) {
	s.room(size * point * leading * 3)
	y, below := s.GetY(), 0.0
	for i, text := range said {
		right := s.width - marginX
		if i+1 < len(edges) {
			right = edges[i+1] - 2
		}
		s.face("", size, c)
		s.SetXY(edges[i], y+0.7)
		s.MultiCell(right-edges[i], size*point*leading, plane(text), "", "L", false)
		below = max(below, s.GetY())
	}
	s.SetDrawColor(rule[0], rule[1], rule[2])
	s.SetLineWidth(0.15)
	s.Line(marginX, below+0.5, s.width-marginX, below+0.5)
	s.SetY(below + 0.7)
}

func (s *sheet) changes(list []Change) {
	if len(list) == 0 {
		return
	}
	s.title("Parts changed")
	edges := []float64{marginX, marginX + 26, marginX + 26 + (s.width-2*marginX-26)/2}
	s.cells(edges, smallSize, soft, "position", "taken out", "put in")
	for _, c := range list {
		in := c.In
		if in == "" {
			in = "nothing: it is empty"
		}
		out := c.Out
		if out == "" {
			out = "nothing"
		}
		s.cells(edges, bodySize, ink, c.Position, withReason(out, c.OutSaid), withReason(in, c.InSaid))
	}
}

func withReason(part, said string) string {
	if said == "" {
		return part
	}
	return part + "\n" + said
}

func (s *sheet) measures(m *Model) {
	if len(m.Measures) == 0 {
		return
	}
	s.title("Measurements")
	edges, head := []float64{marginX}, []string{"measure"}
	column := func(name string, width float64) {
		edges, head = append(edges, s.width-marginX-width), append(head, name)
	}
	if m.HasBefore() {
		column("before", 78)
	}
	if m.HasAfter() {
		column("after", 52)
	}
	column("unit", 26)
	s.cells(edges, smallSize, soft, head...)
	for _, r := range m.Measures {
		row := []string{capital(r.Name)}
		if r.Note != "" {
			row[0] += " (" + r.Note + ")"
		}
		dash := func(v string) string {
			if v == "" {
				return "–"
			}
			return v
		}
		if m.HasBefore() {
			row = append(row, dash(r.Before))
		}
		if m.HasAfter() {
			row = append(row, dash(r.After))
		}
		s.cells(edges, bodySize, ink, append(row, r.Unit)...)
	}
}
