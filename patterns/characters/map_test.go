package characters

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"backporch/analyse"
	"backporch/patterns/characters/screentest"
)

// Glyphs of which a decoder spoils a few pixels, here and there, are the reference's; what a generator's bit spoils, which is one column of all of
// them, what is nearer to another character, and what is another altogether, are not.
func TestSettle(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	good, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(good, codes)
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
		s, _ := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
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
		seen.settle(want, 0)
		after, of = count(), len(want.shape)
		if before < of/10 || c.settled && after > before/50 || !c.settled && after != before {
			t.Errorf("%s: %d of %d differ, %d then", c.name, before, of, after)
		}
	}
}

// A glyph between two characters is neither's.
func TestSettleBetweenTwo(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(4, 2)))
	draw := func(spoilt bool) *analyse.Survey {
		s, _ := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
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
	_, p := screentest.Typed(t, codes, screentest.White)
	f := &forms{}
	want, page := pageOf(good, p, f), pageOf(seen, p, f)
	was := slices.Clone(page.shape)
	if was[3] == want.shape[3] {
		t.Fatal("the glyph is read as the character anyhow")
	}
	page.settle(want, 0)
	for i := 3; i < len(was); i += 40 {
		if page.shape[i] != was[i] {
			t.Fatalf("cell %d, between two characters, was taken for one", i)
		}
	}
}

// A lane that makes a small mark of the space shows it all over the screen: a path that leaves a mark in some of the blanks, or a bar in all, does not.
func TestSpacesThatShowAMark(t *testing.T) {
	codes := screentest.Program(12)
	mark := [8]uint8{0x40, 0x30, 0, 0, 0, 0, 0, 0}
	bar := [8]uint8{0x40, 0x40, 0x40, 0x40, 0x40, 0x40, 0x40, 0x40}
	for _, c := range []struct {
		name  string
		each  int
		shows [8]uint8
		want  bool
	}{{"all", 1, mark, true}, {"every third", 3, mark, false}, {"a bar in all", 1, bar, false}} {
		good, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(good, codes)
		s, _ := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		for i := range s.Cells {
			if s.Cells[i].Single && i%c.each == 0 {
				s.Cells[i].Single, s.Cells[i].Ink, s.Cells[i].Bits = false, 3, c.shows
			}
		}
		f := &forms{}
		b := textCells{seen: pageBeside(s, good, p, f), want: pageOf(good, p, f)}
		if got := b.filler(nil); (got >= 0) != c.want {
			t.Errorf("%s: filled by %d", c.name, got)
		}
	}
}

// Of inks that differ a lane of the colour memory must explain most, and many beside the inks that were not read.
func TestFewInksAreNoLane(t *testing.T) {
	codes := screentest.Program(20)
	s, p := screentest.Typed(t, codes, screentest.White)
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
				for _, b := range screentest.Pixels(screentest.WideLetters[c[0]]) {
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
	for _, b := range screentest.Pixels(screentest.WideLetters['A']) {
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
