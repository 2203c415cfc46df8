package characters

import (
	"math"
	"math/bits"
)

// How much likelier, in nats, counts for nothing; and what one cell can say at most.
const (
	slightly = 0.05
	oneCell  = 3.0
)

// nearGlyph is by how many pixels a cell may differ from the glyph it is taken for where that is only to say what it may have been meant
// for: a decoder has so many wrong of a character that stands alone. Common practice, no source.
const nearGlyph = 8

// likely is the code of a cell, or of the one glyph that its pixels are nearest to where they are none; -1 where there is none.
func (p *page) likely(i int) int {
	if p.code[i] >= 0 || p.shape[i] < 0 || p.font == nil {
		return p.code[i]
	}
	best, least, alone := -1, nearGlyph+1, true
	for code, rows := range p.font.rows {
		if p.font.first[code] != code || rows == 0 { // blanks are not misread so far
			continue
		}
		switch d := bits.OnesCount64(p.rows[i] ^ rows); {
		case d < least:
			best, least, alone = code, d, true
		case d == least:
			alone = false
		}
	}
	if !alone {
		return -1
	}
	return best
}

// gains finds, for every cell and bit of its code, how much likelier the cell is when either value of the
// bit may have been written. lost is what it may say of a lane that fails in one row of the chip: the seldomer cells
// look so all over the screen, the more.
func (p *page) gains() (gain, lost [][8]float64) {
	if !p.fits {
		return nil, nil
	}
	s := newScribe(p.columns, p.known())
	gain, lost = make([][8]float64, len(p.shape)), make([][8]float64, len(p.shape))
	stands := p.counts() // what stands elsewhere too is no slip of a lane
	hidden := p.hides()
	often := func(code, but int) float64 { return float64(max(0, stands[code]-but)) / float64(2*len(p.shape)) }
	var odd [8]int // cells, by bit
	of := 0
	for i, shape := range p.shape {
		if shape < 0 {
			s.skip()
			continue
		}
		of++
		if code := p.likely(i); code >= 0 {
			own := math.Max(s.p(code), often(code, 1))
			if p.blank[i] { // anything may stand there
				own += hidden * (1 - own)
			}
			for bit := range 8 {
				if twin := p.font.first[code^1<<bit]; twin != code {
					lost[i][bit] = math.Max(0, surprise(own+s.p(twin)*p.font.part[code^1<<bit])-surprise(own)-slightly)
					if lost[i][bit] > oneCell {
						odd[bit]++
					}
					if shape < 256 {
						gain[i][bit] = math.Min(lost[i][bit], oneCell)
					}
				}
			}
		}
		s.write(shape)
	}
	for bit, n := range odd {
		most := math.Max(oneCell, math.Log((float64(of)+1)/(float64(n)+0.5)))
		for i := range lost {
			lost[i][bit] = math.Min(lost[i][bit], most)
		}
	}
	return gain, lost
}

// nearly tells of two shapes, of a font that is not at hand, that may be one character which a decoder has spoilt in either cell.
func (p *page) nearly(a, b int) bool {
	return bits.OnesCount64(p.rowsOf(a)^p.rowsOf(b)) <= nearGlyph
}
