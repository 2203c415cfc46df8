package soak

import (
	"image/color"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// A track is a measure that is plotted over time.
type track struct {
	key, title, short string
	format            string // of one value
	scale             float64
	least             float64 // the axis spans at least this: less is nothing
	of                func(*Beat) *float64
}

var plotted = []track{
	{"contrast", "contrast, % of the beginning", "contrast", "%.1f %%", 100, 5, func(b *Beat) *float64 { return b.Gain }},
	{"black", "black level, codes from the beginning", "black", "%+.1f codes", 1, 4, func(b *Beat) *float64 { return b.Black }},
	{"noise", "noise, codes rms", "noise", "%.1f codes", 1, 1, func(b *Beat) *float64 { return b.Noise }},
	{"hue", "hue, degrees from the beginning", "hue", "%+.1f degrees", 1, 4, func(b *Beat) *float64 { return b.Hue }},
	{"saturation", "saturation, % of the beginning", "colour", "%.1f %%", 100, 10, func(b *Beat) *float64 { return b.Colour }},
}

// most points of a line; more are not to be seen.
const mostPoints = 1200

var (
	lineColour  = color.RGBA{0x1C, 0x62, 0x6E, 0xFF}
	eventColour = color.RGBA{0xA9, 0x3F, 0x2B, 0xB0}
	faint       = color.RGBA{0xCD, 0xC8, 0xBC, 0xFF}
)

// Plot draws the measures over the hours watched, with a line for each event, as PNG.
func (s *Summary) Plot(w io.Writer) error {
	tracks := s.tracks()
	const width, height = 24 * vg.Centimeter, 5 * vg.Centimeter
	img := vgimg.NewWith(vgimg.UseWH(width, height*vg.Length(max(len(tracks), 1))), vgimg.UseDPI(96))
	canvas := draw.New(img)
	for i, t := range tracks {
		p, err := t.plot(s, i == len(tracks)-1)
		if err != nil {
			return err
		}
		tile := draw.Tiles{Cols: 1, Rows: len(tracks), PadLeft: 4, PadRight: 12, PadTop: 6, PadBottom: 2}
		p.Draw(tile.At(canvas, 0, i))
	}
	_, err := vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// axis is the unit of the time axis, and its seconds.
func (s *Summary) axis() (unit string, seconds float64) {
	if s.Total.Seconds < 2*3600 {
		return "minutes", 60
	}
	return "hours", 3600
}

// drawn is a track with its points.
type drawn struct {
	title  string
	least  float64
	points plotter.XYs
}

func (s *Summary) tracks() []drawn {
	var out []drawn
	_, scale := s.axis()
	add := func(title string, least float64, points plotter.XYs) {
		if len(points) > 1 {
			out = append(out, drawn{title, least, thin(points)})
		}
	}
	for _, t := range plotted {
		var points plotter.XYs
		for i := range s.Beats {
			b := &s.Beats[i].Beat
			if v := t.of(b); v != nil {
				points = append(points, plotter.XY{X: b.Seconds / scale, Y: *v * t.scale})
			}
		}
		add(t.title, t.least, points)
	}
	add("field rate, Hz, by the source's stamps", 0.02, s.rates())
	if len(out) == 0 {
		out = append(out, drawn{title: "nothing was measured"})
	}
	return out
}

// rates are the field rates over half a minute each.
func (s *Summary) rates() plotter.XYs {
	var points plotter.XYs
	_, scale := s.axis()
	from := 0
	for i := range s.Beats {
		a, b := s.Beats[from], s.Beats[i]
		if a.Session != b.Session || b.Index < a.Index {
			from = i
			continue
		}
		if d := b.Time - a.Time; d >= 30 {
			points = append(points, plotter.XY{X: b.Seconds / scale, Y: float64(b.Index-a.Index) / d})
			from = i
		}
	}
	return points
}

// thin takes means, so that a line of a day can be drawn.
func thin(in plotter.XYs) plotter.XYs {
	step := (len(in) + mostPoints - 1) / mostPoints
	if step <= 1 {
		return in
	}
	var out plotter.XYs
	for from := 0; from < len(in); from += step {
		part := in[from:min(from+step, len(in))]
		var sum plotter.XY
		for _, p := range part {
			sum.X += p.X
			sum.Y += p.Y
		}
		n := float64(len(part))
		out = append(out, plotter.XY{X: sum.X / n, Y: sum.Y / n})
	}
	return out
}

func (d drawn) plot(s *Summary, last bool) (*plot.Plot, error) {
	unit, scale := s.axis()
	p := plot.New()
	p.Title.Text = d.title
	p.Title.TextStyle.Font.Size = font.Length(10)
	p.Title.Padding = 2
	if last {
		p.X.Label.Text = unit + " watched"
	}
	p.X.Min, p.X.Max = 0, max(s.Total.Seconds/scale, 1e-6)
	grid := plotter.NewGrid()
	grid.Horizontal.Color, grid.Vertical.Color = faint, faint
	p.Add(grid)
	if len(d.points) > 0 {
		line, err := plotter.NewLine(d.points)
		if err != nil {
			return nil, err
		}
		line.Color, line.Width = lineColour, 1.2
		p.Add(line)
		low, high := p.Y.Min, p.Y.Max
		if middle := (low + high) / 2; high-low < d.least {
			low, high = middle-d.least/2, middle+d.least/2
		}
		p.Y.Min, p.Y.Max = low-(high-low)/10, high+(high-low)/10
		for i, e := range s.Events {
			if i == mostPoints {
				break
			}
			at := e.Start / scale
			mark, err := plotter.NewLine(plotter.XYs{{X: at, Y: p.Y.Min}, {X: at, Y: p.Y.Max}})
			if err != nil {
				return nil, err
			}
			mark.Color, mark.Width = eventColour, 0.8
			p.Add(mark)
		}
	}
	return p, nil
}
