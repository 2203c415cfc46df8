package characters_test

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
	"backporch/video/display"
)

// A fetch that fails leaves the byte of the one before in the latch: every second cell shows its left neighbour, whichever of each two
// columns it is.
func TestFailedFetches(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(5, 1)))
	good, p := screentest.Typed(t, codes, screentest.White)
	for _, columns := range []string{"odd", "even"} {
		seen := make([]int, len(codes))
		for i := range seen {
			if seen[i] = codes[i]; i%40%2 == 1 == (columns == "odd") && i%40 > 0 {
				seen[i] = codes[i-1]
			}
		}
		s, _ := screentest.Typed(t, seen, screentest.White)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if v.Class != patterns.VideoLogic || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != columns {
			t.Errorf("%s: said %s, %v, %v", columns, v.Class, v.Why, v.Faults)
		}
		if v = judge.Classify(s, p, judge.Options{}); v.Class != patterns.VideoLogic || v.Faults[0].Kind != "cell-fetch" {
			t.Errorf("%s, no reference: said %s, %v, %v", columns, v.Class, v.Why, v.Faults)
		}
	}
}

// drawnAs gives a screen's cells the pixels of drawings.
func drawnAs(s *analyse.Survey, at int, words string, drawings map[byte]string) {
	for k := range len(words) {
		c := &s.Cells[at+k]
		c.Single, c.Ink = words[k] == ' ', 13
		c.Bits = screentest.Pixels(drawings[words[k]])
	}
}

// A notch leaves every second pixel of long strokes out. Two letters that it spoils so are no pixel column that fails in all of them.
func TestBrokenStrokesAreNoColumn(t *testing.T) {
	blank := make([]int, 1000)
	for i := range blank {
		blank[i] = ' '
	}
	good, p := screentest.Typed(t, blank, screentest.White)
	s, _ := screentest.Typed(t, blank, screentest.White)
	words := "LOAD LET A2 EDDA"
	drawnAs(good, 604, words, screentest.WideLetters)
	drawnAs(s, 604, words, screentest.WideLetters)
	for _, i := range []int{604, 609} {
		s.Cells[i].Bits[6] = 0xaa
	}
	good.Cells[604].Bits[6] = 0xfc
	s.Cells[610].Bits[0], s.Cells[614].Bits[6] = 0xff, 0xff
	if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.VideoLogic || v.Class == patterns.RAMBit {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Where the colours themselves speak against a luma that is held, and border and background are what they should be, inks that were
// misread, two as one other or one as two others, are no held luma: of that, no character would be left but its colour.
func TestMisreadInksAreNoHeldLuma(t *testing.T) {
	two := func(i int) int { return []int{2, 11}[i/7%2] }
	for _, c := range []struct {
		name       string
		good, seen func(i int) int
		paper      int // -1: as typed
	}{
		{"two as one", two, func(i int) int {
			if i%5 == 0 {
				return two(i)
			}
			return 5
		}, -1},
		{"one as two", func(int) int { return 5 }, func(i int) int {
			switch {
			case i%29 == 0:
				return 5
			case i%7 == 0:
				return 2
			}
			return 11
		}, 3},
	} {
		codes := screentest.Page(rand.New(rand.NewPCG(5, 3)))
		good, p := screentest.Typed(t, codes, c.good)
		s, _ := screentest.Typed(t, codes, c.seen)
		for i := range codes {
			if c.paper >= 0 {
				good.Cells[i].Paper, s.Cells[i].Paper = c.paper, c.paper
			}
		}
		s.Levels.Components = []analyse.Component{{Name: "luma", Level: 1, Gain: -12}}
		if v := judge.Classify(s, p, judge.Options{Reference: good}); v.Class == patterns.VideoLogic {
			t.Errorf("%s: said %s, %v, %v", c.name, v.Class, v.Why, v.Faults)
		}
	}
}

// empty is a screen whose cells all show one colour.
func empty(t *testing.T, colour, border int) (*analyse.Survey, *display.Profile) {
	s, p := screentest.Typed(t, make([]int, 1000), func(int) int { return 8 })
	for i := range s.Cells {
		s.Cells[i].Paper = colour
	}
	s.Border.Colour = border
	s.Registration.Edges = 2 * p.Height
	return s, p
}

// deadOdds is the probability of a blank picture.
func deadOdds(v *patterns.Verdict) float64 {
	for _, f := range v.Faults {
		if f.Kind == "blank-picture" {
			return f.Probability
		}
	}
	return 0
}

// A screen filled with one character that reads as one colour is no dead picture, which is black or as the border: the last column, which
// the border runs through, is no writing that would have to be explained.
func TestFilledScreenIsNotDead(t *testing.T) {
	s, p := empty(t, 10, 1)
	for i := 39; i < 1000; i += 40 {
		s.Cells[i].Single, s.Cells[i].Ink, s.Cells[i].Bits = false, 1, [8]uint8{3, 1, 3, 3, 1, 1, 3, 3}
		if i%3 == 0 {
			s.Cells[i].Bits = [8]uint8{7, 0x47, 3, 0x23, 1, 0x91, 3, 0x13}
		}
	}
	if v := judge.Classify(s, p, judge.Options{}); v.Class != patterns.Undetermined && v.Class != patterns.Clean || deadOdds(v) > 0.5 {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// A dead picture leaves the border as the good machine has it, and has no edges but its contour's.
func TestDeadPictureKeepsItsBorder(t *testing.T) {
	good, p := screentest.Typed(t, screentest.Page(rand.New(rand.NewPCG(5, 4))), screentest.White)
	for _, c := range []struct {
		border, edges int
		dead          bool
	}{{good.Border.Colour, 2 * p.Height, true}, {0, 9000, false}} {
		s, _ := empty(t, 0, c.border)
		s.Registration.Edges = c.edges
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if said := v.Class == patterns.VideoLogic && deadOdds(v) > 0.5; said != c.dead {
			t.Errorf("%+v: said %s, %v, %v", c, v.Class, v.Why, v.Faults)
		}
	}
}

// A lane that comes and goes takes each character for one other and that for it, wherever they stand; so one tells it from most lanes
// failing without knowing the font. What is drawn anew in two ways pairs nothing.
func TestLaneThatTakesTurnsInAStrangeFont(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(5, 6)))
	for _, c := range []struct {
		now  func(i int) int
		step int // of the cells that change
		lane bool
	}{
		{func(i int) int { return codes[i] ^ 64 }, 1, true},
		{func(i int) int { return codes[i] ^ 64 }, 2, false}, // in every second column alone
		{func(i int) int { return 33 + (codes[i]*7+i*31)%90 }, 1, false},
	} {
		s, p := screentest.Typed(t, codes, screentest.White)
		now, _ := screentest.Typed(t, codes, screentest.White)
		turned := make([]int, len(codes))
		for i := range codes {
			turned[i] = c.now(i)
		}
		screentest.Strange(s, codes)
		screentest.Strange(now, turned)
		for i := 0; i < len(codes); i += c.step {
			in := []int{1, 4, 5, 9, 12, 15, 16, 20}
			if i%2 == 0 { // read in two ways each, by the subcarrier's phase
				in = []int{1, 5, 9, 15}
			}
			o := now.Cells[i]
			o.Sure = 20
			s.Text.Changes = append(s.Text.Changes, analyse.Change{
				At: i, Other: o, Code: -1, Pictures: 2 + i%2, Turns: 10, Fields: len(in), Of: 24, In: in,
			})
		}
		v := judge.Classify(s, p, judge.Options{})
		if lane := v.Class == patterns.RAMBit && v.Faults[0].Kind == "data-bit-weak"; lane != c.lane {
			t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
}

// Where many characters are misread, one that stands twice is misread twice: that is no generator that has lost it. One that is wrong
// where nothing else is has been lost.
func TestMisreadTwiceIsNotLost(t *testing.T) {
	for _, misread := range []int{0, 60} {
		rng := rand.New(rand.NewPCG(5, 7))
		codes := anyCodes(rng)
		good, p := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(good, codes)
		s, _ := screentest.Typed(t, codes, screentest.White)
		screentest.Strange(s, codes)
		stand := map[int]int{}
		for _, code := range codes {
			stand[code]++
		}
		spoil := func(rows [8]uint8) [8]uint8 {
			for y := range rows {
				rows[y] ^= uint8(rng.Uint32() & rng.Uint32())
			}
			return rows
		}
		lost := 0
		for code := 33; code < 256 && lost < 3; code++ {
			if stand[code] != 2 {
				continue
			}
			lost++
			for i, first := range codes {
				if first == code {
					rows := spoil(s.Cells[i].Bits)
					for i := range codes {
						if codes[i] != code {
							continue
						}
						s.Cells[i].Bits = rows
					}
					break
				}
			}
		}
		for range misread {
			c := &s.Cells[rng.IntN(1000)]
			c.Bits = spoil(c.Bits)
		}
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if said := len(v.Faults) > 0 && v.Faults[0].Kind == "character-generator"; lost < 3 || said != (misread == 0) {
			t.Errorf("%d misread: said %s, %v, %v", misread, v.Class, v.Why, v.Faults)
		}
	}
}

// All characters in order, in any colours: their codes follow their addresses as those of woken memory do, and a scribe who counts has it shorter;
// where one was not read, or misread, the row goes on behind it, so that nothing has slipped.
func TestOrderOfAKnownFontIsNotWoken(t *testing.T) {
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(5, 10+seed))
		codes := make([]int, 1000)
		for i := range codes {
			codes[i] = i & 255
		}
		s, p := screentest.Typed(t, codes, func(int) int { return rng.IntN(16) })
		unlike(s, codes)
		for range 60 {
			c := &s.Cells[rng.IntN(1000)]
			for y := range c.Bits {
				c.Bits[y] ^= uint8(rng.Uint32() & rng.Uint32())
			}
		}
		if v := judge.Classify(s, p, judge.Options{}); v.Class == patterns.CPUSide || v.Class == patterns.RAMBit {
			t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
		}
	}
}

// unlike gives a survey a known font of 256 different characters.
func unlike(s *analyse.Survey, codes []int) {
	rng := rand.New(rand.NewPCG(8, 9))
	for c := range s.Text.Glyphs {
		for y := range 8 {
			s.Text.Glyphs[c][y] = uint8(rng.Uint32())
		}
	}
	s.Text.Glyphs[' '] = [8]uint8{}
	for i, code := range codes {
		if c := &s.Cells[i]; !c.Single {
			c.Bits = s.Text.Glyphs[code]
		}
	}
}

// Snow beside some cells that a decoder shows in two ways, frame by frame, is snow.
func TestSnowBesideADecodersTurns(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	codes := screentest.Page(rng)
	s, p := screentest.Typed(t, codes, screentest.White)
	var at, code []int
	for k := range 66 {
		at, code = append(at, k*15+rng.IntN(15)), append(code, 33+rng.IntN(90))
	}
	flickering(s, at, code, func(k int) []int {
		if k%11 != 0 {
			return []int{rng.IntN(24)}
		}
		return []int{1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23}
	}, 2)
	v := judge.Classify(s, p, judge.Options{})
	if v.Class != patterns.VideoLogic || v.Faults[0].Kind != "cell-snow" {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
