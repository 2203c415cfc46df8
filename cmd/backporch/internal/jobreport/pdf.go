package jobreport

import (
	"fmt"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
)

// Paper is a size of sheet.
type Paper string

// The papers (ISO 216; ANSI/ASME Y14.1 A).
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// Measures of the sheet, in millimetres, and of the type, in points.
const (
	marginX, marginTop, marginBottom = 18.0, 16.0, 17.0
	leading                          = 1.42 // of the type's size
	point                            = 25.4 / 72
)

// A colour is red, green, blue.
type colour [3]int

var (
	ink   = colour{32, 38, 43}
	soft  = colour{92, 102, 110}
	rule  = colour{201, 196, 184}
	tint  = colour{241, 238, 229}
	marks = map[Tone]colour{Well: {29, 107, 79}, Faulty: {163, 52, 28}, Unsure: {122, 92, 0}}
)

// A sheet is a PDF being written.
type sheet struct {
	*fpdf.Fpdf
	width, height float64 // of the page, in millimetres
}

// PDF writes the report on paper of this size. Letters that its fonts lack (they have Latin, Greek
// and Cyrillic) come out as boxes; the page shows them.
func (m *Model) PDF(w io.Writer, paper Paper) error {
	s := &sheet{Fpdf: fpdf.New("P", "mm", string(paper), "")}
	s.width, s.height = s.GetPageSize()
	s.SetMargins(marginX, marginTop, marginX)
	s.SetAutoPageBreak(true, marginBottom)
	s.AddUTF8FontFromBytes("go", "", goregular.TTF)
	s.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	s.AddUTF8FontFromBytes("go", "I", goitalic.TTF)
	s.AddUTF8FontFromBytes("mono", "", gomono.TTF)
	s.SetCatalogSort(true)
	s.SetCreationDate(m.Made)
	s.SetModificationDate(m.Made)
	s.SetTitle(m.Machine+": "+m.Answer, true)
	s.SetLang("en")
	s.SetProducer(m.Tool, true)
	s.SetFooterFunc(func() {
		s.SetY(-marginBottom + 5)
		s.face("", 7.5, soft)
		s.CellFormat(0, 4, m.Machine+"; job "+fmt.Sprint(m.Job.ID), "", 0, "L", false, 0, "")
		s.SetX(marginX)
		s.CellFormat(0, 4, fmt.Sprintf("page %d", s.PageNo()), "", 0, "R", false, 0, "")
	})
	s.AddPage()
	s.head(m)
	s.body(m)
	return s.Output(w)
}

func (s *sheet) face(style string, size float64, c colour) {
	s.SetFont("go", style, size)
	s.SetTextColor(c[0], c[1], c[2])
}

// plane keeps to the letters that a PDF's UTF-8 font can address: those of the basic plane.
func plane(text string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xffff {
			return '\uFFFD'
		}
		return r
	}, text)
}

// text writes a paragraph from the left edge x.
func (s *sheet) text(x float64, style string, size float64, c colour, said string) {
	s.face(style, size, c)
	s.SetX(x)
	s.MultiCell(s.width-marginX-x, size*point*leading, plane(said), "", "L", false)
}

// room begins a new page if less than so many millimetres are left.
func (s *sheet) room(mm float64) {
	if s.GetY()+mm > s.height-marginBottom {
		s.AddPage()
	}
}

func (s *sheet) title(said string) {
	s.room(22)
	s.Ln(4.2)
	s.text(marginX, "B", 11, ink, said)
	s.Ln(0.8)
}

// body type, and that of small print.
const (
	bodySize  = 10.0
	smallSize = 8.5
)

func (s *sheet) list(items []string) {
	for _, item := range items {
		s.room(8)
		y := s.GetY()
		s.face("", bodySize, ink)
		s.SetX(marginX)
		s.CellFormat(4, bodySize*point*leading, "•", "", 0, "L", false, 0, "")
		s.SetY(y)
		s.text(marginX+4, "", bodySize, ink, item)
		s.Ln(0.6)
	}
}

func (s *sheet) head(m *Model) {
	mark := marks[m.Tone]
	s.face("", smallSize, soft)
	s.CellFormat(0, 5, fmt.Sprintf("Repair report for job %d, %s", m.Job.ID, on(m.Made)), "", 1, "L", false, 0, "")
	s.line(s.width-marginX-36, marginTop-2.2, 36, 5.6, mark)
	s.text(marginX, "B", 17, ink, m.Machine)
	s.Ln(1.5)
	s.SetDrawColor(rule[0], rule[1], rule[2])
	s.SetLineWidth(0.25)
	s.Line(marginX, s.GetY(), s.width-marginX, s.GetY())
	s.Ln(5)
	y := s.GetY()
	s.sign(m.Tone, marginX, y, 9)
	s.SetY(y - 0.6)
	s.text(marginX+13, "B", 15, mark, m.Answer)
	for _, p := range m.Lead {
		s.text(marginX+13, "", 10.5, ink, p)
		s.Ln(0.6)
	}
	s.SetY(max(s.GetY(), y+10))
}

// line draws one line of television: sync, burst on the back porch, picture.
func (s *sheet) line(x, y, w, h float64, c colour) {
	s.SetDrawColor(c[0], c[1], c[2])
	s.SetLineWidth(0.35)
	points := [][2]float64{{0, 26}, {14, 26}, {14, 36}, {32, 36}, {32, 26}, {38, 26}}
	for i := range 5 {
		at := 38 + 4.4*float64(i)
		points = append(points, [2]float64{at + 1.1, 21}, [2]float64{at + 3.3, 31})
	}
	points = append(points, [][2]float64{{61, 26}, {70, 26}, {70, 16}, {92, 16}, {92, 8}, {112, 8}, {112, 20}, {138, 20}, {138, 4},
		{162, 4}, {162, 14}, {180, 14}, {180, 23}, {198, 23}, {198, 26}, {211, 26}}...)
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		s.Line(x+a[0]/211*w, y+a[1]/38*h, x+b[0]/211*w, y+b[1]/38*h)
	}
}

// sign draws the tone's sign: a disc, a triangle or a hollow square.
func (s *sheet) sign(t Tone, x, y, size float64) {
	c := marks[t]
	s.SetFillColor(c[0], c[1], c[2])
	s.SetDrawColor(255, 255, 255)
	s.SetLineWidth(1)
	at := func(px, py float64) fpdf.PointType { return fpdf.PointType{X: x + px/40*size, Y: y + py/40*size} }
	switch t {
	case Well:
		s.Circle(x+size/2, y+size/2, size*17/40, "F")
		a, b, d := at(12, 21), at(18, 27), at(29, 14)
		s.Line(a.X, a.Y, b.X, b.Y)
		s.Line(b.X, b.Y, d.X, d.Y)
	case Faulty:
		s.Polygon([]fpdf.PointType{at(20, 3), at(38, 36), at(2, 36)}, "F")
		a, b := at(20, 15), at(20, 25)
		s.Line(a.X, a.Y, b.X, b.Y)
		a, b = at(20, 28.5), at(20, 32)
		s.Line(a.X, a.Y, b.X, b.Y)
	default:
		s.SetDrawColor(c[0], c[1], c[2])
		s.Rect(x+size*5/40, y+size*5/40, size*30/40, size*30/40, "D")
	}
}

func (s *sheet) body(m *Model) {
	if m.Job.Complaint != "" {
		s.title("What its owner said")
		y := s.GetY()
		page := s.PageNo()
		s.text(marginX+4, "I", bodySize, ink, m.Job.Complaint)
		if s.PageNo() == page {
			s.SetDrawColor(rule[0], rule[1], rule[2])
			s.SetLineWidth(0.8)
			s.Line(marginX+0.5, y+0.5, marginX+0.5, s.GetY()-0.5)
		}
	}
	if pair := m.Pair(); len(pair) > 0 {
		s.title(m.PairTitle())
		s.pictures(pair, 2, 95)
	}
	if m.Compared != "" {
		s.text(marginX, "", bodySize, ink, m.Compared)
	}
	if f := m.Found; f != nil {
		s.title("What was found")
		s.text(marginX, "B", bodySize, ink, f.Summary)
		if f.Meaning != "" {
			s.text(marginX, "", bodySize, ink, f.Meaning)
		}
		s.text(marginX, "", smallSize, soft, capital(f.Heading)+"; "+stamp(f.When))
		s.Ln(0.8)
		s.list(capitals(f.Why))
		if len(f.Good) > 0 {
			s.text(marginX, "", smallSize, soft, "Seen to be good: "+strings.Join(f.Good, "; ")+".")
		}
	}
	s.changes(m.Changes)
	if m.Soak != "" {
		s.title("Watched over time")
		s.text(marginX, "", bodySize, ink, m.Soak)
	}
	s.measures(m)
	if len(m.Next) > 0 {
		s.title("What would be tested next")
		s.list(sentences(m.Next))
	}
	if len(m.Cautions) > 0 {
		s.title("Please note")
		s.list(m.Cautions)
	}
	if m.Close != nil {
		s.room(165) // the picture, its caption and the title
		s.title("A closer look at the fault")
		s.pictures([]*Picture{m.Close}, 1, 140)
	}
	if len(m.Others) > 0 {
		s.room(85)
		s.title("Further pictures")
		s.pictures(m.Others, 3, 60)
		if m.More > 0 {
			s.text(marginX, "", smallSize, soft, fmt.Sprintf("%d more are kept with the job.", m.More))
		}
	}
	if len(m.Screen) > 0 {
		s.title("The text on the screen, when the fault was seen")
		s.SetFont("mono", "", 7.5)
		s.SetTextColor(ink[0], ink[1], ink[2])
		s.SetFillColor(tint[0], tint[1], tint[2])
		for _, l := range m.Screen {
			s.SetX(marginX)
			s.CellFormat(0, 3.4, plane(l), "", 1, "L", true, 0, "")
		}
	}
	s.title("In order")
	for _, e := range m.Line {
		s.pairOf(stamp(e.When), 34, capital(e.Said), smallSize, soft)
	}
	s.Ln(3)
	foot := "Made with " + m.Tool + ", " + stamp(m.Made) + "."
	if len(m.pictures) > 0 {
		var names []string
		for _, p := range m.pictures {
			names = append(names, p.Name+" "+p.SHA256[:16]+"…")
		}
		foot += " Stills shown, by the SHA-256 of the file that is kept: " + strings.Join(names, ", ") + "."
	}
	s.text(marginX, "", 7.5, soft, foot)
}

func capitals(list []string) []string {
	out := make([]string, len(list))
	for i, item := range list {
		out[i] = capital(item)
	}
	return out
}

func sentences(list []string) []string {
	out := make([]string, len(list))
	for i, item := range list {
		out[i] = sentence(item)
	}
	return out
}

// pairOf writes a label and a text beside it.
func (s *sheet) pairOf(label string, width float64, said string, size float64, c colour) {
	s.room(size * point * leading * 2)
	y := s.GetY()
	s.face("", size, c)
	s.SetX(marginX)
	s.CellFormat(width, size*point*leading, label, "", 0, "L", false, 0, "")
	s.SetY(y)
	s.text(marginX+width, "", size, c, said)
}
