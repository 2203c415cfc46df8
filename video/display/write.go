package display

import (
	"math"

	"github.com/pelletier/go-toml/v2"
)

// TOML is the profile as Parse reads it.
func (p *Profile) TOML() ([]byte, error) {
	f := profileFile{
		Name: p.Name, Kind: string(p.Kind), Standard: p.Standard.String(), PixelClockHz: p.PixelClockHz,
		LinePixels: p.LinePixels, FieldLines: p.FieldLines, Width: p.Width, Height: p.Height,
		BorderLeft: p.BorderLeft, BorderRight: p.BorderRight, BorderTop: p.BorderTop, BorderBottom: p.BorderBottom,
		NormalLevel: p.NormalLevel,
	}
	f.Memory.ColourBase, f.Memory.RowBits, f.Memory.ColumnBits = p.ColourBase, p.RowBits, p.ColumnBits
	for i := len(p.BitmapBits) - 1; i >= 0; i-- { // the file has the highest first
		b := p.BitmapBits[i]
		f.Memory.Bitmap = append(f.Memory.Bitmap, string([]byte{b.Axis, byte('0' + b.Index)}))
	}
	if p.Kind == Text {
		for _, c := range p.Colours {
			f.Colours = append(f.Colours, fileColour{
				Name: c.Name, Luma: within(c.Y, 0, 1), Chroma: within(c.Saturation(), 0, 0.7), Angle: within(round(c.Hue(), 2), 0, 359.99),
			})
		}
	}
	return toml.Marshal(f)
}

// within keeps a measured value, to four places, where Parse accepts it.
func within(v, low, high float64) float64 { return math.Min(high, math.Max(low, round(v, 4))) }

func round(v float64, places int) float64 {
	scale := math.Pow10(places)
	return math.Round(v*scale) / scale
}
