package survey

import (
	"encoding/binary"
	"math"
	"math/bits"

	"backporch/analyse/text"
)

// Glyphs that a fault behind the character generator has changed all alike, such as a data bit that is held, are none of the font's, but
// say as well where cells begin.

// alteredFits is the part of the written cells that must be such glyphs: there are some forty ways to change a font, and a few
// glyphs of another machine's font are always like those of one of them.
const (
	alteredFits  = 0.7
	alteredSorts = 6
)

// altered tells for each alteration which numbers of a spelling are its glyphs.
func (l *lettering) altered(s *spelling) [][]bool {
	var out [][]bool
	for _, change := range text.Alterations() {
		glyphs := map[uint64]bool{}
		for _, g := range l.font {
			if v := change(g); tells(v) && !glyphs[v] {
				glyphs[v] = true
			}
		}
		of := make([]bool, len(s.words))
		for number, v := range s.words {
			of[number] = glyphs[v]
		}
		out = append(out, of)
	}
	return out
}

// tells tells whether a cell that shows this says where cells begin: a bar may stand anywhere, and so may few pixels.
func tells(v uint64) bool {
	var g [8]uint8
	binary.BigEndian.PutUint64(g[:], v)
	n := bits.OnesCount64(v)
	return n >= someInk && n <= 64-someInk && !bar(g)
}

// weighAltered is weigh for the alteration that does best.
func (l *lettering) weighAltered(dx, dy int, s *spelling, known [][]bool) (nats float64, fits bool) {
	s.tally(dx, dy, l.p.Rows(), l.p.Columns())
	var telling []int32
	written := 0
	for _, number := range s.seen {
		if tells(s.words[number]) {
			telling = append(telling, number)
			written += s.count[number]
		}
	}
	most := 0
	for _, of := range known {
		sorts, matched := 0, 0
		for _, number := range telling {
			if of[number] {
				sorts++
				matched += s.count[number]
			}
		}
		if sorts > most {
			most, fits = sorts, sorts >= alteredSorts && float64(matched) >= alteredFits*float64(written)
		}
	}
	return float64(most)*glyphFits - float64(len(telling)-most)*glyphMisses - math.Log(float64(len(known))), fits
}
