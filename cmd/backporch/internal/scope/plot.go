package scope

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"backporch/analyse/waveform"
)

var (
	ink    = color.NRGBA{R: 0x12, G: 0x3a, B: 0x6b, A: 0xff}
	band   = color.NRGBA{R: 0xb8, G: 0xcc, B: 0xe4, A: 0xff}
	faint  = color.NRGBA{R: 0xe4, G: 0xe4, B: 0xe4, A: 0xff}
	marked = color.NRGBA{R: 0xa0, G: 0x3a, B: 0x10, A: 0xff}
)

const (
	plotWidth  = 1180 // points at 72 a inch: pixels
	plotHeight = 980
)

// WritePlot draws the averaged line as a PNG: the whole line above, blanking close up
// below. The light band is what any line reached, the dark line their mean.
func WritePlot(w io.Writer, r *waveform.Result, title string) error {
	img := vgimg.NewWith(vgimg.UseWH(plotWidth, plotHeight), vgimg.UseDPI(72))
	canvas := draw.New(img)
	whole, err := wholeLine(r, title)
	if err != nil {
		return err
	}
	near, err := blanking(r)
	if err != nil {
		return err
	}
	middle := canvas.Min.Y + (canvas.Max.Y-canvas.Min.Y)*0.5
	whole.Draw(draw.Crop(canvas, 8, -16, middle-canvas.Min.Y+4, -10))
	near.Draw(draw.Crop(canvas, 8, -16, 8, middle-canvas.Max.Y-4))
	_, err = vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// base is an empty plot in our dress.
func base(title string) *plot.Plot {
	p := plot.New()
	p.Title.Text = title
	p.Title.TextStyle.Font.Size = font.Length(15)
	p.Title.Padding = 6
	p.X.Label.Text = "microseconds after the leading edge of sync"
	p.Y.Label.Text = "mV above blanking"
	p.Title.TextStyle.Font.Variant = "Sans"
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font.Variant, a.Tick.Label.Font.Variant = "Sans", "Sans"
		a.Label.TextStyle.Font.Size = font.Length(12)
		a.Tick.Label.Font.Size = font.Length(11)
	}
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = faint, faint
	p.Add(grid)
	return p
}

// trace adds the band and the mean between two times.
func trace(p *plot.Plot, m *waveform.MeanLine, from, to float64) (low, high float64, err error) {
	i := max(0, int((from-m.From)/m.Step))
	j := min(len(m.Value), int((to-m.From)/m.Step)+1)
	step := max(1, (j-i)/2400)
	var mean, up, down plotter.XYs
	for k := i; k < j; k += step {
		if math.IsNaN(m.Value[k]) {
			continue
		}
		x := m.From + float64(k)*m.Step
		l, h := float64(m.Low[k]), float64(m.High[k])
		for n := k; n < min(k+step, j); n++ {
			l, h = math.Min(l, float64(m.Low[n])), math.Max(h, float64(m.High[n]))
		}
		mean = append(mean, plotter.XY{X: x, Y: m.Value[k]})
		up = append(up, plotter.XY{X: x, Y: h})
		down = append(down, plotter.XY{X: x, Y: l})
		low, high = math.Min(low, l), math.Max(high, h)
	}
	if len(mean) < 2 {
		return 0, 0, fmt.Errorf("the averaged line has no point between %v and %v us", from, to)
	}
	ring := up
	for k := len(down) - 1; k >= 0; k-- {
		ring = append(ring, down[k])
	}
	area, err := plotter.NewPolygon(ring)
	if err != nil {
		return 0, 0, err
	}
	area.Color, area.LineStyle.Width = band, 0
	line, err := plotter.NewLine(mean)
	if err != nil {
		return 0, 0, err
	}
	line.Color, line.Width = ink, 1.6
	p.Add(area, line)
	return low, high, nil
}

// level marks a level by a line across and what it is.
func level(p *plot.Plot, y, from, to, at float64, words string) error {
	line, err := plotter.NewLine(plotter.XYs{{X: from, Y: y}, {X: to, Y: y}})
	if err != nil {
		return err
	}
	line.Color, line.Width, line.Dashes = marked, 1, []vg.Length{5, 4}
	p.Add(line)
	return note(p, at, y, words, text.XLeft, text.YBottom)
}

func note(p *plot.Plot, x, y float64, words string, alongX text.XAlignment, alongY text.YAlignment) error {
	l, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: x, Y: y}}, Labels: []string{words}})
	if err != nil {
		return err
	}
	l.TextStyle[0].Color, l.TextStyle[0].Font.Size = marked, font.Length(12)
	l.TextStyle[0].Font.Variant = "Sans"
	l.Offset = vg.Point{Y: 3} // clear of the line it speaks of
	l.TextStyle[0].XAlign, l.TextStyle[0].YAlign = alongX, alongY
	p.Add(l)
	return nil
}

// span marks a length of time by a bar with ends, its words above.
func span(p *plot.Plot, from, to, y, tall float64, words string) error {
	for _, xy := range []plotter.XYs{
		{{X: from, Y: y}, {X: to, Y: y}},
		{{X: from, Y: y - tall}, {X: from, Y: y + tall}},
		{{X: to, Y: y - tall}, {X: to, Y: y + tall}},
	} {
		line, err := plotter.NewLine(xy)
		if err != nil {
			return err
		}
		line.Color, line.Width = marked, 1.3
		p.Add(line)
	}
	return note(p, (from+to)/2, y+tall*1.2, words, text.XCenter, text.YBottom)
}

func wholeLine(r *waveform.Result, title string) (*plot.Plot, error) {
	p := base(title)
	last := 66.0
	if r.LineUS != nil {
		last = *r.LineUS + 2
	}
	low, high, err := trace(p, r.Mean, -2, last)
	if err != nil {
		return nil, err
	}
	frame(p, -2, last, low, high, 0.06)
	at := -1.9
	if err := level(p, 0, -2, last, last-15, "blanking"+where(r)); err != nil {
		return nil, err
	}
	if r.SyncMV != nil {
		if err := level(p, -*r.SyncMV, -2, last, last-15, fmt.Sprintf("sync tip, %.1f mV below", *r.SyncMV)); err != nil {
			return nil, err
		}
	}
	if r.WhiteMV != nil {
		if err := level(p, *r.WhiteMV, -2, last, at, fmt.Sprintf("brightest %.1f mV", *r.WhiteMV)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// where says the level of blanking itself.
func where(r *waveform.Result) string {
	if r.BlankingMV == nil {
		return ""
	}
	return fmt.Sprintf(" (%.0f mV in the file)", math.Round(*r.BlankingMV)+0)
}

// frame sets the axes with some room.
func frame(p *plot.Plot, from, to, low, high, room float64) {
	p.X.Min, p.X.Max = from, to
	p.Y.Min, p.Y.Max = low-room*(high-low), high+room*(high-low)
	p.X.Tick.Marker, p.Y.Tick.Marker = every(1, 2, 5, 10), every(50, 100, 200, 500)
}

// every marks round values: the least of the steps that leaves at most 16.
func every(steps ...float64) plot.TickerFunc {
	return func(low, high float64) (ticks []plot.Tick) {
		step := steps[len(steps)-1]
		for i := len(steps) - 1; i >= 0; i-- {
			if (high-low)/steps[i] <= 16 {
				step = steps[i]
			}
		}
		for v := math.Ceil(low/step) * step; v <= high; v += step {
			ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprintf("%.0f", v+0)})
		}
		return ticks
	}
}

func blanking(r *waveform.Result) (*plot.Plot, error) {
	p := base("Line blanking, close up")
	from, to := -3.0, 13.0
	if _, _, err := trace(p, r.Mean, from, to); err != nil {
		return nil, err
	}
	height := 300.0
	if r.SyncMV != nil {
		height = *r.SyncMV
	}
	frame(p, from, to, -1.35*height, 1.1*height, 0)
	tall := 0.03 * height
	type mark struct {
		from, to *float64
		shift    float64
		y        float64
		words    string
	}
	zero := 0.0
	add := func(a, b float64) *float64 { c := a + b; return &c }
	var marks []mark
	if r.SyncUS != nil {
		marks = append(marks, mark{&zero, r.SyncUS, 0, -0.5 * height, fmt.Sprintf("sync %.3f us", *r.SyncUS)})
	}
	if r.FrontPorch != nil && *r.FrontPorch < -from {
		marks = append(marks, mark{add(-*r.FrontPorch, 0), &zero, 0, 0.22 * height, fmt.Sprintf("front porch %.2f us", *r.FrontPorch)})
	}
	if r.BackPorch != nil && r.SyncUS != nil {
		marks = append(marks, mark{r.SyncUS, add(*r.SyncUS, *r.BackPorch), 0, 0.86 * height, fmt.Sprintf("back porch %.2f us", *r.BackPorch)})
	}
	if r.BurstAt != nil && r.BurstUS != nil {
		words := fmt.Sprintf("burst %.2f us", *r.BurstUS)
		if r.BurstCycles != nil && r.BurstMVPP != nil {
			words = fmt.Sprintf("burst %.1f cycles, %.0f mV p-p", *r.BurstCycles, *r.BurstMVPP)
		}
		marks = append(marks, mark{r.BurstAt, add(*r.BurstAt, *r.BurstUS), 0, 0.62 * height, words})
		if err := span(p, 0, *r.BurstAt, -1.18*height, tall, fmt.Sprintf("to the burst %.2f us", *r.BurstAt)); err != nil {
			return nil, err
		}
	}
	for _, m := range marks {
		if err := span(p, *m.from, *m.to, m.y, tall, m.words); err != nil {
			return nil, err
		}
	}
	if err := level(p, 0, from, to, to-4.4, "blanking"); err != nil {
		return nil, err
	}
	if r.SyncMV != nil {
		if err := level(p, -*r.SyncMV, from, to, to-4.4, fmt.Sprintf("sync tip, %.1f mV below blanking", *r.SyncMV)); err != nil {
			return nil, err
		}
	}
	return p, nil
}
