package display

// An AttrColour is a colour byte taken apart. Ink and Paper are palette indices,
// brightness included.
type AttrColour struct {
	Ink, Paper int
	Flash      bool
}

// BrightBit is brightness in a palette index of a display of colour cells; the three bits below it are the colour.
const BrightBit = 8

// SplitColour takes a colour byte apart: bit 7 flash, bit 6 bright, bits 5..3
// paper, 2..0 ink.
func SplitColour(b byte) AttrColour {
	bright := int(b>>6&1) * 8
	return AttrColour{Ink: bright | int(b&7), Paper: bright | int(b>>3&7), Flash: b&0x80 != 0}
}

// JoinColour is the inverse of SplitColour; the brightness is that of either
// colour that is not black (black is black in both).
func JoinColour(c AttrColour) byte {
	b := byte(c.Paper&7)<<3 | byte(c.Ink&7)
	if c.Ink&8 != 0 || c.Paper&8 != 0 {
		b |= 0x40
	}
	if c.Flash {
		b |= 0x80
	}
	return b
}

// FlashFields is how many fields a flashing cell keeps before ink and paper change places.
const FlashFields = 16

// Size is the display memory in bytes: bitmap and colour bytes of an Attr
// display, the screen codes of a Text display.
func (p *Profile) Size() int {
	if p.Kind == Attr {
		return p.ColourBase + p.Columns()*p.Rows()
	}
	return p.Columns() * p.Rows()
}

// BitmapAddress is where the 8 pixels of cell column c on picture line y are kept
// (Attr), leftmost in bit 7.
func (p *Profile) BitmapAddress(y, c int) int {
	if uint(y) < uint(len(p.bitmap.ofLine)) && uint(c) < uint(len(p.bitmap.ofColumn)) {
		return p.bitmap.ofLine[y] | p.bitmap.ofColumn[c]
	}
	a := 0
	for i, bit := range p.BitmapBits {
		v := y
		if bit.Axis == 'c' {
			v = c
		}
		a |= v >> bit.Index & 1 << i
	}
	return a
}

// BitmapPlace is the inverse of BitmapAddress.
func (p *Profile) BitmapPlace(address int) (y, c int) {
	if uint(address) < uint(len(p.bitmap.places)) {
		place := p.bitmap.places[address]
		return int(place.line), int(place.column)
	}
	for i, bit := range p.BitmapBits {
		if bit.Axis == 'c' {
			c |= address >> i & 1 << bit.Index
		} else {
			y |= address >> i & 1 << bit.Index
		}
	}
	return y, c
}

// A bitmap is the addresses of a picture's lines and columns, and the places of its addresses, worked out once: they are asked for
// by the million.
type bitmap struct {
	ofLine, ofColumn []int // the address bits that each sets
	places           []place
}

type place struct{ line, column uint16 }

// layOut works them out.
func (p *Profile) layOut() {
	var b bitmap
	for y := range p.Height {
		b.ofLine = append(b.ofLine, p.BitmapAddress(y, 0))
	}
	for c := range p.Columns() {
		b.ofColumn = append(b.ofColumn, p.BitmapAddress(0, c))
	}
	for address := range p.ColourBase {
		y, c := p.BitmapPlace(address)
		b.places = append(b.places, place{uint16(y), uint16(c)})
	}
	p.bitmap = b
}

// CellAddress is where the colour byte (Attr) or the code (Text) of a cell is kept.
func (p *Profile) CellAddress(row, column int) int {
	return p.ColourBase + row*p.Columns() + column
}

// ChipAddress splits an address as the memory chip takes it.
func (p *Profile) ChipAddress(address int) (row, column int) {
	return address & (1<<p.RowBits - 1), address >> p.RowBits & (1<<p.ColumnBits - 1)
}
