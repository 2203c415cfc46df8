package judge

import (
	"backporch/analyse"
	"backporch/video/display"
)

// What two captures can tell of each cell: a colour or a pixel that either did not show well is not compared.

// loosen finds the colours whose brightness was read another way throughout.
func (c *comparison) loosen(e *evidence) {
	var same, other [8]int
	for i := range c.cells {
		x, y := &c.cells[i], &e.s.Cells[i]
		for k, pair := range [2][2]int{{x.Paper, y.Paper}, {x.Ink, y.Ink}} {
			a, b := pair[0], pair[1]
			switch {
			case a < 0 || b < 0 || a&7 != b&7 || k == 1 && (x.Single || y.Single):
			case a == b:
				same[a&7]++
			default:
				other[a&7]++
			}
		}
	}
	for colour := range c.loose {
		c.loose[colour] = other[colour] > 2*same[colour]
	}
}

// sureBrightness is the log-odds from which on a cell's brightness is compared.
const sureBrightness = 12

func faint(seen, reference *analyse.Survey, p *display.Profile) []bool {
	if p.Kind != display.Attr || seen.Memory == nil || reference.Memory == nil {
		return nil
	}
	out := make([]bool, len(seen.Cells))
	for i := range out {
		at := (p.ColourBase+i)*8 + 6
		out[i] = min(seen.Memory.Odds[at], reference.Memory.Odds[at]) < sureBrightness
	}
	return out
}

// sureStroke is the log-odds from which on a cell's colours are believed, of strokes too.
const sureStroke = 12

func unsure(seen, reference *analyse.Survey, p *display.Profile) []bool {
	if p.Kind != display.Attr {
		return nil
	}
	out := make([]bool, len(seen.Cells))
	for i := range out {
		out[i] = min(seen.Cells[i].Sure, reference.Cells[i].Sure) < sureStroke
	}
	return out
}

// hiddenBit is the log-odds under which a pixel is as good as not seen.
const hiddenBit = 1.5

func vague(seen, reference *analyse.Survey, p *display.Profile) [][8]uint8 {
	if p.Kind != display.Attr || seen.Memory == nil || reference.Memory == nil {
		return nil
	}
	out := make([][8]uint8, len(seen.Cells))
	for i := range out {
		a, b := &seen.Cells[i], &reference.Cells[i]
		for y := range 8 {
			at := p.BitmapAddress(a.Row*8+y, a.Column) * 8
			for bit := range 8 {
				if !a.Single && seen.Memory.Odds[at+bit] < hiddenBit || !b.Single && reference.Memory.Odds[at+bit] < hiddenBit {
					out[i][y] |= 1 << bit
				}
			}
		}
	}
	return out
}
