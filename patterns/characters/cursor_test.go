package characters_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters/screentest"
	"backporch/patterns/judge"
	"backporch/video/display"
)

func written1(lines ...string) []int {
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = ' '
	}
	for row, line := range lines {
		for column, c := range []byte(line) {
			codes[row*40+column] = int(c)
		}
	}
	return codes
}

// A cursor that one capture shows and the other does not is no fault, be it below the last line or right behind it; the same block amid the text is one.
func TestCursorInEitherPhase(t *testing.T) {
	text := []string{"BENCH SYSTEM V2.1", "", "20480 BYTES LEFT", "", "BEGIN"}
	block := func(at int) []int {
		codes := written1(text...)
		codes[at] |= 0x80 // the font's upper half is the lower one inverted
		return codes
	}
	for _, c := range []struct {
		name  string
		at    int
		clean bool
	}{
		{"below", 5 * 40, true},
		{"behind", 4*40 + 5, true},
		{"amid the text", 2*40 + 5, false},
	} {
		good, p := screentest.Typed(t, block(c.at), screentest.White)
		mirrored(good, block(c.at), screentest.White)
		s, _ := screentest.Typed(t, written1(text...), screentest.White)
		mirrored(s, written1(text...), screentest.White)
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if (v.Class == patterns.Clean) != c.clean {
			t.Errorf("%s: said %s, %v", c.name, v.Class, v.Faults)
		}
	}
}

// So it is with a bar that is drawn below where the next character will stand, though a lane would make a blank of it as well; amid the text it is a character that is lost.
func TestCursorThatIsABar(t *testing.T) {
	text := []string{"BENCH SYSTEM V2.1", "", "20480 BYTES LEFT", "", "BEGIN"}
	draw := func(codes []int) (*analyse.Survey, *display.Profile) {
		s, p := screentest.Typed(t, codes, screentest.White)
		bar := [8]uint8{0, 0, 0, 0, 0, 0, 0, 0xff}
		s.Text.Glyphs[0xa0] = bar // the lane's other character of the space is a bar
		for i, code := range codes {
			if code == 0xa0 {
				c := &s.Cells[i]
				c.Bits, c.Single, c.Ink = bar, false, 3
			}
		}
		return s, p
	}
	for _, c := range []struct {
		name  string
		at    int
		clean bool
	}{{"below", 5 * 40, true}, {"behind", 4*40 + 5, true}, {"amid the text", 2*40 + 5, false}} {
		codes := written1(text...)
		codes[c.at] = 0xa0
		good, p := draw(codes)
		s, _ := draw(written1(text...))
		v := judge.Classify(s, p, judge.Options{Reference: good})
		if (v.Class == patterns.Clean) != c.clean {
			t.Errorf("%s: said %s, %v", c.name, v.Class, v.Faults)
		}
	}
}

// A screen of which every second column shows nothing, wherever words stand, is one whose fetches fail there; a headline that is set wide is not.
func TestFetchesOfBlanks(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 3))
	whole := screentest.Page(rng)
	half := append([]int(nil), whole...)
	for i := range half {
		if i%40&1 == 1 {
			half[i] = ' '
		}
	}
	s, p := screentest.Typed(t, half, screentest.White)
	v := judge.Classify(s, p, judge.Options{})
	if len(v.Faults) == 0 || v.Faults[0].Kind != "cell-fetch" || v.Faults[0].Columns != "odd" {
		t.Errorf("said %s, %v, %v", v.Class, v.Faults, v.Why)
	}
	s, p = screentest.Typed(t, written1(strings.Join(strings.Split("BENCH TEST PAGE", ""), " "), "", "1 MEMORY", "2 COLOURS", "3 SOUND AND KEYS", "4 LINES AND DOTS"), screentest.White)
	if v = judge.Classify(s, p, judge.Options{}); v.Class != patterns.Clean && v.Class != patterns.Undetermined {
		t.Errorf("a wide headline: said %s, %v", v.Class, v.Faults)
	}
}
