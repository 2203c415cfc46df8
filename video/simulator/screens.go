package simulator

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"strings"

	"backporch/video/display"
)

// A Screen is a sort of picture that a program leaves in the display's memory.
type Screen string

// The sorts of screen.
const (
	ScreenBoot    Screen = "boot"    // a message or two on an empty screen
	ScreenBars    Screen = "bars"    // a test ROM's colour bars and text
	ScreenListing Screen = "listing" // numbered lines of a program
	ScreenText    Screen = "text"    // a page full of words
	ScreenBusy    Screen = "busy"    // a game's picture
	ScreenFill00  Screen = "fill-00" // memory filled with one byte
	ScreenFillFF  Screen = "fill-ff"
	ScreenFill55  Screen = "fill-55"
	ScreenFillAA  Screen = "fill-aa"
)

// Screens lists the sorts there are.
func Screens() []Screen {
	return []Screen{
		ScreenBoot, ScreenBars, ScreenListing, ScreenText, ScreenBusy,
		ScreenFill00, ScreenFillFF, ScreenFill55, ScreenFillAA,
	}
}

// A canvas is a machine's memory while a program writes it.
type canvas struct {
	m     *machine
	rng   *rand.Rand
	style int // of glyphs drawn into a bitmap
	ink   int
	paper int // Text: the background, the same everywhere
}

// drawScreen writes the screen and the border; border nil: chosen by rng.
func drawScreen(m *machine, s Screen, border *int, rng *rand.Rand) error {
	c := &canvas{m: m, rng: rng, style: rng.IntN(glyphStyles)}
	c.colours()
	for i := range m.ram {
		m.ram[i] = byte(rng.Uint32()) // what the display does not show
	}
	m.background = c.paper
	m.border = c.paper & 7
	limit := 8
	if m.p.Kind == display.Text {
		m.border, limit = c.paper, 16
	}
	if rng.Float64() < 0.4 {
		m.border = rng.IntN(limit)
	}
	if border != nil {
		if *border < 0 || *border >= limit {
			return fmt.Errorf("border colour %d: use 0 to %d", *border, limit-1)
		}
		m.border = *border
	}
	c.clear()
	switch s {
	case ScreenBoot:
		c.boot()
	case ScreenBars:
		c.bars()
	case ScreenListing:
		c.listing()
	case ScreenText:
		c.page()
	case ScreenBusy:
		c.busy()
	case ScreenFill00, ScreenFillFF, ScreenFill55, ScreenFillAA:
		var b byte
		if _, err := fmt.Sscanf(string(s), "fill-%02x", &b); err != nil {
			return fmt.Errorf("screen %q: %w", s, err)
		}
		c.fill(b)
	default:
		names := make([]string, 0, 9)
		for _, s := range Screens() {
			names = append(names, string(s))
		}
		return fmt.Errorf("no screen %q; there are %s", s, strings.Join(names, ", "))
	}
	if m.p.Kind == display.Attr && rng.Float64() < 0.35 && !strings.HasPrefix(string(s), "fill") {
		c.flash()
	}
	return nil
}

// colours chooses ink and paper that can be told apart; black on white often.
func (c *canvas) colours() {
	if c.m.p.Kind == display.Text {
		c.ink, c.paper = c.rng.IntN(16), c.rng.IntN(16)
		for c.contrast() < 0.3 {
			c.ink, c.paper = c.rng.IntN(16), c.rng.IntN(16)
		}
		return
	}
	bright := c.rng.IntN(4) / 3 * 8
	switch c.rng.IntN(6) {
	case 0, 1, 2:
		c.ink, c.paper = bright, bright+7
	case 3:
		c.ink, c.paper = bright+7, bright
	default:
		c.ink, c.paper = bright+c.rng.IntN(8), bright+c.rng.IntN(8)
		for c.contrast() < 0.25 {
			c.ink, c.paper = bright+c.rng.IntN(8), bright+c.rng.IntN(8)
		}
	}
}

// contrast is the luma between ink and paper.
func (c *canvas) contrast() float64 {
	d := c.m.p.Colours[c.ink].Y - c.m.p.Colours[c.paper].Y
	return max(d, -d)
}

func (c *canvas) clear() {
	p := c.m.p
	for row := range p.Rows() {
		for col := range p.Columns() {
			c.put(row, col, ' ', c.ink, c.paper)
		}
	}
}

// put writes a character with its colours.
func (c *canvas) put(row, col int, code byte, ink, paper int) {
	p := c.m.p
	if row < 0 || col < 0 || row >= p.Rows() || col >= p.Columns() {
		return
	}
	at := p.CellAddress(row, col)
	if p.Kind == display.Text {
		c.m.ram[at], c.m.colour[at] = code, byte(ink)
		return
	}
	c.m.ram[at] = display.JoinColour(display.AttrColour{Ink: ink, Paper: paper})
	c.pattern(row, col, styled(c.m.font.Glyph(code), c.style))
}

// pattern writes a cell's pixels; not on a character display.
func (c *canvas) pattern(row, col int, g [8]byte) {
	if c.m.p.Kind != display.Attr {
		return
	}
	for i, b := range g {
		c.m.ram[c.m.p.BitmapAddress(row*display.CellSize+i, col)] = b
	}
}

// write puts text from a cell on, in the canvas's colours; it ends at the edge.
func (c *canvas) write(row, col int, text string) {
	for i := range len(text) {
		c.put(row, col+i, text[i], c.ink, c.paper)
	}
}

// flash sets bit 7 of some colour bytes: a cursor, or a few cells.
func (c *canvas) flash() {
	p := c.m.p
	for range 1 + c.rng.IntN(8) {
		c.m.ram[p.CellAddress(c.rng.IntN(p.Rows()), c.rng.IntN(p.Columns()))] |= 0x80
	}
}

// glyphStyles is how many ways styled knows.
const glyphStyles = 6

// styled derives another face from a glyph, as machines have their own.
func styled(g [8]byte, style int) [8]byte {
	out := g
	for i := range g {
		switch style {
		case 1: // moved right
			out[i] = g[i] >> 1
		case 2: // bold
			out[i] = g[i] | g[i]>>1
		case 3: // narrow: pixel columns 2 and 5 dropped
			b := g[i]
			out[i] = b&0xc0 | b<<1&0x38&^0x08 | b<<1&0x10 | b<<2&0x0c
		case 4: // moved down
			out[i] = g[(i+7)%8]
		case 5: // moved left and bold
			out[i] = g[i]<<1 | g[i]
		}
	}
	return out
}

var words = strings.Fields(`READY MEMORY TEST PASS LOAD BYTES FREE SYSTEM PORT DISK TAPE LINE DATA
	CHECK SUM START END CLOCK SOUND PICTURE BANK ERROR OK PRESS KEY SCORE LEVEL the quick signal of a
	slow beam draws every line and then returns to its left edge while memory is read in time`)

func (c *canvas) word() string { return words[c.rng.IntN(len(words))] }

// sentence is words up to a length.
func (c *canvas) sentence(length int) string {
	s := c.word()
	for {
		w := c.word()
		if len(s)+1+len(w) > length {
			return s
		}
		s += " " + w
	}
}

func (c *canvas) boot() {
	p := c.m.p
	rows, cols := p.Rows(), p.Columns()
	switch c.rng.IntN(3) {
	case 0: // one line at the bottom
		c.write(rows-1-c.rng.IntN(2), c.rng.IntN(3), fmt.Sprintf("(C) %d %s", 1981+c.rng.IntN(7), c.sentence(cols-14)))
	case 1: // a title above, a prompt and a cursor below
		title := fmt.Sprintf("** %s %dK **", c.sentence(cols/2), 16<<c.rng.IntN(3))
		c.write(1, max(0, (cols-len(title))/2), title)
		c.write(3, 1, fmt.Sprintf("%d BYTES FREE", 8000+c.rng.IntN(32000)))
		c.write(5, 0, "READY.")
		c.cursor(6, 0)
	default:
		for i := range 1 + c.rng.IntN(4) {
			c.write(i+c.rng.IntN(3), c.rng.IntN(4), c.sentence(cols-6))
		}
	}
}

// solid is the font's fullest glyph.
func (c *canvas) solid() byte {
	best, most := byte(0), -1
	for code := range 256 {
		n := 0
		for _, b := range c.m.font.Glyph(byte(code)) {
			n += bits.OnesCount8(b)
		}
		if n > most {
			best, most = byte(code), n
		}
	}
	return best
}

// cursor is a full cell.
func (c *canvas) cursor(row, col int) {
	if c.m.p.Kind == display.Text {
		c.put(row, col, c.solid(), c.ink, c.paper)
		return
	}
	c.put(row, col, ' ', c.paper, c.ink)
}

func (c *canvas) bars() {
	p := c.m.p
	rows, cols := p.Rows(), p.Columns()
	solid := c.solid()
	top, bottom := 2+c.rng.IntN(3), rows/2+c.rng.IntN(rows/4)
	for row := top; row < bottom; row++ {
		for col := range cols {
			bar := 7 - col*8/cols
			if p.Kind == display.Text {
				bar = 15 - col*16/cols
				c.put(row, col, solid, bar, c.paper)
				continue
			}
			c.put(row, col, ' ', 0, bar|row/4&1*8)
		}
	}
	c.write(0, 1, c.sentence(cols-4))
	for i, row := 0, bottom+1; row < rows; i, row = i+1, row+1 {
		c.write(row, 1, fmt.Sprintf("%-10s %d  %s", c.word(), i, []string{"OK", "PASS", "--", "FAIL"}[c.rng.IntN(4)]))
	}
}

func (c *canvas) listing() {
	p := c.m.p
	n := 10 * (1 + c.rng.IntN(20))
	for row := range p.Rows() - 1 {
		v := func() string { return string(rune('A' + c.rng.IntN(26))) }
		var s string
		switch c.rng.IntN(6) {
		case 0:
			s = fmt.Sprintf("LET %s=%s+%d", v(), v(), c.rng.IntN(256))
		case 1:
			s = fmt.Sprintf("PRINT \"%s\";%s", c.sentence(p.Columns()-18), v())
		case 2:
			s = fmt.Sprintf("FOR %s=%d TO %d", v(), c.rng.IntN(9), 10+c.rng.IntN(90))
		case 3:
			s = "NEXT " + v()
		case 4:
			s = fmt.Sprintf("IF %s>%d THEN GOTO %d", v(), c.rng.IntN(99), n+10*c.rng.IntN(30))
		default:
			s = "REM " + c.sentence(p.Columns()-12)
		}
		c.write(row, 0, fmt.Sprintf("%4d %s", n, s))
		n += 10
	}
	c.cursor(p.Rows()-1, 0)
}

func (c *canvas) page() {
	p := c.m.p
	for row := range p.Rows() {
		if c.rng.Float64() < 0.85 {
			c.write(row, 0, c.sentence(p.Columns()))
		}
	}
}

// busy is boxes of texture and colour, words and small figures all over.
func (c *canvas) busy() {
	p := c.m.p
	rows, cols := p.Rows(), p.Columns()
	any := func() int { return c.rng.IntN(16) }
	for range 12 + c.rng.IntN(14) {
		r, l := c.rng.IntN(rows), c.rng.IntN(cols)
		h, w := 1+c.rng.IntN(7), 1+c.rng.IntN(12)
		ink, paper := any(), any()
		var g [8]byte
		base := byte(c.rng.Uint32())
		for i := range g {
			switch c.rng.IntN(3) {
			case 0:
				g[i] = byte(c.rng.Uint32())
			default:
				g[i] = base<<(i%4) | base>>(8-i%4)
			}
		}
		code := byte(0x20 + c.rng.IntN(0x5f))
		for row := r; row < min(r+h, rows); row++ {
			for col := l; col < min(l+w, cols); col++ {
				c.put(row, col, code, ink, paper)
				c.pattern(row, col, g)
			}
		}
	}
	for range 40 + c.rng.IntN(80) { // figures
		row, col := c.rng.IntN(rows), c.rng.IntN(cols)
		var g [8]byte
		for i := range g {
			half := byte(c.rng.IntN(16))
			g[i] = half<<4 | mirror[half]
		}
		c.put(row, col, byte(c.rng.Uint32()), any(), any())
		c.pattern(row, col, g)
	}
	for range 3 {
		c.write(c.rng.IntN(rows), c.rng.IntN(cols/2), c.sentence(cols/2))
	}
}

// mirror turns four bits round.
var mirror = [16]byte{0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15}

// fill is what a memory test leaves: all memory the same, or the bitmap alone.
func (c *canvas) fill(b byte) {
	p := c.m.p
	if c.rng.IntN(2) == 0 {
		for i := range c.m.ram {
			c.m.ram[i] = b
		}
		for i := range c.m.colour {
			c.m.colour[i] = b & 15
		}
		return
	}
	for row := range p.Rows() {
		for col := range p.Columns() {
			c.put(row, col, b, c.ink, c.paper)
			c.pattern(row, col, [8]byte{b, b, b, b, b, b, b, b})
		}
	}
}
