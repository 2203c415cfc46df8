package characters

// An inTurn follows rows of codes in one order, as tests of a display and charts of its characters have them: one after the other, or each at
// its place past what is blank.
type inTurn struct {
	place   *[256]int     // by symbol: its place in the order; nil: its code
	at      *[256]int     // by place: the symbol; nil: that code
	run     int           // the place of the cell to the left, as one of a row; -1 none
	inOrder int           // cells of that row so far
	missed  int           // cells since then that were others
	went    [2][2]float64 // times that a cell was the next after its left neighbour, or was not; then the same within a row of codes
	ramp    [2]float64    // times that a cell with something in it went on with a row past what is blank, or did not
	offset  int           // place in the order less place on the screen of the last such cell; -1 none
}

// A row of so many codes goes on past so many cells that are others. Common practice, no source.
const surelyOrder, mostMissed = 4, 2

// rowsOfCodes are the orders that a screen may count in: that of the font's codes and, where it is another, that of the letters that they
// stand for.
func rowsOfCodes(font *glyphs) []*inTurn {
	order := func(place, at *[256]int) *inTurn {
		return &inTurn{place: place, at: at, run: -1, offset: -1, went: [2][2]float64{{0.5, 5}, {4, 1}}, ramp: [2]float64{0.5, 5}}
	}
	if font == nil {
		return []*inTurn{order(nil, nil)}
	}
	out := []*inTurn{order(nil, &font.first)}
	for code, means := range font.means {
		if means != code {
			at := &[256]int{}
			for ascii, code := range font.stands {
				at[ascii] = font.first[code]
			}
			return append(out, order(&font.means, at))
		}
	}
	return out
}

func (r *inTurn) placeOf(symbol int) int {
	if r.place == nil {
		return symbol
	}
	return r.place[symbol]
}

// shows is the symbol at a place; -1 where the place is none.
func (r *inTurn) shows(place int) int {
	switch {
	case place < 0:
		return -1
	case r.at == nil:
		return place & 255
	}
	return r.at[place&255]
}

// follower is the symbol after that of the cell to the left; -1 when that is none.
func (r *inTurn) follower() int {
	if r.run < 0 {
		return -1
	}
	return r.shows(r.run + 1)
}

// onRamp is the symbol as far from that of the last cell with something in it as the two cells are apart; -1 when that is none.
func (r *inTurn) onRamp(cell int) int {
	if r.offset < 0 {
		return -1
	}
	return r.shows(r.offset + cell)
}

// within counts what goes on where a row is under way, or is none: on most screens few cells are in any, but those that are go on.
func (r *inTurn) within() *[2]float64 {
	if r.inOrder >= surelyOrder {
		return &r.went[1]
	}
	return &r.went[0]
}

// next is how probable a symbol is after the cell to the left.
func (r *inTurn) next(symbol int, p0 float64) float64 {
	went := r.within()
	goesOn := went[0] / (went[0] + went[1])
	p := (1 - goesOn) * p0
	if symbol == r.follower() {
		p += goesOn
	}
	return p
}

// withHoles is the same of what is not blank, where that stands at its place in a row with holes; written is how probable it is that a cell
// is not blank.
func (r *inTurn) withHoles(symbol, cell int, p0, written float64) float64 {
	goesOn := r.ramp[0] / (r.ramp[0] + r.ramp[1])
	p := (1 - goesOn) * p0
	if symbol == r.onRamp(cell) {
		p += goesOn * written
	}
	return p
}

// write takes a symbol as the next cell's.
func (r *inTurn) write(symbol, cell int, blank bool) {
	went := r.within()
	switch {
	case r.run >= 0 && symbol == r.follower():
		went[0]++
		r.run = (r.run + 1) & 255
		r.inOrder, r.missed = r.inOrder+1, 0
	case r.inOrder >= surelyOrder && r.missed < mostMissed: // misread, or another in its place
		went[1]++
		r.run = (r.run + 1) & 255
		r.missed++
	case symbol < 256:
		went[1]++
		r.run, r.inOrder, r.missed = r.placeOf(symbol), 0, 0
	default:
		r.run, r.inOrder, r.missed = -1, 0, 0
	}
	if symbol < 256 && !blank {
		if symbol == r.onRamp(cell) {
			r.ramp[0]++
		} else {
			r.ramp[1]++
			r.offset = (r.placeOf(symbol) - cell) & 255
		}
	}
}

// skip passes a cell of which nothing is known: a row goes on there.
func (r *inTurn) skip() {
	if r.run >= 0 {
		r.run = (r.run + 1) & 255
	}
}
