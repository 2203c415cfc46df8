package survey

import (
	"cmp"
	"encoding/binary"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/analyse/grid"
	"backporch/analyse/text"
	"backporch/video/display"
)

// What edges and cells say against a place in more than doubted nats counts by a fiftieth: they are not as sure as they
// are many, and ten glyphs of the font outweigh them.
const (
	doubted     = 24.0
	doubtedPart = 0.02
)

// What a sort of cell is worth, in nats: at its true place nine in ten sorts are glyphs of the font to the pixel, at another one in
// thirty is by chance. Those that are none also come from noise, alike at every place.
const (
	glyphFits   = 3.4
	glyphMisses = 0.1
	someInk     = 4   // pixels: a glyph of fewer stands anywhere
	leastSorts  = 4   // of glyphs that must fit, and
	fontMatches = 0.3 // as a part of the written cells: another machine's font has less
	evenScreen  = 0.9 // of all cells hold one sort: a screen filled with one code
	evenFits    = 8.0 // one glyph of the font to the pixel, where a screen holds no other: by chance in one of three thousand
)

// A lettering finds at which whole-pixel displacement the cells of a Text display show the font's
// glyphs. Edges say where pixels begin, but not which pixel is a cell's first; glyphs do.
type lettering struct {
	p      *display.Profile
	ink    []uint64 // the picture, a bit a pixel, leftmost in bit 63
	stride int
	font   [256]uint64
	known  map[uint64]bool
	even   map[uint64]bool // what a filled screen may show: bars too, for no border runs through most of its cells
}

func newLettering(s *analyse.Survey, p *display.Profile, f display.Font) *lettering {
	l := &lettering{p: p, stride: (p.Width + 63) / 64, known: map[uint64]bool{}, even: map[uint64]bool{}}
	l.ink = make([]uint64, p.Height*l.stride)
	paper := text.Background(s.Cells, p)
	for y := range p.Height {
		for c := range p.Columns() {
			cell := &s.Cells[y/8*p.Columns()+c]
			row := uint64(cell.Bits[y%8])
			if cell.Single && cell.Paper != paper {
				row = 0xff
			}
			l.ink[y*l.stride+c/8] |= row << (56 - c%8*8)
		}
	}
	for code := range 256 {
		g := f.Glyph(byte(code))
		v := binary.BigEndian.Uint64(g[:])
		l.font[code] = v
		if n := bits.OnesCount64(v); n >= someInk && n <= 64-someInk {
			l.even[v] = true
			if !bar(g) {
				l.known[v] = true
			}
		}
	}
	return l
}

// eight are eight pixels from x on, the left one in bit 7; outside of what was read all is paper.
func (l *lettering) eight(y, x int) uint64 {
	if y < 0 || y >= l.p.Height || x <= -8 || x >= l.p.Width {
		return 0
	}
	row := l.ink[y*l.stride:][:l.stride]
	if x < 0 {
		return row[0] >> 56 >> -x & 0xff
	}
	w := row[x/64] << (x % 64)
	if x%64 > 56 && x/64+1 < l.stride {
		w |= row[x/64+1] >> (64 - x%64)
	}
	return w >> 56
}

// A spelling numbers what the eight by eight pixels hold that begin at any place of a picture and as far about it as cells are
// displaced. Displacements share most of these, so that to count them takes no more than their numbers.
type spelling struct {
	about, stride int
	at            []int32  // [(line+about)*stride+pixel+about]: the number; 0 is paper alone
	words         []uint64 // by number
	count         []int    // by number, of the displacement at hand
	seen          []int32  // numbers that it has
}

func (l *lettering) spell(about int) *spelling {
	s := &spelling{about: about, stride: l.p.Width - 7 + 2*about, words: []uint64{0}}
	height := l.p.Height - 7 + 2*about
	s.at = make([]int32, s.stride*height)
	number := map[uint64]int32{0: 0}
	for x := range s.stride {
		var v uint64
		for y := -7; y < height; y++ { // v holds the lines from y on
			if v = v<<8 | l.eight(y+7-about, x-about); y < 0 {
				continue
			}
			n, known := number[v]
			if !known {
				n = int32(len(s.words))
				number[v] = n
				s.words = append(s.words, v)
			}
			s.at[y*s.stride+x] = n
		}
	}
	s.count = make([]int, len(s.words))
	return s
}

// tally counts the cells of a displacement.
func (s *spelling) tally(dx, dy, rows, columns int) {
	for _, n := range s.seen {
		s.count[n] = 0
	}
	s.seen = s.seen[:0]
	for row := range rows {
		line := s.at[(row*8+dy+s.about)*s.stride+dx+s.about:]
		for column := range columns {
			n := line[column*8]
			if n == 0 {
				continue
			}
			if s.count[n]++; s.count[n] == 1 {
				s.seen = append(s.seen, n)
			}
		}
	}
}

// weigh is what a displacement is worth, and whether the font is the picture's there. Each sort of cell counts once,
// for what is written repeats itself.
func (l *lettering) weigh(dx, dy int, s *spelling) (nats float64, fits bool) {
	s.tally(dx, dy, l.p.Rows(), l.p.Columns())
	sorts, matched, written := 0, 0, 0
	rows, columns := l.p.Rows(), l.p.Columns()
	whole := (rows - (abs(dy)+7)/8) * (columns - (abs(dx)+7)/8) // cells that were read whole
	for _, number := range s.seen {
		v, n := s.words[number], s.count[number]
		if float64(n) >= evenScreen*float64(whole) {
			if l.even[v] {
				// Every row or column of cells that shows it less was put beyond the picture's end.
				return evenFits - 0.5*float64(max(0, whole-n)), true
			}
			return 0, false
		}
		written += n
		if l.known[v] {
			sorts++
			matched += n
			nats += glyphFits
		} else {
			nats -= glyphMisses
		}
	}
	return nats, sorts >= leastSorts && float64(matched) >= fontMatches*float64(written)
}

// place gives the probable displacements, the best first; nil where the font is not the picture's anywhere.
func (l *lettering) place(places []analyse.Shift) []analyse.Shift {
	about := 0
	for _, at := range places {
		about = max(about, abs(at.Pixels), abs(at.Lines))
	}
	words := l.spell(about)
	if list := probable(places, func(at analyse.Shift) (float64, bool) { return l.weigh(at.Pixels, at.Lines, words) }); list != nil {
		return list
	}
	known := l.altered(words)
	return probable(places, func(at analyse.Shift) (float64, bool) { return l.weighAltered(at.Pixels, at.Lines, words, known) })
}

// probable keeps the places that are, by what their glyphs are worth there and what edges and cells say of them; nil where the font does not fit
// the best of them.
func probable(places []analyse.Shift, weigh func(at analyse.Shift) (nats float64, fits bool)) []analyse.Shift {
	shifts := slices.Clone(places)
	scores := make([]float64, len(places))
	best, fit := math.Inf(-1), false
	for i, at := range places {
		score, fits := weigh(at)
		against := -math.Log(math.Max(at.Probability, 1e-300))
		score -= math.Min(against, doubted+doubtedPart*(against-doubted))
		scores[i] = score
		if score > best {
			best, fit = score, fits
		}
	}
	if !fit {
		return nil
	}
	sum := 0.0
	for i := range shifts {
		shifts[i].Probability = math.Exp(scores[i] - best)
		sum += shifts[i].Probability
	}
	kept := shifts[:0]
	for _, s := range shifts {
		if s.Probability /= sum; s.Probability >= 0.01 {
			kept = append(kept, s)
		}
	}
	slices.SortStableFunc(kept, func(a, b analyse.Shift) int { return cmp.Compare(b.Probability, a.Probability) })
	return kept
}

// settle puts a Text display's survey where its glyphs say that it is, and reads it again if that is elsewhere.
func (v *view) settle(s *analyse.Survey) {
	if v.p.Kind != display.Text {
		return
	}
	for range 2 { // what lay outside at first may say more
		list := newLettering(s, v.p, v.glyphs()).place(grid.Places(s.Stack, v.p, s.Registration))
		if len(list) == 0 {
			return
		}
		d := list[0]
		reg := &s.Registration
		reg.OriginX += float64(d.Pixels) * reg.PitchX
		reg.OriginY += float64(d.Lines) * reg.PitchY
		for i := range list {
			list[i].Pixels -= d.Pixels
			list[i].Lines -= d.Lines
		}
		reg.Shifts = list
		if list[0].Probability > surelyPlaced {
			reg.Reason = ""
		}
		if d.Pixels == 0 && d.Lines == 0 {
			return
		}
		v.read(s)
	}
}

// surelyPlaced is the probability of a place from which on nothing need be said of the others.
const surelyPlaced = 0.9

func abs(n int) int { return max(n, -n) }

// bar tells whether a glyph is made of whole lines or whole columns: the border's edge looks like that in a
// cell that it runs through.
func bar(g [8]uint8) bool {
	lines, columns := true, true
	for _, b := range g {
		lines = lines && (b == 0 || b == 0xff)
		columns = columns && b == g[0]
	}
	return lines || columns
}
