// Package memory puts the cells of a picture back to where they came from: the
// display memory, byte by byte, with how sure each bit is.
package memory

import (
	"backporch/analyse"
	"backporch/analyse/cells"
	"backporch/video/display"
)

// unshown is the log-odds given to a pattern bit of a cell of one colour: that the
// pattern is empty is the plainest reading, but the picture doesn't show it.
const unshown = 0.7

// FromCells gives the memory of an Attr display, as one field or stack shows it.
// Bit 7 of a colour byte, flash, shows only over time: it is taken from Cell.Flash and
// left unknown unless flashKnown.
func FromCells(p *display.Profile, r *cells.Result, flashKnown bool) *analyse.Memory {
	m := &analyse.Memory{
		Bytes: make([]uint8, p.Size()), Seen: make([]uint8, p.Size()),
		Odds: make([]float32, p.Size()*8), Fields: 1,
	}
	for i := range r.Cells {
		c := &r.Cells[i]
		for y := range 8 {
			line := c.Row*8 + y
			a := p.BitmapAddress(line, c.Column)
			m.Bytes[a], m.Seen[a] = c.Bits[y], 0xff
			for b := range 8 {
				odds := r.PixelOdds[line*p.Width+c.Column*8+7-b]
				if c.Single {
					odds = unshown
				}
				m.Odds[a*8+b] = odds
			}
		}
		a := p.CellAddress(c.Row, c.Column)
		ink := c.Ink
		seen := uint8(0x7f)
		if c.Single {
			ink, seen = c.Paper, 0x78
		}
		if c.Paper&7 == 0 && ink&7 == 0 {
			seen &^= 0x40 // black is black at either brightness
		}
		if flashKnown {
			seen |= 0x80
		}
		m.Bytes[a], m.Seen[a] = display.JoinColour(display.AttrColour{Ink: ink, Paper: c.Paper, Flash: c.Flash}), seen
		copy(m.Odds[a*8:a*8+7], r.ColourOdds[i*8:i*8+7])
		if flashKnown {
			m.Odds[a*8+7] = 6
		}
	}
	return m
}

// FromText gives the screen codes of a Text display; cells that match no glyph are unknown.
func FromText(p *display.Profile, t *analyse.Text) *analyse.Memory {
	m := &analyse.Memory{
		Bytes: make([]uint8, p.Size()), Seen: make([]uint8, p.Size()),
		Odds: make([]float32, p.Size()*8), Fields: 1,
	}
	for i, code := range t.Codes {
		if code < 0 {
			continue
		}
		m.Bytes[i], m.Seen[i] = uint8(code), 0xff
		for b := range 8 {
			m.Odds[i*8+b] = t.Odds[i]
		}
	}
	return m
}
