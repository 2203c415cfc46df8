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

// A grid is a table: its columns, and its head, which is said again on each page that it goes on to.
type grid struct {
	edges   []float64 // the columns' left edges
	numbers []bool    // columns that are set to the right; nil: none
	head    []string
	begun   bool
}

// cells is a row of a table.
func (s *sheet) cells(g *grid, said ...string) {
	if s.GetY()+bodySize*point*leading*3 > s.height-marginBottom {
		s.AddPage()
		g.begun = false
	}
	if !g.begun {
		g.begun = true
		s.row(g, smallSize, soft, g.head)
	}
	s.row(g, bodySize, ink, said)
}

func (s *sheet) row(g *grid, size float64, c colour, said []string) {
	y, below := s.GetY(), 0.0
	for i, text := range said {
		right := s.width - marginX
		if i+1 < len(g.edges) {
			right = g.edges[i+1] - 4
		}
		align := "L"
		if g.numbers != nil && g.numbers[i] {
			align = "R"
		}
		s.face("", size, c)
		s.SetXY(g.edges[i], y+0.7)
		s.MultiCell(right-g.edges[i], size*point*leading, plane(text), "", align, false)
		below = max(below, s.GetY())
	}
	s.SetDrawColor(rule[0], rule[1], rule[2])
	s.SetLineWidth(0.15)
	s.Line(marginX, below+0.5, s.width-marginX, below+0.5)
	s.SetY(below + 0.7)
}

// tableRoom is what a title needs with a head and two rows below it, millimetres.
const tableRoom = 36

func (s *sheet) changes(list []Change) {
	if len(list) == 0 {
		return
	}
	s.room(tableRoom)
	s.title("Parts changed")
	g := &grid{edges: []float64{marginX, marginX + 26, marginX + 26 + (s.width-2*marginX-26)/2}, head: []string{"position", "taken out", "put in"}}
	for _, c := range list {
		in := c.In
		if in == "" {
			in = "nothing: it is empty"
		}
		out := c.Out
		if out == "" {
			out = "nothing"
		}
		s.cells(g, c.Position, withReason(out, c.OutSaid), withReason(in, c.InSaid))
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
	s.room(tableRoom)
	s.title("Measurements")
	g := &grid{edges: []float64{marginX}, numbers: []bool{false}, head: []string{"measure"}}
	column := func(name string, width float64, number bool) {
		g.edges, g.numbers, g.head = append(g.edges, s.width-marginX-width), append(g.numbers, number), append(g.head, name)
	}
	if m.HasBefore() {
		column("before", 74, true)
	}
	if m.HasAfter() {
		column("after", 50, true)
	}
	column("unit", 26, false)
	for _, r := range m.Figures() {
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
		s.cells(g, append(row, r.Unit)...)
	}
	if once := m.Once(); once != "" {
		s.Ln(1)
		s.text(marginX, "", smallSize, soft, once)
	}
}
