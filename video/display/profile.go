package display

import (
	"math"

	"backporch/video"
)

// Kind is how a display uses its memory.
type Kind string

const (
	// Attr is a bitmap with a byte of colour for each 8 x 8 cell.
	Attr Kind = "attr"
	// Text is a screen of character codes through a character generator.
	Text Kind = "text"
)

// CellSize is a cell's width in pixels and height in lines, on every display so far.
const CellSize = 8

// A Profile is one display. Lengths are in machine pixels and lines.
type Profile struct {
	Name         string
	Kind         Kind
	Standard     video.Standard
	PixelClockHz float64
	LinePixels   int // pixel periods a line, blanking included
	FieldLines   int // lines a field, not interlaced
	Width        int // picture, pixels
	Height       int // picture, lines
	BorderLeft   int // pixels of border seen
	BorderRight  int
	BorderTop    int // lines of border seen
	BorderBottom int

	Colours     []Colour // 16, by index; an Attr index is 8*bright + 4*green + 2*red + blue
	NormalLevel float64  // Attr: brightness of a normal colour as a part of a bright one

	BitmapBits []AddressBit // Attr: bitmap address bits, bit 0 first
	ColourBase int          // Attr: address of the first colour byte
	RowBits    int          // the memory chip's row address: A0 .. A(RowBits-1)
	ColumnBits int          // its column address: the bits above

	bitmap bitmap // of BitmapBits
}

// A Colour of the display's palette.
type Colour struct {
	Name string
	video.YUV
}

// Alike tells whether two palette indices are the very same colour: an Attr display's black is black at either brightness.
func (p *Profile) Alike(a, b int) bool {
	return a == b || a >= 0 && b >= 0 && p.Colours[a].YUV == p.Colours[b].YUV
}

// An AddressBit is bit Index of the picture line (Axis 'y') or of the cell column ('c').
type AddressBit struct {
	Axis  byte
	Index int
}

// Columns and Rows count the cells.
func (p *Profile) Columns() int { return p.Width / CellSize }

// Rows counts the rows of cells.
func (p *Profile) Rows() int { return p.Height / CellSize }

// LineHz is the machine's own line frequency.
func (p *Profile) LineHz() float64 { return p.PixelClockHz / float64(p.LinePixels) }

// FieldHz is the machine's own field rate.
func (p *Profile) FieldHz() float64 { return p.LineHz() / float64(p.FieldLines) }

// PitchX is the width of a pixel in samples of a line-locked capture that is
// width samples wide: 864/N or 858/N at 720 samples, N pixel periods a line.
func (p *Profile) PitchX(width int) float64 {
	return float64(p.Standard.Scan().LineSamples) / float64(p.LinePixels) * float64(width) / 720
}

// Pitches are the widths that a pixel may have in captures of this width: a device that scales makes its picture of all 720 samples of a line
// (ITU-R BT.601), PitchX, or of the middle 704 of them, as 4SIF pictures are; one that does not, cuts them.
func (p *Profile) Pitches(width int) []float64 {
	if width == 720 {
		return []float64{p.PitchX(width)}
	}
	return []float64{p.PitchX(width), p.PitchX(width) * 720 / 704}
}

// PitchY is the height of a line in lines of a captured field of this height; 1
// unless the device scaled the picture.
func (p *Profile) PitchY(fieldHeight int) float64 {
	if fieldHeight == 243 { // 486 lines: three more, not a scale
		return 1
	}
	return float64(fieldHeight) / float64(p.Standard.Scan().FieldLines)
}

// Origin is where the picture's left edge and first line lie when the picture
// stands in the middle of a capture, in samples and lines.
func (p *Profile) Origin(width, fieldHeight int) (x, y float64) {
	x = (float64(width) - float64(p.Width)*p.PitchX(width)) / 2
	y = math.Round((float64(fieldHeight) - float64(p.Height)*p.PitchY(fieldHeight)) / 2)
	return x, y
}

var attrNames = [8]string{"black", "blue", "red", "magenta", "green", "cyan", "yellow", "white"}

// attrColours is the 3-bit palette at two levels of brightness.
func attrColours(normal float64) []Colour {
	colours := make([]Colour, 16)
	for i := range colours {
		level, name := normal, attrNames[i&7]
		if i >= 8 {
			level, name = 1, "bright "+name
		}
		bit := func(b int) float64 { return level * float64(i>>b&1) }
		colours[i] = Colour{name, video.YUVOfRGB(bit(1), bit(2), bit(0))}
	}
	return colours
}
