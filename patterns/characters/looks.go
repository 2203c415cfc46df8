package characters

import (
	"math"
	"math/bits"
	"slices"

	"backporch/patterns/nats"
)

// Characters of a font that is not at hand, known by their likeness to those of one that is: letters are letters in every hand.

// looks is, for every bit and level, ln of how much likelier than on average the map is by how its characters look beside those of the
// font at hand: another machine's, but letters are alike.
func (t textCells) looks(m characterMap, weak bool) (out [8][2]float64) {
	font := t.seen.font
	if font == nil {
		return out
	}
	var guess [256]float64
	for c := range guess {
		if guess[c] = symbolGuess(c); t.want.fits {
			guess[c] = symbolGuess(font.means[c])
		}
	}
	known := map[int]*[256]float64{}
	like := func(shape int) *[256]float64 {
		if known[shape] == nil && t.want.fits && shape < 256 { // it is the font's own
			known[shape] = &[256]float64{}
			for c, k := range font.first {
				if known[shape][c] = otherGlyph; k == shape {
					known[shape][c] = 1
				}
			}
		} else if known[shape] == nil {
			known[shape] = font.resembles(t.want.rowsOf(shape))
		}
		return known[shape]
	}
	stands := map[int]bool{} // on the reference
	for _, w := range t.want.shape {
		stands[w] = true
	}
	for _, pair := range m.became {
		from, to := like(pair[0]), like(pair[1])
		for bit := range 8 {
			for level := range 2 {
				p := 0.0
				for c := range 256 {
					if c>>bit&1 != level {
						other := from[c] * to[c^1<<bit] * guess[c]
						if stands[pair[1]] { // it is a character that is written, too
							other *= 256 * guess[c^1<<bit]
						}
						p += other
					}
				}
				out[bit][level] += math.Log(p)
			}
		}
	}
	for _, w := range m.same {
		if weak { // it may have escaped
			break
		}
		as := like(w)
		for bit := range 8 {
			p := [2]float64{}
			for c := range 256 {
				p[c>>bit&1] += guess[c] * as[c]
			}
			for level := range 2 {
				out[bit][level] += math.Log(p[level] / (p[0] + p[1]))
			}
		}
	}
	var each []float64
	for bit := range out {
		each = append(each, out[bit][:]...)
	}
	mean := nats.LogSum(each...) - math.Log(float64(len(each)))
	for bit := range out {
		for level := range out[bit] {
			out[bit][level] -= mean
		}
	}
	return out
}

// lettered is ln of how much likelier the sorts of characters on a screen look as they do with a lane held than with none, by what each may be in another
// hand; sorts is how many there are. A screen is written in one style, which says what codes it has.
func (p *page) lettered(bit, level int) (odds float64, sorts int) {
	if p.font == nil {
		return 0, 0
	}
	if p.looks == nil {
		p.looks = []*[256]float64{}
		sorts, like, of := 0, 0, 0
		for k, rows := range p.sorts() {
			if barred(rows) {
				continue
			}
			n := 0
			if k > 0 { // the commonest may stand for the space
				n = p.cellsOf(rows)
			}
			sorts++
			if of += n; p.font.likest(rows) >= aLetter {
				p.looks = append(p.looks, p.font.resembles(rows))
				like += n
			}
		}
		if 2*len(p.looks) <= sorts || 2*like <= of { // no writing, but pictures of which a decoder spoils some
			p.looks = p.looks[:0]
		}
	}
	if len(p.looks) < fewSorts {
		return 0, len(p.looks)
	}
	var held, good []float64
	for _, s := range append(lettersAlone, styles...) {
		var own, as [256]float64
		for c := range own {
			own[c] = s.code(c)
		}
		for c := range as {
			if c>>bit&1 == level {
				as[c] = own[c] + own[c^1<<bit]
			}
		}
		sum := [2]float64{math.Log(s.share), math.Log(s.share)}
		for _, like := range p.looks {
			var p [2]float64
			for c, v := range like {
				p[0] += v * own[c]
				p[1] += v * as[c]
			}
			sum[0] += math.Log(p[0])
			sum[1] += math.Log(p[1])
		}
		good, held = append(good, sum[0]), append(held, sum[1])
	}
	counts := lettersCount * math.Min(1, mostLetters/float64(len(p.looks)))
	return counts * (nats.LogSum(held...) - nats.LogSum(good...)), len(p.looks)
}

// cellsOf counts the cells that show a character, of which these are one's pixels.
func (p *page) cellsOf(rows uint64) (n int) {
	at := slices.Index(p.rows, rows)
	for _, s := range p.shape {
		if at >= 0 && s == p.shape[at] {
			n++
		}
	}
	return n
}

// lettersAlone are the styles of titles and menus, which hardly have any figures or marks, beside the others. Common practice, no source.
var lettersAlone = []style{
	{0.3, 0.97, func(c int) float64 { return writing(c, 0.90/52, 0.90/52, 0.02, 0.06) }, writtenScreen},
	{0.2, 0.97, func(c int) float64 { return writing(c, 0.90/26, 1e-5, 0.02, 0.06) }, writtenScreen},
}

// lettersCount is what a nat by the looks of characters is worth, for some fonts have many that look like others, and mostLetters how many of a screen's
// count: of more many are no letters. Common practice, no source.
const (
	lettersCount = 0.8
	mostLetters  = 40.0
)

// aLetter is the likeness from which on pixels may be a character of ASCII: of eight fonts' characters three in four are that much like one of the
// shipped font's, and of such as no hand drew few.
const aLetter = 0.83

// likest is the likeness of pixels to the character of the font that they are most like.
func (g *glyphs) likest(rows uint64) float64 {
	g.draw()
	if bits.OnesCount64(rows) > 32 { // inverted
		rows = ^rows
	}
	own, most := drawingOf(rows), 0.0
	for k := range g.drawings {
		most = math.Max(most, own.like(&g.drawings[k]))
	}
	return most
}

func (g *glyphs) draw() {
	if g.drawings == nil {
		for c := ' '; c <= '~'; c++ {
			g.drawings = append(g.drawings, drawingOf(g.rows[g.stands[c]]))
		}
	}
}

// otherGlyph is how often a glyph of the font at hand is another one, misread, for each other. Common practice, no source.
const otherGlyph = 1e-4

// resembles is, up to a factor, how probable pixels are as each code's character in another hand.
func (g *glyphs) resembles(rows uint64) *[256]float64 {
	g.draw()
	var out [256]float64
	if bits.OnesCount64(rows) > 32 { // inverted
		rows = ^rows
	}
	own, sum := drawingOf(rows), 0.0
	for k := range g.drawings {
		p := math.Exp(alikeness * own.like(&g.drawings[k]))
		if rows == 0 || g.drawings[k].high == 0 { // a space is nothing in all of them
			p = 0
			if rows == 0 && g.drawings[k].high == 0 {
				p = 1
			}
		}
		out[' '+k] = p
		sum += p
	}
	for c := range out {
		if c < ' ' || c > '~' { // graphics are everybody's own: any characters
			out[c] = sum / 95
		}
	}
	for k := range g.drawings { // and so are some letters
		out[' '+k] += strangeHand * sum / 95
	}
	return &out
}

// A drawing is a character as it looks when drawn to one size, with soft edges, and where it stood before.
type drawing struct {
	drawn                   [drawnSize][drawnSize]float64
	length                  float64
	first, last, wide, high int // lines and columns of its ink; high is 0 where it has none
}

const drawnSize = 10

// alikeness is the weight of a likeness from 0 to 1, in nats, and strangeHand how many characters look like no other's. With them the letters, figures and marks
// of nine fonts are known by those of another with 1.8 nats lost each, of 4.5; out of place and out of width are what likeness a line or a column of either costs.
const (
	alikeness   = 22.0
	strangeHand = 0.03
	outOfPlace  = 0.05
	outOfWidth  = 0.035
)

func drawingOf(rows uint64) (h drawing) {
	if rows == 0 {
		return h
	}
	columns := uint64(0)
	h.first, h.last = bits.LeadingZeros64(rows)/8, 7-bits.TrailingZeros64(rows)/8
	for shift := 0; shift < 64; shift += 8 {
		columns |= rows >> shift & 0xff
	}
	left := bits.LeadingZeros8(uint8(columns))
	h.high, h.wide = h.last-h.first+1, 8-left-bits.TrailingZeros8(uint8(columns))
	// The part of each field of the drawing that lies in each line and column of the ink.
	parts := func(n int) (out [drawnSize][8]float64) {
		each := float64(n) / drawnSize
		for k := range drawnSize {
			for i := range n {
				out[k][i] = math.Max(0, math.Min(float64(i+1), each*float64(k+1))-math.Max(float64(i), each*float64(k))) / each
			}
		}
		return out
	}
	down, across := parts(h.high), parts(h.wide)
	var sharp [drawnSize + 2][drawnSize + 2]float64
	for y := range drawnSize {
		for x := range drawnSize {
			for line := range h.high {
				for column := range h.wide {
					if rows>>(63-8*(h.first+line)-left-column)&1 == 1 {
						sharp[y+1][x+1] += down[y][line] * across[x][column]
					}
				}
			}
		}
	}
	soft := [3]float64{0.25, 0.5, 0.25}
	for y := range drawnSize {
		for x := range drawnSize {
			for i, v := range soft {
				for k, w := range soft {
					h.drawn[y][x] += v * w * sharp[y+i][x+k]
				}
			}
			h.length += h.drawn[y][x] * h.drawn[y][x]
		}
	}
	h.length = math.Sqrt(h.length)
	return h
}

// like is how alike two characters are: the cosine of their drawings, less what they stand elsewhere.
func (h *drawing) like(o *drawing) float64 {
	if h.high == 0 || o.high == 0 {
		return 0
	}
	sum := 0.0
	for y := range drawnSize {
		for x := range drawnSize {
			sum += h.drawn[y][x] * o.drawn[y][x]
		}
	}
	apart := func(a, b int) float64 { return math.Abs(float64(a - b)) }
	return sum/(h.length*o.length) - outOfPlace*(apart(h.first, o.first)+apart(h.last, o.last)) - outOfWidth*apart(h.wide, o.wide)
}
