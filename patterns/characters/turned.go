package characters

import (
	"math"
	"math/bits"

	"backporch/analyse/text"
	"backporch/patterns/nats"
)

// turned is the log-likelihood of what is written if all glyphs are changed alike; ok is false where the cells are no such glyphs.
func (t *screenText) turned(u turn) (like float64, ok bool) {
	if t.page.font == nil {
		return 0, false
	}
	p := t.page.through(u.rows)
	if read, of := p.sortsRead(); !p.fits || p.written < fewMoreCells || read < fewGlyphs || float64(read) < mostSorts*float64(of) {
		return 0, false
	}
	return p.drawn(nil) + p.fit(), true
}

// turned is the log-likelihood of the screen where the reference's would show with all glyphs changed alike; plain is that of no change.
func (t textCells) turned(u turn, plain float64) float64 {
	k := t
	var shows func(shape int) int
	if t.want.fits {
		k.seen = t.seen.through(u.rows)
		shows = func(shape int) int {
			if shape < 256 {
				return k.seen.font.first[shape]
			}
			return shape
		}
	} else {
		as := map[int]int{}
		shows = func(shape int) int {
			other, ok := as[shape]
			if !ok {
				other = t.seen.number(u.rows(t.want.rowsOf(shape)))
				as[shape] = other
			}
			return other
		}
		k.seen = t.seen
	}
	k.seen = k.seen.settled(t.want, shows, besideTurn(u))
	explained, left := 0, 0 // cells
	changed, as := 0, 0     // pixels that the turn changes, and that show it
	escaped, of := 0, 0     // cells that show none of it, of those that it changes
	for i, seen := range k.seen.shape {
		was := t.want.shape[i]
		if seen >= 0 && was >= 0 {
			mask := u.rows(t.want.rows[i]) ^ t.want.rows[i]
			showing := mask & (t.want.rows[i] ^ k.seen.rows[i]) &^ strokeAside(t.want.rows[i], k.seen.rows[i], mask)
			changed += bits.OnesCount64(mask)
			as += bits.OnesCount64(showing)
			if mask != 0 {
				if of++; showing == 0 {
					escaped++
				}
			}
		}
		switch {
		case seen < 0 || was < 0:
		case seen != shows(was):
			left++
		case u.rows(t.want.rowsOf(was)) != t.want.rowsOf(was):
			explained++
		}
	}
	like := k.weigh(func(i int) (int, int) {
		shape, ink := k.plain(i)
		if shape >= 0 {
			shape = shows(shape)
		}
		return shape, ink
	}, true)
	// What fits better by what else was misread is misread; and characters with few pixels wrong have one number, whichever pixels they are.
	if explained <= left || 2*as <= changed {
		return math.Min(like, plain)
	}
	// What fails in all glyphs fails in every cell, but for those misread: one by one, or all that are alike.
	return like + math.Max(nats.BetaSequence(escaped, of, 0.5, 50)-misreadCell*float64(escaped), math.Log(mistakenAlike/glyphsMistaken/float64(of+1)))
}

// besideTurn are the pixel columns beside one that a turn holds, in the cell and in the next: where the path is slow they have a part of what shows in it.
func besideTurn(u turn) uint64 {
	held := u.rows(0) | ^u.rows(^uint64(0))
	if held == 0 || held == ^uint64(0) {
		return 0
	}
	return text.EachLine(func(b uint8) uint8 { return bits.RotateLeft8(b, 1) | bits.RotateLeft8(b, -1) })(held) &^ held
}

// strokeAside are pixels of a mask that differ because a stroke lies a pixel aside, as where two captures were sampled otherwise: ink is gone where it is new in
// the next pixel, or the other way round, and the mask has that pixel not.
func strokeAside(was, now, mask uint64) uint64 {
	lost, gained := was&^now, now&^was
	beside := text.EachLine(func(b uint8) uint8 { return b<<1 | b>>1 })
	return mask & (lost&beside(gained&^mask) | gained&beside(lost&^mask))
}

// mostSorts is the part of a screen's sorts of cell that must be glyphs of the font, changed: of another machine's font a few
// are so by chance, and blocks are alike in all of them.
const mostSorts = 0.7

// sortsRead counts the sorts of written cells, and those of them that are glyphs of the font; blocks and bars count for nothing.
func (p *page) sortsRead() (read, of int) {
	seen := map[uint64]bool{}
	for i, rows := range p.rows {
		if p.shape[i] < 0 || seen[rows] || barred(rows) {
			continue
		}
		seen[rows] = true
		of++
		if p.shape[i] < 256 {
			read++
		}
	}
	return read, of
}

// barred tells whether a cell is made of whole lines or columns, or of whole quarters, as the blocks are that pictures are drawn with.
func barred(rows uint64) bool {
	first, columns, lines := rows&0xff, true, true
	for shift := 0; shift < 64; shift += 8 {
		b := rows >> shift & 0xff
		columns = columns && b == first
		lines = lines && (b == 0 || b == 0xff)
	}
	return lines || columns || inQuarters(rows) != 0 && bits.OnesCount64(rows^inQuarters(rows)) <= strayQuarters
}

// A block of quarters has so many pixels misread at most; a letter has more that are not of its quarter's colour. Common practice, no source.
const strayQuarters = 4

// inQuarters is a cell with each quarter in the colour that most of it has.
func inQuarters(rows uint64) (out uint64) {
	const quarter = 0x0f0f0f0f
	for _, shift := range [...]int{0, 4, 32, 36} {
		if mask := uint64(quarter) << shift; bits.OnesCount64(rows&mask) > 8 {
			out |= mask
		}
	}
	return out
}

// fit is the log-likelihood of what the glyphs' pixels differ by from the font's, each sort of glyph once: what a path
// does to one it does to all of them.
func (p *page) fit() float64 {
	var apart, n [256]int
	for i, c := range p.code {
		if c >= 0 {
			n[c]++
			apart[c] += bits.OnesCount64(p.rows[i] ^ p.font.rows[c])
		}
	}
	like := 0.0
	for c, of := range n {
		if of > 0 {
			like -= math.Min(mostUnlike, pixelWrong*float64(apart[c])/float64(of))
		}
	}
	return like
}

// Nats for a pixel that a glyph as a whole has wrong, and at most for one glyph.
const (
	pixelWrong = 1.5
	mostUnlike = 8.0
)
