package patterns

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"backporch/analyse"
)

// strange gives a survey's cells the glyphs of a font that is not at hand.
func strange(s *analyse.Survey, codes []int) {
	rng := rand.New(rand.NewPCG(8, 8))
	var other [256][8]uint8
	for c := range other {
		for y := range 8 {
			other[c][y] = uint8(rng.Uint32())
		}
	}
	other[' '] = [8]uint8{}
	for i, code := range codes {
		c := &s.Cells[i]
		c.Bits, c.Single, c.Ink = other[code], code == ' ', 3
		if c.Single {
			c.Ink = -1
		}
	}
}

// Without the machine's font and a reference no bit can be named: an answer is less sure, and says what was not judged.
// Where the space itself shows as a character, the screen is not called clean.
func TestUnknownFont(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	s, p := typed(t, codes, white)
	strange(s, codes)
	v := Classify(s, p, Options{})
	if v.Class != Clean || *v.Confidence > 0.85 || !strings.Contains(strings.Join(v.Why, " "), "--font") {
		t.Errorf("said %s, %v", v.Class, v.Why)
	}
	for i := range codes {
		codes[i] |= 1 << 2
	}
	strange(s, codes)
	if v := Classify(s, p, Options{}); v.Class == Clean {
		t.Errorf("spaces show as a character: said %s, %v", v.Class, v.Why)
	}
}

// Beside a reference a stuck lane shows by what becomes of each character, whatever the font. Characters that are exchanged
// at random, cell by cell, are no lane's doing.
func TestUnknownFontBesideReference(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	good, p := typed(t, codes, white)
	strange(good, codes)
	for _, bit := range []int{0, 3, 6} {
		for level := range 2 {
			seen := make([]int, len(codes))
			for i := range seen {
				seen[i] = force(codes[i], bit, level)
			}
			s, _ := typed(t, codes, white)
			strange(s, seen)
			v := Classify(s, p, Options{Reference: good})
			if v.Class != RAMBit || v.Faults[0].Kind != "data-bit-stuck" || v.Faults[0].Memory != "screen" {
				t.Errorf("bit %d at %d: said %s, %v, %v", bit, level, v.Class, v.Why, v.Faults)
			}
		}
	}
	rng := rand.New(rand.NewPCG(6, 1))
	seen := make([]int, len(codes))
	for i := range seen {
		if seen[i] = codes[i]; rng.IntN(3) == 0 {
			seen[i] = codes[rng.IntN(len(codes))]
		}
	}
	s, _ := typed(t, codes, white)
	strange(s, seen)
	if v := Classify(s, p, Options{Reference: good}); v.Class == RAMBit && strings.HasPrefix(v.Faults[0].Kind, "data-bit") {
		t.Errorf("exchanged at random: said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Colours that turn in step with the subcarrier, each cell's to another one, are the decoder's; those that change in one bit are a lane's.
func TestColoursThatTurn(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	for _, lane := range []bool{false, true} {
		s, p := typed(t, codes, white)
		s.Text.Changes = []analyse.Change{}
		for i := range s.Cells {
			if s.Cells[i].Single || i%3 > 0 {
				continue
			}
			c := analyse.Change{At: i, Other: s.Cells[i], Code: codes[i], Pictures: 2, Of: 80}
			if c.Other.Ink = [3]int{1, 12, 15}[i%13%3]; lane {
				c.Other.Ink = 3 ^ 8
			}
			for k := range 80 {
				if k*3%8 < 4 { // three eighths of a cycle a field
					c.In = append(c.In, k)
				}
			}
			c.Fields, c.Turns = len(c.In), 60
			s.Text.Changes = append(s.Text.Changes, c)
		}
		v := Classify(s, p, Options{})
		if lane && (v.Class != RAMBit || v.Faults[0].Kind != "data-bit-weak" || v.Faults[0].Memory != "colour" || *v.Faults[0].Bit != 3) {
			t.Errorf("a lane: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
		if !lane && v.Class != Clean {
			t.Errorf("in step: said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
}

// A column or row of a chip that is dead is seen beside a reference without the font: most of what differs lies there, and each character shows as
// one other.
func TestDeadLineWithoutTheFont(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	good, p := typed(t, codes, white)
	strange(good, codes)
	for _, c := range []struct {
		kind       string
		bit, level int
		in         func(i int) bool
		at         int
	}{
		{"column-dead", 4, 1, func(i int) bool { return i>>p.RowBits == 2 }, 2},
		{"column-dead", 0, 0, func(i int) bool { return i>>p.RowBits == 5 }, 5},
		{"row-dead", 6, 0, func(i int) bool { return i&(1<<p.RowBits-1) == 9 }, 9},
	} {
		seen := slices.Clone(codes)
		for i := range seen {
			if c.in(i) {
				seen[i] = force(codes[i], c.bit, c.level)
			}
		}
		s, _ := typed(t, codes, white)
		strange(s, seen)
		v := Classify(s, p, Options{Reference: good})
		if v.Class != RAMBit || v.Faults[0].Kind != c.kind {
			t.Errorf("%s %d: said %s, %v, %v", c.kind, c.at, v.Class, v.Why, v.Faults)
			continue
		}
		if f := v.Faults[0]; c.kind == "column-dead" && *f.Column != c.at || c.kind == "row-dead" && *f.Row != c.at {
			t.Errorf("%s %d: said %+v", c.kind, c.at, f)
		}
	}
}

// Glyphs of which a decoder spoils a few pixels, here and there, are the reference's; what a generator's bit spoils, which is one column of all of
// them, what is nearer to another character, and what is another altogether, are not.
func TestSettle(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	good, p := typed(t, codes, white)
	strange(good, codes)
	rng := rand.New(rand.NewPCG(3, 7))
	spoil := func(c *analyse.Cell, n int, at func() int) {
		for range n {
			k := at()
			c.Bits[k/8] ^= 1 << (k % 8)
		}
	}
	for _, c := range []struct {
		name    string
		spoil   func(i int, c *analyse.Cell)
		settled bool
	}{
		{"eight pixels of every third", func(i int, c *analyse.Cell) {
			if i%3 == 0 {
				spoil(c, 8, func() int { return rng.IntN(64) })
			}
		}, true},
		{"one column of every third", func(i int, c *analyse.Cell) {
			if i%3 == 0 {
				for y := range c.Bits {
					c.Bits[y] ^= 1 << 5
				}
			}
		}, false},
		{"one column's pixels set", func(i int, c *analyse.Cell) {
			for y := range c.Bits {
				c.Bits[y] |= 0x10
			}
		}, false},
		{"more than a decoder does", func(i int, c *analyse.Cell) {
			spoil(c, 10, func() int { return rng.IntN(64) })
		}, false},
		{"other characters, and some pixels", func(i int, c *analyse.Cell) {
			if i%3 > 0 {
				c.Bits = good.Cells[(i+7)%len(codes)].Bits
			} else if i%6 == 0 {
				spoil(c, 8, func() int { return rng.IntN(64) })
			}
		}, false},
		{"other characters", func(i int, c *analyse.Cell) {
			c.Bits = good.Cells[(i+7)%len(codes)].Bits
		}, false},
	} {
		s, _ := typed(t, codes, white)
		strange(s, codes)
		for i := range s.Cells {
			if cell := &s.Cells[i]; !cell.Single {
				c.spoil(i, cell)
			}
		}
		f := &forms{}
		want, seen := pageOf(good, p, f), pageOf(s, p, f)
		before, after, of := 0, 0, 0
		count := func() (n int) {
			for i, w := range want.shape {
				if !want.blank[i] && !seen.blank[i] && w >= 0 && seen.shape[i] != w {
					n++
				}
			}
			return n
		}
		before = count()
		seen.settle(want)
		after, of = count(), len(want.shape)
		if before < of/10 || c.settled && after > before/50 || !c.settled && after != before {
			t.Errorf("%s: %d of %d differ, %d then", c.name, before, of, after)
		}
	}
}

// A glyph between two characters is neither's.
func TestSettleBetweenTwo(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(4, 2)))
	draw := func(spoilt bool) *analyse.Survey {
		s, _ := typed(t, codes, white)
		strange(s, codes)
		for i := range s.Cells {
			c := &s.Cells[i]
			switch {
			case i%40 == 3: // one character,
				c.Bits, c.Single, c.Ink = [8]uint8{0x3c, 0x42, 0x42, 0x3c}, false, 3
			case i%40 == 7: // and one eight pixels apart
				c.Bits, c.Single, c.Ink = [8]uint8{0x3c, 0x42, 0x42, 0x3c, 0x3c, 0x42, 0, 0x81}, false, 3
			}
			if i%40 == 3 && spoilt {
				c.Bits[4] = 0x3c
			}
		}
		return s
	}
	good, seen := draw(false), draw(true)
	_, p := typed(t, codes, white)
	f := &forms{}
	want, page := pageOf(good, p, f), pageOf(seen, p, f)
	was := slices.Clone(page.shape)
	if was[3] == want.shape[3] {
		t.Fatal("the glyph is read as the character anyhow")
	}
	page.settle(want)
	for i := 3; i < len(was); i += 40 {
		if page.shape[i] != was[i] {
			t.Fatalf("cell %d, between two characters, was taken for one", i)
		}
	}
}

// A lane that makes a small mark of the space shows it all over the screen: a path that leaves a mark in some of the blanks, or a bar in all, does not.
func TestSpacesThatShowAMark(t *testing.T) {
	codes := program(12)
	mark := [8]uint8{0x40, 0x30, 0, 0, 0, 0, 0, 0}
	bar := [8]uint8{0x40, 0x40, 0x40, 0x40, 0x40, 0x40, 0x40, 0x40}
	for _, c := range []struct {
		name  string
		each  int
		shows [8]uint8
		want  bool
	}{{"all", 1, mark, true}, {"every third", 3, mark, false}, {"a bar in all", 1, bar, false}} {
		good, p := typed(t, codes, white)
		strange(good, codes)
		s, _ := typed(t, codes, white)
		strange(s, codes)
		for i := range s.Cells {
			if s.Cells[i].Single && i%c.each == 0 {
				s.Cells[i].Single, s.Cells[i].Ink, s.Cells[i].Bits = false, 3, c.shows
			}
		}
		f := &forms{}
		b := textCells{seen: pageBeside(s, good, p, f), want: pageOf(good, p, f)}
		if got := b.filler(); (got >= 0) != c.want {
			t.Errorf("%s: filled by %d", c.name, got)
		}
	}
}

// Of inks that differ a lane of the colour memory must explain most, and many beside the inks that were not read.
func TestFewInksAreNoLane(t *testing.T) {
	codes := program(20)
	s, p := typed(t, codes, white)
	for i := range 30 {
		s.Cells[i].Sure = 0 // not read
	}
	f := &forms{}
	b := textCells{seen: pageOf(s, p, f)}
	unread := b.seen.blurred()
	if unread == 0 {
		t.Fatal("all inks were read")
	}
	for _, c := range []struct {
		explained, odd int
		few            bool
	}{{2, 2, true}, {40, 40, false}, {40, 59, false}, {40, 60, true}, {3, 3, float64(3) < fewInk/2*float64(unread)}} {
		if got := b.fewInks(c.explained, c.odd); got != c.few {
			t.Errorf("%d of %d: few %v", c.explained, c.odd, got)
		}
	}
}

// Some letters are near to those that a lane makes of them, and most are plainly others: that is no blur.
func TestFewLikeLettersAreNoBlur(t *testing.T) {
	became := func(pairs [][2]string) (textCells, characterMap) {
		f := &forms{}
		m := characterMap{}
		page := &page{forms: f}
		for _, pair := range pairs {
			var shapes [2]int
			for k, c := range pair {
				f.rows = append(f.rows, 0)
				for _, b := range pixels(wideLetters[c[0]]) {
					f.rows[len(f.rows)-1] = f.rows[len(f.rows)-1]<<8 | uint64(b)
				}
				shapes[k] = 255 + len(f.rows)
			}
			page.shape = append(page.shape, shapes[0])
			m.became = append(m.became, shapes)
		}
		return textCells{seen: page, want: page}, m
	}
	for _, c := range []struct {
		name  string
		pairs [][2]string
		blur  bool
	}{
		{"all themselves", [][2]string{{"O", "O"}, {"D", "D"}, {"L", "L"}, {"A", "A"}}, true},
		{"one of four", [][2]string{{"O", "O"}, {"D", "T"}, {"L", "2"}, {"T", "A"}}, false},
	} {
		cells, m := became(c.pairs)
		for k, pair := range m.became { // a pixel of each is wrong
			cells.seen.forms.rows[pair[1]-256] ^= 1 << (8*k + 6)
		}
		if cells.blurred(m) != c.blur {
			t.Errorf("%s: blurred is %v", c.name, !c.blur)
		}
	}
}

// What a path leaves nothing of, or takes for a colour, is fine patterns; letters are none.
func TestPatternsThatPathsLose(t *testing.T) {
	const checks, wide, stripes = 0xaa55aa55aa55aa55, 0xcccc3333cccc3333, 0xf0f0f0f0f0f0f0f0
	letter := uint64(0)
	for _, b := range pixels(wideLetters['A']) {
		letter = letter<<8 | uint64(b)
	}
	for _, c := range []struct {
		rows         uint64
		fine, chroma bool
	}{{checks, true, true}, {wide, true, false}, {stripes, false, false}, {letter, false, false}, {0, false, false}} {
		if got := fineTexture(c.rows); got != c.fine {
			t.Errorf("%016x: a fine texture is %v", c.rows, got)
		}
		for _, even := range []uint64{0, math.MaxUint64} {
			if got := takenForChroma(c.rows, even); got != c.chroma || got != takenForChroma(even, c.rows) {
				t.Errorf("%016x and %016x: taken for chroma is %v", c.rows, even, got)
			}
		}
	}
}
