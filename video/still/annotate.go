package still

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"

	"golang.org/x/image/draw"

	"backporch/video"
	"backporch/video/picture"
)

// Tone says what kind of finding a print shows; it sets a sign and its colour.
type Tone int

// The tones.
const (
	ToneUnsure Tone = iota // a hollow square
	ToneClean              // a disc
	ToneFault              // a triangle
)

// A Region is a place worth outlining, in samples and lines of the field.
type Region struct {
	X, Y, W, H int
	Label      string
}

// An Entry is a name and a value of the small print.
type Entry struct{ Name, Value string }

// An Annotation is what is drawn about a field.
type Annotation struct {
	Tone    Tone
	Title   string   // one line: the finding
	Details []string // a paragraph each; what does not fit is cut, with an ellipsis
	Print   []Entry  // source, time, frame, hash
	Regions []Region
	// Exhibits, at most three, show the finding closely. Without any the first region
	// that is not too large is enlarged.
	Exhibits []Exhibit
}

// The print's measures, in its own pixels. The picture is shown at 4:3 whatever its
// samples, 864 high: three to a line of a 625/50 field.
const (
	printWidth = 1280
	shownW     = 1152
	shownH     = 864
	ruler      = 44
	margin     = (printWidth - shownW - ruler) / 2
	top        = 40
)

// Colours that keep apart for all kinds of colour sight: they differ in lightness
// first. Brick and petrol also carry different signs.
var (
	paper  = color.RGBA{0xFA, 0xF8, 0xF2, 0xFF}
	ink    = color.RGBA{0x1D, 0x24, 0x2C, 0xFF}
	faint  = color.RGBA{0x6A, 0x70, 0x77, 0xFF}
	hair   = color.RGBA{0xCD, 0xC8, 0xBC, 0xFF}
	mark   = color.RGBA{0xF6, 0xC4, 0x5A, 0xFF} // of outlines, cased in ink
	brick  = color.RGBA{0xA9, 0x3F, 0x2B, 0xFF}
	petrol = color.RGBA{0x1C, 0x62, 0x6E, 0xFF}
	ochre  = color.RGBA{0x7C, 0x68, 0x2A, 0xFF}
)

func (t Tone) colour() color.RGBA {
	switch t {
	case ToneClean:
		return petrol
	case ToneFault:
		return brick
	}
	return ochre
}

// Annotate draws a field with its regions outlined, rulers in samples and lines, and a
// caption below. The evidence stays visible: outlines run around regions, lanes are marked
// above and below, and nothing is tinted.
func Annotate(f *video.Field, a Annotation) (image.Image, error) {
	shown, err := show(f)
	if err != nil {
		return nil, err
	}
	faces, err := loadFaces()
	if err != nil {
		return nil, err
	}
	p := &print{faces: faces, field: f, sx: float64(shownW) / float64(f.Width), sy: float64(shownH) / float64(f.Height)}
	p.area = image.Rect(margin+ruler, top, margin+ruler+shownW, top+shownH)
	groups := grouped(a.Regions, f.Width, f.Height)

	if zoom := zoomOf(groups, f.Width, f.Height); len(a.Exhibits) == 0 && !zoom.Empty() {
		a.Exhibits = []Exhibit{{Title: "Enlarged", Part: &Part{Where: zoom}, Note: fmt.Sprintf("from sample %d, line %d", zoom.Min.X, zoom.Min.Y)}}
	}
	a.Exhibits = a.Exhibits[:min(len(a.Exhibits), mostExhibits)]
	c := p.layOut(a)
	p.img = image.NewRGBA(image.Rect(0, 0, printWidth, c.bottom))
	draw.Draw(p.img, p.img.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	draw.CatmullRom.Scale(p.img, p.area, shown, shown.Bounds(), draw.Src, nil)
	p.rulers()
	for i := range a.Exhibits {
		if err := p.exhibit(&a.Exhibits[i], c.exhibits[i], a.Tone); err != nil {
			return nil, err
		}
	}
	p.outline(groups)
	c.unlabelled = p.labels(groups)
	p.caption(a, c)
	return p.img, nil
}

// WriteAnnotated writes an annotated copy as PNG, marked as one.
func WriteAnnotated(w io.Writer, f *video.Field, a Annotation) error {
	img, err := Annotate(f, a)
	if err != nil {
		return err
	}
	return writeMarked(w, img)
}

// writeMarked writes a drawing as PNG, marked as one, so that it is never read as a capture.
func writeMarked(w io.Writer, img image.Image) error {
	var drawn bytes.Buffer
	// A sixth of the time of the usual level, for a file a sixth larger.
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&drawn, img); err != nil {
		return err
	}
	data, out := drawn.Bytes(), &bytes.Buffer{}
	out.Write(data[:headLength])
	writeText(out, copyKey, "annotated")
	out.Write(data[headLength:])
	_, err := w.Write(out.Bytes())
	return err
}

// SaveAnnotated keeps an annotated copy in a file, as Save does.
func SaveAnnotated(path string, f *video.Field, a Annotation) (sum string, err error) {
	return save(path, func(w io.Writer) error { return WriteAnnotated(w, f, a) })
}

// A print is being drawn.
type print struct {
	img    *image.RGBA
	faces  *faces
	field  *video.Field
	area   image.Rectangle   // of the picture
	sx, sy float64           // the print's pixels a sample, a line
	marked []image.Rectangle // all regions
	taken  []image.Rectangle // where no label can go: plates and rails
	plates []image.Rectangle // the labels
}

// show makes R, G, B of a field.
func show(f *video.Field) (*image.RGBA, error) {
	frame := &video.Frame{Y: f.Y, Cb: f.Cb, Cr: f.Cr, Width: f.Width, Height: f.Height, ChromaWidth: f.ChromaWidth, ChromaHeight: f.Height}
	if len(f.Cb) == 0 {
		frame.ChromaWidth, frame.ChromaHeight = 0, 0
	}
	if err := sound(frame); err != nil {
		return nil, err
	}
	if f.Width < 16 || f.Height < 16 {
		return nil, errors.New("a field smaller than 16 x 16 can't be annotated")
	}
	return picture.ToRGBA(frame), nil
}

// place gives the print's pixels of a rectangle in samples and lines.
func (p *print) place(r image.Rectangle) image.Rectangle {
	x := func(v int) int { return p.area.Min.X + int(float64(v)*p.sx+0.5) }
	y := func(v int) int { return p.area.Min.Y + int(float64(v)*p.sy+0.5) }
	return image.Rect(x(r.Min.X), y(r.Min.Y), x(r.Max.X), y(r.Max.Y))
}

func (p *print) fill(r image.Rectangle, c color.Color) {
	draw.Draw(p.img, r, image.NewUniform(c), image.Point{}, draw.Over)
}

// rulers draws scales above and to the left, as on an instrument's chart.
func (p *print) rulers() {
	r := p.area
	for _, edge := range []image.Rectangle{
		{image.Pt(r.Min.X-1, r.Min.Y-1), image.Pt(r.Max.X+1, r.Min.Y)}, {image.Pt(r.Min.X-1, r.Max.Y), image.Pt(r.Max.X+1, r.Max.Y+1)},
		{image.Pt(r.Min.X-1, r.Min.Y), image.Pt(r.Min.X, r.Max.Y)}, {image.Pt(r.Max.X, r.Min.Y), image.Pt(r.Max.X+1, r.Max.Y)},
	} {
		p.fill(edge, ink)
	}
	for x := 0; x <= p.field.Width; x += 10 {
		at := r.Min.X + int(float64(x)*p.sx)
		length := 4
		switch {
		case x%100 == 0:
			length = 12
			label := number(x)
			if x == 0 {
				label = "0 samples"
			}
			p.text(p.faces.tiny, faint, at+4, r.Min.Y-8, label)
		case x%50 == 0:
			length = 8
		}
		p.fill(image.Rect(at, r.Min.Y-1-length, at+1, r.Min.Y-1), faint)
	}
	for y := 0; y <= p.field.Height; y += 10 {
		at := r.Min.Y + int(float64(y)*p.sy)
		length := 4
		if y%50 == 0 {
			length = 12
			label := number(y)
			p.text(p.faces.tiny, faint, r.Min.X-16-p.width(p.faces.tiny, label), at+5, label)
		}
		p.fill(image.Rect(r.Min.X-1-length, at, r.Min.X-1, at+1), faint)
	}
	p.text(p.faces.tiny, faint, margin, r.Max.Y-2, "lines")
}
