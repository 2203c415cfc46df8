package still

import (
	"fmt"
	"image"
	"image/color"
	"sort"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// fonts are parsed once; faces are made for each print, since a face is not safe to share.
var fonts = sync.OnceValues(func() (all [4]*opentype.Font, err error) {
	for i, ttf := range [][]byte{gobold.TTF, goregular.TTF, gomedium.TTF, gomono.TTF} {
		if all[i], err = opentype.Parse(ttf); err != nil {
			return all, err
		}
	}
	return all, nil
})

type faces struct{ title, body, label, small, tiny font.Face }

func loadFaces() (*faces, error) {
	all, err := fonts()
	if err != nil {
		return nil, err
	}
	f := &faces{}
	for _, v := range []struct {
		face *font.Face
		of   int
		size float64
	}{{&f.title, 0, 34}, {&f.body, 1, 21}, {&f.label, 2, 18}, {&f.small, 3, 16}, {&f.tiny, 1, 13}} {
		if *v.face, err = opentype.NewFace(all[v.of], &opentype.FaceOptions{Size: v.size, DPI: 72, Hinting: font.HintingFull}); err != nil {
			return nil, err
		}
	}
	return f, nil
}

func number(v int) string { return strconv.Itoa(v) }

func (p *print) text(f font.Face, c color.Color, x, baseline int, s string) {
	d := font.Drawer{Dst: p.img, Src: image.NewUniform(c), Face: f, Dot: fixed.P(x, baseline)}
	d.DrawString(s)
}

func (p *print) width(f font.Face, s string) int { return font.MeasureString(f, s).Ceil() }

// fit shortens a line to a width; keepEnd cuts it in front, as suits a path.
func (p *print) fit(f font.Face, s string, width int, keepEnd bool) string {
	s = strings.Join(strings.Fields(s), " ")
	if p.width(f, s) <= width {
		return s
	}
	runes := []rune(s)
	cut := func(n int) string {
		if keepEnd {
			return "…" + string(runes[len(runes)-n:])
		}
		return string(runes[:n]) + "…"
	}
	// The fewest that are too many, less one.
	n := sort.Search(len(runes)+1, func(n int) bool { return p.width(f, cut(min(n, len(runes)))) > width })
	if n == 0 {
		return ""
	}
	return cut(n - 1)
}

// wrap breaks a paragraph into lines, at most max; the last one says with an ellipsis
// that more was cut.
func (p *print) wrap(f font.Face, s string, width, max int) []string {
	var out []string
	line := ""
	var words []string
	for _, word := range strings.Fields(s) {
		if n := len(words); n > 0 && word[0] == '%' { // a number keeps its per cent sign
			words[n-1] += " " + word
			continue
		}
		words = append(words, word)
	}
	for i, word := range words {
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if p.width(f, longer) <= width {
			line = longer
			continue
		}
		if len(out) == max-1 {
			return append(out, p.fit(f, strings.Join(append([]string{line}, words[i:]...), " "), width, false))
		}
		if line != "" {
			out = append(out, line)
		}
		line = p.fit(f, word, width, false)
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// A cell of the small print.
type cell struct {
	x, y        int
	name, value string
}

// A caption's layout.
type layout struct {
	textWidth  int
	title      []string
	details    []string // lines
	first      []bool   // the line begins a paragraph
	cells      []cell
	exhibits   []image.Point
	ruleY      int // between details and small print
	bottom     int
	unlabelled int
}

const (
	titleStep  = 42
	bodyStep   = 29
	cellStep   = 50
	mostTitle  = 2
	mostDetail = 9
	signSpace  = 44
)

func (p *print) layOut(a Annotation) *layout {
	c := &layout{textWidth: shownW + ruler - signSpace}
	y := p.area.Max.Y + 34
	start := y
	beside := len(a.Exhibits) == 1 // more of them stand below the text
	if beside {
		c.textWidth -= exhibitW + exhibitGap
		c.exhibits = []image.Point{{p.area.Max.X - exhibitW, y}}
	}
	c.title = p.wrap(p.faces.title, a.Title, c.textWidth, mostTitle)
	y += titleStep*len(c.title) + 8
	for _, paragraph := range a.Details {
		left := mostDetail - len(c.details)
		if left <= 0 {
			c.details[len(c.details)-1] = p.fit(p.faces.body, c.details[len(c.details)-1]+" …", c.textWidth, false)
			break
		}
		lines := p.wrap(p.faces.body, paragraph, c.textWidth, left)
		for i := range lines {
			c.first = append(c.first, i == 0)
		}
		c.details = append(c.details, lines...)
	}
	y += bodyStep*len(c.details) + 12
	if beside {
		y = max(y, start+a.Exhibits[0].height()+16)
	} else if len(a.Exhibits) > 0 {
		tallest := 0
		for i := range a.Exhibits {
			c.exhibits = append(c.exhibits, image.Pt(margin+i*(exhibitW+exhibitGap), y+8))
			tallest = max(tallest, a.Exhibits[i].height())
		}
		y += tallest + 24
	}
	c.ruleY = y
	y += 16
	x, right := margin, printWidth-margin
	for _, e := range a.Print {
		value := p.fit(p.faces.small, e.Value, (right-margin)*2/3, true)
		w := max(p.width(p.faces.small, value), p.width(p.faces.tiny, e.Name))
		if x > margin && x+w > right {
			x, y = margin, y+cellStep
		}
		c.cells = append(c.cells, cell{x, y, e.Name, value})
		x += w + 40
	}
	if len(c.cells) > 0 {
		y += cellStep
	}
	c.bottom = y + 14
	return c
}

func (p *print) caption(a Annotation, c *layout) {
	x := margin + signSpace
	y := p.area.Max.Y + 34
	p.sign(a.Tone, image.Rect(margin, y+3, margin+28, y+31))
	for i, line := range c.title {
		p.text(p.faces.title, ink, x, y+titleStep*i+29, line)
	}
	y += titleStep*len(c.title) + 8
	for i, line := range c.details {
		if c.first[i] && len(a.Details) > 1 {
			p.fill(image.Rect(x-16, y+bodyStep*i+11, x-10, y+bodyStep*i+17), a.Tone.colour())
		}
		p.text(p.faces.body, ink, x, y+bodyStep*i+21, line)
	}
	p.fill(image.Rect(margin, c.ruleY, printWidth-margin, c.ruleY+1), hair)
	if c.unlabelled > 0 {
		note := fmt.Sprintf("%d more places are outlined without a label", c.unlabelled)
		p.text(p.faces.tiny, faint, printWidth-margin-p.width(p.faces.tiny, note), p.area.Max.Y+17, note)
	}
	for _, e := range c.cells {
		p.text(p.faces.tiny, faint, e.x, e.y+13, e.name)
		p.text(p.faces.small, ink, e.x, e.y+33, e.value)
	}
}

// sign draws the tone's sign, so that it does not hang on colour alone.
func (p *print) sign(t Tone, r image.Rectangle) {
	cx, cy := float64(r.Min.X+r.Max.X)/2, float64(r.Min.Y+r.Max.Y)/2
	h := float64(r.Dx()) / 2
	p.shape(r, t.colour(), func(x, y float64) bool {
		x, y = (x-cx)/h, (y-cy)/h
		switch t {
		case ToneClean:
			return x*x+y*y <= 0.9
		case ToneFault: // standing on its base
			return y <= 0.8 && y >= -0.95 && abs(x) <= (y+0.95)/1.75
		}
		outer, inner := max(abs(x), abs(y)) <= 0.85, max(abs(x), abs(y)) < 0.5
		return outer && !inner
	})
}

func abs(v float64) float64 { return max(v, -v) }

// shape fills what inside says, with its edge smoothed by 4 x 4 points a pixel.
func (p *print) shape(r image.Rectangle, c color.RGBA, inside func(x, y float64) bool) {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			n := 0
			for i := range 16 {
				if inside(float64(x)+(float64(i%4)+0.5)/4, float64(y)+(float64(i/4)+0.5)/4) {
					n++
				}
			}
			if n > 0 {
				p.fill(image.Rect(x, y, x+1, y+1), color.NRGBA{c.R, c.G, c.B, uint8(n * 255 / 16)})
			}
		}
	}
}
