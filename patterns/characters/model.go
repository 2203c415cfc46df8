package characters

import "math"

// A scribe says how probable each next cell of a written screen is, and learns as it goes: eleven readers of what
// stands to the left and above, each with the shorter context as its first guess (Dirichlet's rule), in a mixture whose
// weights follow who was right (Herbster and Warmuth's fixed share; both from memory).
type scribe struct {
	columns int
	guess   func(symbol int) float64
	sort    []float64    // of a screen of a known font: how probable it is of each sort, by the characters so far
	likely  [256]float64 // and so how probable each glyph is, as any of the codes that show it
	shown   []int        // what was written so far; -1 not known
	zero    counter
	context [3]map[uint64]*counter // by the cell to the left, the two to the left, the one above
	again   [2]float64             // times that one was like its left neighbour, or was not
	font    *glyphs                // nil: not known
	space   int                    // what shows where nothing is written
	rows    []*inTurn              // rows of codes in the font's order and, where that is another, in ASCII's
	begun   [2]float64             // words so far that began with a capital, and with a small letter
	drawn   [codeBlocks]float64    // cells so far with something in them, by the block that their code is of
	weight  [readers]float64
	last    [readers]float64 // what each reader gave the symbol asked for
}

const (
	readers                 = 11
	anyCode, anyLetter      = 7, 8 // readers that know nothing
	anyBlock                = 10
	codeBlocks, blockLength = 16, 256 / 16
	switching               = 0.03 // share of the weight that is dealt out anew at each cell
)

// A counter counts symbols in one context.
type counter struct {
	of    map[int]float64
	total float64
}

func (c *counter) add(symbol int) {
	if c.of == nil {
		c.of = map[int]float64{}
	}
	c.of[symbol]++
	c.total++
}

func (c *counter) p(symbol int, guess, weight float64) float64 {
	if c == nil {
		return guess
	}
	return (c.of[symbol] + weight*guess) / (c.total + weight)
}

// formGuess is the probability of a new form that is no glyph: strokes are not random bits, yet 25 nats are
// some 36 bits of 64.
var formGuess = math.Exp(-25)

// strangeGuess is how probable a cell's symbol is where the font is not known: every form is a character of it. What the forms
// themselves look like is the same for all that could be wrong with the codes.
func strangeGuess(symbol int) float64 {
	if symbol == ' ' {
		return fillerShare
	}
	return (1 - fillerShare) / 255
}

// symbolGuess is how probable a cell's symbol is before anything stands on the screen.
func symbolGuess(symbol int) float64 {
	if symbol > 255 {
		return formGuess
	}
	sum := 0.0
	for _, s := range styles {
		p := (1 - fillerShare) * s.code(symbol)
		if symbol == ' ' {
			p += fillerShare
		}
		sum += s.share * p
	}
	return sum
}

// fillerShare is the part of a screen that is its filler; common practice, no source.
const fillerShare = 0.4

func newScribe(columns int, font *glyphs) *scribe {
	s := &scribe{columns: columns, guess: symbolGuess, again: [2]float64{1, 1}, font: font, space: ' ', rows: rowsOfCodes(font)}
	if font == nil {
		s.guess = strangeGuess
	} else {
		s.space = font.space()
		for _, k := range screenSorts {
			s.sort = append(s.sort, k.share)
		}
		s.inSort()
		s.guess = func(symbol int) float64 {
			if symbol > 255 {
				return formGuess
			}
			return s.likely[symbol]
		}
	}
	for i := range s.context {
		s.context[i] = map[uint64]*counter{}
	}
	for i := range s.weight {
		s.weight[i] = firstWeight(i)
	}
	return s
}

// firstWeight is a reader's weight before anything was read: few screens have any character anywhere.
func firstWeight(reader int) float64 {
	const anywhere = 0.01
	if reader == anyCode || reader == anyLetter || reader == anyBlock {
		return anywhere / 3
	}
	return (1 - anywhere) / (readers - 3)
}

func (s *scribe) left(back int) int {
	if at := len(s.shown) - back; at >= 0 {
		return s.shown[at]
	}
	return s.space
}

func (s *scribe) keys() (one, two, above uint64) {
	l, ll, a := uint64(s.left(1)+1), uint64(s.left(2)+1), uint64(s.left(s.columns)+1)
	return l, ll<<16 | l, a
}

// each fills dst with what the readers give a symbol as the next.
func (s *scribe) each(symbol int, dst *[readers]float64) {
	one, two, above := s.keys()
	p0 := s.zero.p(symbol, s.guess(symbol), 4)
	p1 := s.context[0][one].p(symbol, p0, 1.5)
	p2 := s.context[1][two].p(symbol, p1, 1)
	same := 0.4 * p0
	if symbol == s.left(s.columns) {
		same += 0.6
	}
	dst[0], dst[1], dst[2] = p0, p1, p2
	dst[3] = s.context[2][above].p(symbol, same, 1.5)
	dst[4] = 0
	for _, r := range s.rows {
		dst[4] += r.next(symbol, p0) / float64(len(s.rows))
	}
	means := s.means(symbol)
	if dst[5] = inWord(s.means(s.left(2)), s.means(s.left(1)), means, p0); s.left(1) == s.space && isLetter(means) {
		twin := s.code(means ^ caseBit)
		other := s.zero.p(twin, s.guess(twin), 4)
		dst[5] = s.begins(means) * (p0 + other)
	}
	again := s.again[0] / (s.again[0] + s.again[1])
	dst[6] = (1 - again) * p0
	if symbol == s.left(1) {
		dst[6] += again
	}
	// What is drawn with characters, or a test of them, has any, or any of the half that most fonts' letters are in.
	dst[anyCode], dst[anyLetter] = formGuess, formGuess
	if symbol < 256 || s.font == nil {
		dst[anyCode] = 1.0 / 256
	}
	if symbol < 128 {
		dst[anyLetter] = 1.0 / 128
	}
	dst[anyBlock] = s.ofBlock(symbol, p0)
	// All codes in order, with holes: each stands at its place.
	dst[9] = p0
	if symbol != s.space {
		dst[9] = 0
		written := 1 - s.zero.p(s.space, s.guess(s.space), 4)
		for _, r := range s.rows {
			dst[9] += r.withHoles(symbol, len(s.shown), p0, written) / float64(len(s.rows))
		}
	}
}

// ofBlock is how probable a symbol is on a screen that is drawn: characters to draw with stand together in the set, sixteen or
// so of them, as those that show a block's quarters or a bar's height do, and which of the sixteen is used next is open. Common practice, no source.
func (s *scribe) ofBlock(symbol int, p0 float64) float64 {
	if symbol > 255 || symbol == s.space {
		return p0
	}
	block, all, used := symbol/blockLength, 0.0, 0.0
	for _, n := range s.drawn {
		all += n
	}
	for k := range blockLength {
		used += s.zero.of[block*blockLength+k]
	}
	within := (s.zero.of[symbol] + 0.5) / (used + 0.5*blockLength)
	return (1 - s.zero.p(s.space, s.guess(s.space), 4)) * (s.drawn[block] + 1.0/codeBlocks) / (all + 1) * within
}

// inWord is how probable a symbol is after a letter or a figure: words keep their case, but for a first letter, and numbers go on.
// Common practice, no source.
func inWord(before, left, symbol int, p0 float64) float64 {
	switch {
	case left >= 'a' && left <= 'z':
		return 0.72*letter(symbol, 'a') + 0.28*p0
	case left >= 'A' && left <= 'Z' && !isLetter(before):
		return 0.36*letter(symbol, 'A') + 0.36*letter(symbol, 'a') + 0.28*p0
	case left >= 'A' && left <= 'Z':
		return 0.60*letter(symbol, 'A') + 0.12*letter(symbol, 'a') + 0.28*p0
	case left >= '0' && left <= '9':
		if symbol >= '0' && symbol <= '9' {
			return 0.05 + 0.5*p0
		}
		return 0.5 * p0
	}
	return p0
}

// caseBit tells capitals from small letters.
const caseBit = 'a' ^ 'A'

func isLetter(symbol int) bool {
	return symbol >= 'a' && symbol <= 'z' || symbol >= 'A' && symbol <= 'Z'
}

// begins is how many of the words that begin with a letter begin with it in this case, whatever the rest of them is in: as the words before
// did, and in headings and names with a capital. Common practice, no source.
func (s *scribe) begins(symbol int) float64 {
	const capitals = 0.4
	first, n := capitals, s.begun[0]+s.begun[1]
	k := 0
	if symbol >= 'a' {
		first, k = 1-capitals, 1
	}
	return (s.begun[k] + first) / (n + 1)
}

// means is the code of ASCII that a symbol stands for, and code the symbol that stands for one.
func (s *scribe) means(symbol int) int {
	if s.font == nil || symbol < 0 || symbol > 255 {
		return symbol
	}
	return s.font.means[symbol]
}

func (s *scribe) code(ascii int) int {
	if s.font == nil {
		return ascii
	}
	return s.font.stands[ascii]
}

// p is the probability of a symbol as the next.
func (s *scribe) p(symbol int) float64 {
	var each [readers]float64
	s.each(symbol, &each)
	sum := 0.0
	for i, w := range s.weight {
		sum += w * each[i]
	}
	return sum
}

// write takes a symbol as the next.
func (s *scribe) write(symbol int) {
	s.each(symbol, &s.last)
	sum := 0.0
	for i := range s.weight {
		s.weight[i] *= s.last[i]
		sum += s.weight[i]
	}
	for i := range s.weight {
		s.weight[i] = (1-switching)*s.weight[i]/sum + switching*firstWeight(i)
	}
	if means := s.means(symbol); s.left(1) == s.space && isLetter(means) {
		if means < 'a' {
			s.begun[0]++
		} else {
			s.begun[1]++
		}
	}
	one, two, above := s.keys()
	for i, k := range [3]uint64{one, two, above} {
		c := s.context[i][k]
		if c == nil {
			c = &counter{}
			s.context[i][k] = c
		}
		c.add(symbol)
	}
	if symbol == s.left(1) {
		s.again[0]++
	} else {
		s.again[1]++
	}
	for _, r := range s.rows {
		r.write(symbol, len(s.shown), symbol == s.space)
	}
	if symbol < 256 && symbol != s.space {
		s.drawn[symbol/blockLength]++
	}
	s.learn(symbol)
	s.zero.add(symbol)
	s.shown = append(s.shown, symbol)
}

// skip passes a cell of which nothing is known: a row of codes goes on there.
func (s *scribe) skip() {
	s.shown = append(s.shown, -1)
	for _, r := range s.rows {
		r.skip()
	}
}

// surprise is the log-likelihood of a cell whose probability was p. Screens repeat themselves in more ways than
// a scribe knows: what it half expected is no evidence of anything.
func surprise(p float64) float64 { return math.Min(0, math.Log(p)+expected) }

const expected = 0.7 // nats

// written gives each cell's log-likelihood, row by row; where options gives several symbols that would look as
// the cell does, any of them may have been written.
func written(symbols []int, columns int, font *glyphs, options func(i int) []int) []float64 {
	s := newScribe(columns, font)
	out := make([]float64, len(symbols))
	for i, symbol := range symbols {
		if symbol < 0 {
			s.skip()
			continue
		}
		if options == nil {
			out[i] = surprise(s.p(symbol))
			s.write(symbol)
			continue
		}
		sum, best, most := 0.0, symbol, -1.0
		for _, o := range options(i) {
			p := s.p(o)
			if sum += p; p > most {
				best, most = o, p
			}
		}
		out[i] = surprise(sum)
		s.write(best)
	}
	return out
}

// sumOf adds up the cells that are in; nil: all.
func sumOf(cells []float64, in func(i int) bool) float64 {
	sum := 0.0
	for i, v := range cells {
		if in == nil || in(i) {
			sum += v
		}
	}
	return sum
}
