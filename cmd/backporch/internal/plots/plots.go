// Package plots draws what the signal's measures were read from: the averaged edge, the noise spectrum, the
// profile of fixed bars, and the colours on the U-V plane beside their targets.
package plots

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"backporch/analyse"
	"backporch/patterns/signalpath"
	"backporch/video"
	"backporch/video/display"
)

// A Plot is one picture, ready to be written.
type Plot struct {
	Name string // part of a file name: "edge", "spectrum", "bars", "colours"
	plot *plot.Plot
	w, h vg.Length
}

// Signal makes the plots that the survey has curves for.
func Signal(s *analyse.Survey, p *display.Profile, title string) []Plot {
	var out []Plot
	add := func(name string, q *plot.Plot, w, h vg.Length) {
		if q != nil {
			q.Title.Text = title + ": " + q.Title.Text
			out = append(out, Plot{name, q, w, h})
		}
	}
	c := &s.Signal.Curves
	add("edge", edge(c.Edge, s), 7*vg.Inch, 4*vg.Inch)
	add("spectrum", spectrum(c.Spectrum, s), 7*vg.Inch, 4*vg.Inch)
	add("bars", bars(c.Bars), 7*vg.Inch, 4*vg.Inch)
	add("colours", colours(s, p), 6*vg.Inch, 6*vg.Inch)
	return out
}

// PNG writes the plot.
func (p *Plot) PNG(w io.Writer) error {
	c, err := p.plot.WriterTo(p.w, p.h, "png")
	if err == nil {
		_, err = c.WriteTo(w)
	}
	if err != nil {
		return fmt.Errorf("drawing the plot %s: %w", p.Name, err)
	}
	return nil
}

var (
	ink    = color.RGBA{R: 0x1b, G: 0x5e, B: 0xa8, A: 255}
	accent = color.RGBA{R: 0xc0, G: 0x39, B: 0x2b, A: 255}
	faint  = color.RGBA{R: 0xb0, G: 0xb0, B: 0xb0, A: 255}
)

func points(list []analyse.Point, x func(float64) float64) plotter.XYs {
	out := make(plotter.XYs, 0, len(list))
	for _, p := range list {
		if !math.IsNaN(p.Y) && !math.IsInf(p.Y, 0) {
			out = append(out, plotter.XY{X: x(p.X), Y: p.Y})
		}
	}
	return out
}

// line adds a curve; gonum's plotter refuses only empty or non-finite data, which points leaves out.
func line(q *plot.Plot, xys plotter.XYs, c color.Color, width vg.Length, dashes ...vg.Length) {
	l, err := plotter.NewLine(xys)
	if err != nil {
		return
	}
	l.Color, l.Width, l.Dashes = c, width, dashes
	q.Add(l)
}

func level(q *plot.Plot, from, to, y float64) {
	line(q, plotter.XYs{{X: from, Y: y}, {X: to, Y: y}}, faint, vg.Points(0.8), vg.Points(4), vg.Points(3))
}

func edge(curve []analyse.Point, s *analyse.Survey) *plot.Plot {
	xys := points(curve, func(x float64) float64 { return x })
	if len(xys) < 2 {
		return nil
	}
	q := plot.New()
	q.Title.Text = "averaged edge"
	if r := s.Signal.Rise; r != nil {
		q.Title.Text += fmt.Sprintf(", %.0f ns from 10 to 90 %%", r.Value)
	}
	q.X.Label.Text, q.Y.Label.Text = "ns", "part of the step"
	q.X.Min, q.X.Max = -500, 2000
	q.Add(plotter.NewGrid())
	for _, y := range []float64{0, 0.1, 0.9, 1} {
		level(q, xys[0].X, xys[len(xys)-1].X, y)
	}
	line(q, xys, ink, vg.Points(1.8))
	q.X.Min, q.X.Max = math.Max(-500, xys[0].X), math.Min(2000, xys[len(xys)-1].X)
	return q
}

func spectrum(curve []analyse.Point, s *analyse.Survey) *plot.Plot {
	xys := points(curve, func(x float64) float64 { return x / 1e6 })
	if len(xys) < 2 {
		return nil
	}
	q := plot.New()
	q.Title.Text = "noise of the border"
	q.X.Label.Text, q.Y.Label.Text = "MHz", "dB below white, in 100 kHz"
	q.Add(plotter.NewGrid())
	line(q, xys, ink, vg.Points(1))
	var marks plotter.XYs
	var names []string
	for _, t := range s.Signal.Tones {
		if t.Pct.Value < 0.5 {
			continue
		}
		at := t.Hz.Value / 1e6
		top := math.Inf(-1)
		for _, p := range xys {
			if math.Abs(p.X-at) < 0.04 {
				top = math.Max(top, p.Y)
			}
		}
		marks = append(marks, plotter.XY{X: at, Y: top})
		how := "moves"
		if t.Fixed {
			how = fmt.Sprintf("stands, %.2f px", t.PeriodPx)
		}
		names = append(names, fmt.Sprintf("%.3f MHz, %s", at, how))
	}
	if labels, err := plotter.NewLabels(plotter.XYLabels{XYs: marks, Labels: names}); err == nil && len(marks) > 0 {
		labels.Offset = vg.Point{X: vg.Points(5), Y: vg.Points(2)}
		q.Add(labels)
		if dots, err := plotter.NewScatter(marks); err == nil {
			dots.Color, dots.Shape, dots.Radius = accent, draw.CircleGlyph{}, vg.Points(3)
			q.Add(dots)
		}
	}
	q.X.Min, q.X.Max = 0, xys[len(xys)-1].X
	q.Y.Max += 6
	return q
}

func bars(curve []analyse.Point) *plot.Plot {
	xys := points(curve, func(x float64) float64 { return x })
	if len(xys) < 2 {
		return nil
	}
	q := plot.New()
	q.Title.Text = "mean line of the border"
	q.X.Label.Text, q.Y.Label.Text = "machine pixels from the first sample used", "% of white"
	q.Add(plotter.NewGrid())
	line(q, xys, ink, vg.Points(1.2))
	// A scale that does not make a mountain of nothing.
	q.Y.Min, q.Y.Max = math.Min(q.Y.Min, -1), math.Max(q.Y.Max, 1)
	q.X.Min, q.X.Max = 0, math.Min(128, xys[len(xys)-1].X)
	return q
}

func colours(s *analyse.Survey, p *display.Profile) *plot.Plot {
	list := signalpath.ColourReadings(s, p)
	most := 0.0
	coloured := 0
	for _, c := range list {
		most = math.Max(most, math.Max(c.Target.Saturation(), c.Seen.Saturation()))
		if c.Target.Saturation() > 0.02 {
			coloured++
		}
	}
	if coloured == 0 {
		return nil
	}
	q := plot.New()
	q.Title.Text = "colours (dots) and their targets (squares)"
	q.X.Label.Text, q.Y.Label.Text = "U, part of white", "V, part of white"
	q.Add(plotter.NewGrid())
	size := 1.15 * most
	q.X.Min, q.X.Max, q.Y.Min, q.Y.Max = -size, size, -size, size
	level(q, -size, size, 0)
	line(q, plotter.XYs{{X: 0, Y: -size}, {X: 0, Y: size}}, faint, vg.Points(0.8), vg.Points(4), vg.Points(3))
	for _, c := range list {
		line(q, plotter.XYs{{X: c.Target.U, Y: c.Target.V}, {X: c.Seen.U, Y: c.Seen.V}}, faint, vg.Points(1))
		mark(q, c.Target, shade(c.Target), draw.BoxGlyph{}, vg.Points(5))
		mark(q, c.Seen, shade(c.Target), draw.CircleGlyph{}, vg.Points(4))
		name, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: c.Target.U, Y: c.Target.V}}, Labels: []string{p.Colours[c.Index].Name}})
		if err == nil && c.Target.Saturation() > 0.02 {
			name.Offset = vg.Point{X: vg.Points(8), Y: vg.Points(4)}
			q.Add(name)
		}
	}
	return q
}

func mark(q *plot.Plot, at video.YUV, c color.Color, shape draw.GlyphDrawer, radius vg.Length) {
	if dots, err := plotter.NewScatter(plotter.XYs{{X: at.U, Y: at.V}}); err == nil {
		dots.Color, dots.Shape, dots.Radius = c, shape, radius
		q.Add(dots)
	}
}

// shade is the colour as a screen shows it, dark enough to be seen on white.
func shade(c video.YUV) color.Color {
	r, g, b := c.RGB()
	code := func(v float64) uint8 { return uint8(math.Max(0, math.Min(0.85, v)) * 255) }
	return color.RGBA{R: code(r), G: code(g), B: code(b), A: 255}
}
