package characters

import (
	"encoding/binary"
	"sync"

	"backporch/video/display"
)

// Fonts in another order of codes than ASCII, as with capitals from code 1 on: what each code stands for, by the looks of its glyph. Lanes
// are bits of the codes, but what is written is letters.

// A block of codes is one of ASCII's if its characters look by so much more like it, on the mean, than those at ASCII's own place do, and these look no more like it than capitals look
// like small letters. Of some forty fonts by ten hands or so those in the order of ASCII have 0.75 or more at their own place, or no block that is more like it; the others have two that are by 0.15 at the least.
const (
	movedBlock   = 32
	plainlyMoved = 0.1
	ownPlace     = 0.72
)

// An order of codes: the code of ASCII that each stands for, and the code that stands for each of ASCII; the same but in fonts of another order.
type order struct{ means, stands [256]int }

// orderOf is the order of a font.
func orderOf(rows *[256]uint64) *order {
	if known, ok := orders.Load(*rows); ok {
		return known.(*order)
	}
	var own [256]drawing
	for code, pixels := range rows {
		own[code] = drawingOf(pixels)
	}
	ascii := asciiDrawn()
	var means [256 / movedBlock]int // by block of codes: the block of ASCII
	for k := range means {
		means[k] = k
	}
	for first := 1; first < 4; first++ {
		like := func(block int) float64 {
			sum, n := 0.0, 0.0
			for k := range movedBlock {
				if a := &ascii[first*movedBlock+k]; a.high > 0 {
					sum += own[block*movedBlock+k].like(a)
					n++
				}
			}
			return sum / n
		}
		best, most := first, like(first)
		if most < ownPlace {
			most += plainlyMoved
			for block := range means {
				if v := like(block); v > most {
					best, most = block, v
				}
			}
		}
		if best == first {
			continue
		}
		for block, k := range means { // what it was taken for is where it was
			if k == first {
				means[block], means[best] = means[best], first
				break
			}
		}
	}
	out := &order{}
	for code := range out.means {
		out.means[code] = means[code/movedBlock]*movedBlock + code%movedBlock
		out.stands[out.means[code]] = code
	}
	orders.Store(*rows, out)
	return out
}

// orders keeps them by font.
var orders sync.Map

// asciiDrawn are the drawings of the shipped font, which is in that order.
var asciiDrawn = sync.OnceValue(func() *[256]drawing {
	out, font := &[256]drawing{}, display.ShippedFont()
	for code := ' '; code <= '~'; code++ {
		glyph := font.Glyph(byte(code))
		out[code] = drawingOf(binary.BigEndian.Uint64(glyph[:]))
	}
	return out
})
