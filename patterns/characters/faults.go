package characters

import (
	"fmt"
	"math/bits"

	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/video/display"
)

// The faults of a Text display as what they do to a written screen. Three sorts: a cell is read from another
// place (folds), a lane is held at a level in some cells (holds), the pixels of every glyph are changed alike (turns).

// A fold reads cells from other places.
type fold struct {
	fault  patterns.Fault
	share  float64         // of its kind's prior
	from   func(i int) int // the cell whose content shows in cell i; -1: none of the screen's
	lanes  int             // the bits that are read there
	screen bool            // the screen codes
	colour bool            // the colour nibbles
	why    string
}

// A hold is a lane at a level in some cells.
type hold struct {
	fault patterns.Fault
	share float64
	in    func(i int) bool // nil: in all
	weak  bool             // here and there: what shows as itself may have escaped
}

// A turn changes the pixels of all glyphs.
type turn struct {
	fault patterns.Fault
	share float64
	rows  text.Alteration
	why   string
}

// still tells of a fold whose sources show themselves at their own places.
func (f *fold) still() bool { return f.fault.Columns != "colour-shift" }

const allLanes = 0xff

// foldsOf lists the folds of a display.
func foldsOf(p *display.Profile) []fold {
	out := addressFolds(p)
	columns, cells := p.Columns(), p.Columns()*p.Rows()
	// The raster's: codes and colours alike.
	column := func(name string, share float64, colourOnly bool, f func(c int) int) {
		out = append(out, fold{
			fault: patterns.Fault{Kind: "cell-fetch", Columns: name}, share: share, lanes: allLanes, screen: !colourOnly, colour: true,
			from: func(i int) int {
				c := f(i % columns)
				if c < 0 || c >= columns {
					return -1
				}
				return i/columns*columns + c
			},
		})
	}
	column("odd", 0.25, false, func(c int) int { return c &^ 1 })
	column("even", 0.125, false, func(c int) int { return c | 1 })
	column("even", 0.125, false, func(c int) int { return c - 1 + c&1 }) // a fetch that fails leaves the last one's byte in the latch
	for n := 1; n < columns-1; n++ {
		column(fmt.Sprintf("after %d", n), afterShare(columns), false, func(c int) int { return min(c, n) })
	}
	column("colour-shift", 0.125, true, func(c int) int { return c + 1 })
	column("colour-shift", 0.125, true, func(c int) int { return c - 1 })
	for bit := 3; 1<<(bit-3) < p.Rows(); bit++ {
		for level := range 2 {
			out = append(out, fold{
				fault: patterns.Fault{Kind: "line-counter", CounterBit: new(bit)}, share: 1.0 / 16, lanes: allLanes, screen: true, colour: true,
				from: func(i int) int {
					from := force(i/columns, bit-3, level)*columns + i%columns
					if from >= cells {
						return -1
					}
					return from
				},
			})
		}
	}
	return out
}

// addressFolds lists the stuck address lines: one, or a pin behind the multiplexer with two; of all lanes or of one;
// of the screen memory or of the colour memory.
func addressFolds(p *display.Profile) []fold {
	cells := p.Columns() * p.Rows()
	top := bits.Len(uint(cells - 1))
	var masks [][]int
	for k := range top {
		masks = append(masks, []int{k})
		if k+p.RowBits < top && p.RowBits > 0 {
			masks = append(masks, []int{k, k + p.RowBits})
		}
	}
	var out []fold
	for _, lines := range masks {
		mask := 0
		for _, k := range lines {
			mask |= 1 << k
		}
		for level := range 2 {
			from := func(i int) int {
				if i &^= mask; level == 1 {
					i |= mask
				}
				if i >= cells {
					return -1
				}
				return i
			}
			each := 1 / float64(2*len(masks))
			add := func(share float64, lanes int, memory string) {
				f := patterns.Fault{Kind: "address-line-stuck", Lines: lines, Level: new(level), Memory: memory}
				if lanes != allLanes {
					f.Lanes = []int{bits.TrailingZeros(uint(lanes))}
				}
				out = append(out, fold{fault: f, share: share * each, from: from, lanes: lanes, screen: memory == "screen", colour: memory == "colour"})
			}
			add(screenShare/2, allLanes, "screen")
			add(colourShare, allLanes, "colour")
			for lane := range 8 {
				add(screenShare/16, 1<<lane, "screen")
			}
		}
	}
	return out
}

// screenShare is how many of the lanes that fail are the screen memory's, the rest the colour memory's: eight chips
// against one of another sort. Common practice, no source.
const (
	screenShare = 0.75
	colourShare = 1 - screenShare
)

// shareOf is a memory's part, and how many lanes it has.
func shareOf(memory string) (share float64, lanes int) {
	if memory == "colour" {
		return colourShare, 4
	}
	return screenShare, 8
}

// stuckLanes lists each lane at each level.
func stuckLanes() []hold {
	var out []hold
	for _, memory := range []string{"screen", "colour"} {
		share, lanes := shareOf(memory)
		for bit := range lanes {
			for level := range 2 {
				out = append(out, hold{fault: patterns.Fault{Kind: "data-bit-stuck", Bit: new(bit), Level: new(level), Memory: memory}, share: share / float64(2*lanes)})
			}
		}
	}
	return out
}

// lineOfGenerator is the fault that makes the same picture as a lane of the screen memory held in all cells: the character generator has
// the code on its address lines above the three of the glyph's lines.
func lineOfGenerator(h hold) (f patterns.Fault, share float64, ok bool) {
	if h.fault.Memory != "screen" || h.in != nil {
		return patterns.Fault{}, 0, false
	}
	return patterns.Fault{Kind: "character-generator", Lines: []int{*h.fault.Bit + 3}, Level: h.fault.Level}, generatorLine / 16, true
}

// generatorLine is how many of the faults of a character generator are a line of its address; the others are a line of its data, or codes
// by themselves. Common practice, no source.
const generatorLine = 0.25

// deadRows lists a lane's dead rows and columns of the memory chip, as wanted keeps them: there are some two thousand.
func deadRows(p *display.Profile, keep func(memory string, bit, level int, in func(i int) bool) bool) []hold {
	if p.RowBits == 0 {
		return nil
	}
	cells := p.Columns() * p.Rows()
	rows := 1 << p.RowBits
	columns := (cells-1)>>p.RowBits + 1
	var out []hold
	for _, memory := range []string{"screen", "colour"} {
		share, lanes := shareOf(memory)
		for bit := range lanes {
			for level := range 2 {
				each := share / float64(2*lanes)
				for k := range rows {
					h := hold{fault: patterns.Fault{Kind: "row-dead", Bit: new(bit), Level: new(level), Row: new(k), Memory: memory}, share: each / float64(rows),
						in: func(i int) bool { return i&(rows-1) == k }}
					if keep(memory, bit, level, h.in) {
						out = append(out, h)
					}
				}
				for k := range columns {
					h := hold{fault: patterns.Fault{Kind: "column-dead", Bit: new(bit), Level: new(level), Column: new(k), Memory: memory}, share: each / float64(columns),
						in: func(i int) bool { return i>>p.RowBits == k }}
					if keep(memory, bit, level, h.in) {
						out = append(out, h)
					}
				}
			}
		}
	}
	return out
}

// stageAtPaper is how many of the faults of a shift register are a stage that is stuck at paper. Common practice, no source.
const stageAtPaper = 0.125

// pixelsInTwos is how many of the faults of a shift register show pixels in twos, and neverLoads how many nothing of the glyphs at all. Common
// practice, no source.
const (
	pixelsInTwos = 0.1
	neverLoads   = 0.1
)

// turns lists what changes all glyphs alike: a data bit of the generator, a stage of the shift register or its
// order, a line counter's bit below the rows of characters.
func turns() []turn {
	var out []turn
	for bit := range 8 {
		for level := range 2 {
			out = append(out, turn{
				fault: patterns.Fault{Kind: "character-generator", Bit: new(bit), Level: new(level)}, share: 0.5 / 16,
				rows: text.DataHeld(bit, level),
				why:  fmt.Sprintf("the glyphs are the font's with data bit %d of the generator at %d: one pixel column of all of them", bit, level),
			})
		}
	}
	shift := func(share float64, why string, f text.Alteration) {
		out = append(out, turn{fault: patterns.Fault{Kind: "shift-register"}, share: share, rows: f, why: "the glyphs are the font's " + why})
	}
	for n := 1; n < 8; n++ {
		shift(stageAtPaper/7, fmt.Sprintf("with the last %d pixels of each at paper: a stage is stuck", n), text.LastHeld(n, 0))
		shift(0.25/14, fmt.Sprintf("with the last %d pixels of each at ink: a stage is stuck", n), text.LastHeld(n, 1))
	}
	for bit := range 7 {
		shift(0.25/7, fmt.Sprintf("with pixel %d like its left neighbour", 7-bit), text.PixelCopied(bit))
	}
	shift(0.1, "mirrored", text.Mirrored())
	shift(pixelsInTwos/4, "with the left pixel of each two shown twice", text.PairsAlike(0))
	shift(pixelsInTwos/4, "with the right pixel of each two shown twice", text.PairsAlike(1))
	shift(pixelsInTwos/4, "drawn twice as wide, their left halves alone", text.HalfRate())
	shift(pixelsInTwos/8, "with their left half drawn twice", text.HalfTwice(0))
	shift(pixelsInTwos/8, "with their right half drawn twice", text.HalfTwice(1))
	shift(0.15, "a pixel late", text.EachLine(func(b uint8) uint8 { return b >> 1 }))
	shift(0.15, "a pixel early", text.EachLine(func(b uint8) uint8 { return b << 1 }))
	for bit := range 3 {
		for level := range 2 {
			out = append(out, turn{
				fault: patterns.Fault{Kind: "line-counter", CounterBit: new(bit)}, share: 1.0 / 16,
				rows: text.LinesHeld(bit, level),
				why:  fmt.Sprintf("the lines of the glyphs repeat as with bit %d of the line counter at %d", bit, level),
			})
		}
	}
	return out
}
