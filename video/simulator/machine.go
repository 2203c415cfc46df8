package simulator

import (
	"backporch/video"
	"backporch/video/display"
)

// An access is one read of one memory by the display.
type access struct {
	colour      bool // Text: the colour RAM
	address     int
	row, column int // as the memory chip takes the address
	field       int
}

// hooks are the places where a fault acts; nil ones do nothing.
type hooks struct {
	power     func(m *machine)                      // memory as it wakes, in place of what was written
	address   func(a int) int                       // the address that some lanes of a memory really read
	lanes     byte                                  // those lanes
	colourRAM bool                                  // Text: address is of the colour RAM
	read      func(a access, value byte) byte       // each read of memory
	moving    bool                                  // read changes from field to field
	sometimes bool                                  // column acts in some fields
	line      func(y int) int                       // the line counter
	column    func(c, field int) (bits, colour int) // the cell column that is fetched
	code      func(code byte) byte                  // Text: a code on its way into the generator
	shift     func(bits byte) byte                  // the pixels of a cell on their way out
	noFlash   bool                                  // Attr: ink and paper never change places
	index     func(index uint8) uint8               // Attr: the colour bits behind the fetch
	palette   func(c video.YUV) video.YUV           // a colour on its way to the output
	latch     func(border int) int                  // the border register's output
	blank     func(border int) (index int)          // what stands for the picture
	noColour  bool                                  // no burst and no chroma leave
	chain     func(c *Chain)                        // the composite output
}

// A machine makes a raster from its memory.
type machine struct {
	p          *display.Profile
	font       display.Font
	ram        []byte // whole chips; the display's part first
	colour     []byte // Text: colour nibbles
	background int    // Text
	border     int    // as written
	hooks      []hooks
	field      int // machine fields since power-up
	seen       []byte
	seenColour []byte
	fresh      bool // seen is as the memory reads
	palette    []video.YUV
	noColour   bool
	chroma     float64 // of its right size; 0: 1
	row        []uint8 // one line of indices
}

func newMachine(p *display.Profile, font display.Font) *machine {
	m := &machine{p: p, font: font, ram: make([]byte, 1<<(p.RowBits+p.ColumnBits))}
	if p.Kind == display.Text {
		m.colour = make([]byte, p.Size())
	}
	m.seen = make([]byte, p.Size())
	m.seenColour = make([]byte, len(m.colour))
	m.row = make([]uint8, p.BorderLeft+p.Width+p.BorderRight)
	return m
}

// start puts the faults in place: what memory holds, and the colours.
func (m *machine) start(all []hooks) {
	m.hooks = all
	for _, h := range all {
		if h.power != nil {
			h.power(m)
		}
	}
	m.palette, m.noColour = m.colours(all)
}

// colours are the display's as they leave under some faults, and whether any chroma does.
func (m *machine) colours(all []hooks) (palette []video.YUV, none bool) {
	palette = make([]video.YUV, len(m.p.Colours))
	for i, c := range m.p.Colours {
		palette[i] = c.YUV
		for _, h := range all {
			if h.palette != nil {
				palette[i] = h.palette(palette[i])
			}
			if h.noColour {
				palette[i].U, palette[i].V = 0, 0
				none = true
			}
		}
		if m.chroma != 0 {
			palette[i].U, palette[i].V = m.chroma*palette[i].U, m.chroma*palette[i].V
		}
	}
	return palette, none
}

// still says whether every field reads the same memory.
func (m *machine) still() bool {
	for _, h := range m.hooks {
		if h.moving {
			return false
		}
	}
	return true
}

// alike says whether a fault shows in every field, or in none.
func (m *machine) alike() bool {
	for _, h := range m.hooks {
		if h.sometimes || h.noFlash {
			return false
		}
	}
	return m.still()
}

// fetch reads the display's memory as it is seen in this field.
func (m *machine) fetch() {
	if m.fresh && m.still() {
		return
	}
	m.fresh = true
	copy(m.seen, m.ram)
	copy(m.seenColour, m.colour)
	for _, h := range m.hooks {
		if h.address != nil {
			seen, ram := m.seen, m.ram
			if h.colourRAM {
				seen, ram = m.seenColour, m.colour
			}
			for i := range seen {
				if from := h.address(i); from < len(ram) {
					seen[i] = seen[i]&^h.lanes | ram[from]&h.lanes
				}
			}
		}
		if h.read == nil {
			continue
		}
		a := access{field: m.field}
		for i := range m.seen {
			a.address = i
			a.row, a.column = m.p.ChipAddress(i)
			m.seen[i] = h.read(a, m.seen[i])
		}
		a.colour = true
		for i := range m.seenColour {
			a.address = i
			a.row, a.column = m.p.ChipAddress(i)
			m.seenColour[i] = h.read(a, m.seenColour[i]) & 15
		}
	}
}

// borderIndex is the border colour that leaves the register.
func (m *machine) borderIndex() uint8 {
	b := m.border
	for _, h := range m.hooks {
		if h.latch != nil {
			b = h.latch(b)
		}
	}
	return uint8(b)
}

// line draws picture line y (negative and beyond the height: border) as palette
// indices, border to border; the slice is used again.
func (m *machine) line(y int) []uint8 {
	border := m.borderIndex()
	for i := range m.row {
		m.row[i] = border
	}
	if y >= 0 && y < m.p.Height {
		picture := m.row[m.p.BorderLeft : m.p.BorderLeft+m.p.Width]
		if !m.blanked(picture, int(border)) {
			for c := range m.p.Columns() {
				bits, ink, paper := m.cell(y, c)
				out := picture[c*display.CellSize : (c+1)*display.CellSize]
				for i := range out {
					out[i] = paper
					if bits<<i&0x80 != 0 {
						out[i] = ink
					}
				}
			}
		}
	}
	for _, h := range m.hooks {
		if h.index == nil {
			continue
		}
		for i, v := range m.row {
			m.row[i] = h.index(v)
		}
	}
	return m.row
}

func (m *machine) blanked(picture []uint8, border int) bool {
	for _, h := range m.hooks {
		if h.blank != nil {
			index := uint8(h.blank(border))
			for i := range picture {
				picture[i] = index
			}
			return true
		}
	}
	return false
}

// cell gives the 8 pixels of cell column c on picture line y and the two colours.
func (m *machine) cell(y, c int) (bits byte, ink, paper uint8) {
	from, noFlash := c, false
	for _, h := range m.hooks {
		if h.line != nil {
			y = h.line(y)
		}
		if h.column != nil {
			from, c = h.column(c, m.field)
		}
		noFlash = noFlash || h.noFlash
	}
	row := y / display.CellSize
	at := m.p.CellAddress(row, c)
	if y >= m.p.Height { // the counter counts on: what memory holds behind the picture's part
		if m.p.Kind == display.Text {
			return m.shifted(m.font.Glyph(m.ram[m.p.CellAddress(row, from)%len(m.ram)])[y%display.CellSize]), m.colour[at%len(m.colour)], uint8(m.background)
		}
		col := display.SplitColour(m.ram[at%len(m.ram)])
		return m.shifted(m.ram[m.p.BitmapAddress(y, from)%len(m.ram)]), uint8(col.Ink), uint8(col.Paper)
	}
	if m.p.Kind == display.Text {
		code := m.seen[m.p.CellAddress(row, from)]
		for _, h := range m.hooks {
			if h.code != nil {
				code = h.code(code)
			}
		}
		return m.shifted(m.font.Glyph(code)[y%display.CellSize]), m.seenColour[at], uint8(m.background)
	}
	col := display.SplitColour(m.seen[at])
	if col.Flash && !noFlash && m.field/display.FlashFields%2 == 1 {
		col.Ink, col.Paper = col.Paper, col.Ink
	}
	return m.shifted(m.seen[m.p.BitmapAddress(y, from)]), uint8(col.Ink), uint8(col.Paper)
}

// shifted is a cell's pixels as they leave the shift register.
func (m *machine) shifted(bits byte) byte {
	for _, h := range m.hooks {
		if h.shift != nil {
			bits = h.shift(bits)
		}
	}
	return bits
}
