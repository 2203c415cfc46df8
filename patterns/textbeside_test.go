package patterns

import (
	"math/rand/v2"
	"strings"
	"testing"

	"backporch/analyse"
)

// A fetch that fails leaves the byte of the one before in the latch: every second cell shows its left neighbour, whichever of each two
// columns it is.
func TestFailedFetches(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(5, 1)))
	good, p := typed(t, codes, white)
	for _, columns := range []string{"odd", "even"} {
		seen := make([]int, len(codes))
		for i := range seen {
			if seen[i] = codes[i]; i%40%2 == 1 == (columns == "odd") && i%40 > 0 {
				seen[i] = codes[i-1]
			}
		}
		s, _ := typed(t, seen, white)
		v := Classify(s, p, Options{Reference: good})
		if v.Class != VideoLogic || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != columns {
			t.Errorf("%s: said %s, %v, %v", columns, v.Class, v.Why, v.Faults)
		}
		if v = Classify(s, p, Options{}); v.Class != VideoLogic || v.Faults[0].Kind != "cell-fetch" {
			t.Errorf("%s, no reference: said %s, %v, %v", columns, v.Class, v.Why, v.Faults)
		}
	}
}

// Letters as wide as their cells, of a font that is not known.
var wideLetters = map[byte]string{
	'L': "#....... #....... #....... #....... #....... #....... #######. ........",
	'O': ".#####.. #.....#. #.....#. #.....#. #.....#. #....##. .####... ........",
	'A': "...#.... .##.##.. #.....#. #.....#. #######. #.....#. #.....#. ........",
	'D': "#####... #....##. #.....#. #.....#. #.....#. #.....#. ######.. ........",
	'E': "#######. #....... #....... #####... #....... #....... #######. ........",
	'T': "#######. ...#.... ...#.... ...#.... ...#.... ...#.... ...#.... ........",
	'2': ".####... #....##. ......#. ....##.. ...#.... .##..... #######. ........",
	' ': "........ ........ ........ ........ ........ ........ ........ ........",
}

// drawnAs gives a screen's cells the pixels of drawings.
func drawnAs(s *analyse.Survey, at int, words string, drawings map[byte]string) {
	for k := range len(words) {
		c := &s.Cells[at+k]
		c.Single, c.Ink = words[k] == ' ', 13
		c.Bits = pixels(drawings[words[k]])
	}
}

func pixels(drawing string) (rows [8]uint8) {
	for y, line := range strings.Fields(drawing) {
		for x := range 8 {
			if line[x] == '#' {
				rows[y] |= 0x80 >> x
			}
		}
	}
	return rows
}

// A notch leaves every second pixel of long strokes out. Two letters that it spoils so are no pixel column that fails in all of them.
func TestBrokenStrokesAreNoColumn(t *testing.T) {
	blank := make([]int, 1000)
	for i := range blank {
		blank[i] = ' '
	}
	good, p := typed(t, blank, white)
	s, _ := typed(t, blank, white)
	words := "LOAD LET A2 EDDA"
	drawnAs(good, 604, words, wideLetters)
	drawnAs(s, 604, words, wideLetters)
	for _, i := range []int{604, 609} {
		s.Cells[i].Bits[6] = 0xaa
	}
	good.Cells[604].Bits[6] = 0xfc
	s.Cells[610].Bits[0], s.Cells[614].Bits[6] = 0xff, 0xff
	if v := Classify(s, p, Options{Reference: good}); v.Class == VideoLogic || v.Class == RAMBit {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}

// Where the colours themselves speak against a luma that is held, and border and background are what they should be, inks that were
// misread as two others are no held luma: of that, no character would be left but its colour.
func TestMisreadInksAreNoHeldLuma(t *testing.T) {
	codes := page1(rand.New(rand.NewPCG(5, 3)))
	good, p := typed(t, codes, func(int) int { return 5 })
	s, _ := typed(t, codes, func(i int) int {
		switch {
		case i%29 == 0:
			return 5
		case i%7 == 0:
			return 2
		}
		return 11
	})
	for i := range codes {
		good.Cells[i].Paper, s.Cells[i].Paper = 3, 3
	}
	s.Levels.Components = []analyse.Component{{Name: "luma", Level: 1, Gain: -12}}
	if v := Classify(s, p, Options{Reference: good}); v.Class == VideoLogic {
		t.Errorf("said %s, %v, %v", v.Class, v.Why, v.Faults)
	}
}
