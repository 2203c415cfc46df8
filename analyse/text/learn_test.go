package text

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video/display"
)

// screenOf makes cells as they would be read, a glyph a code, in a font of chance.
func screenOf(p *display.Profile, f display.Font, codes []int) []analyse.Cell {
	out := make([]analyse.Cell, len(codes))
	for i, code := range codes {
		out[i] = analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Paper: 8, Ink: 3, Sure: 20, Bits: f.Glyph(byte(max(code, 0)))}
		if out[i].Bits == [8]uint8{} {
			out[i].Single, out[i].Ink = true, -1
		}
	}
	return out
}

func fontOfChance(rng *rand.Rand) display.Font {
	f := display.Font{Glyphs: make([][8]byte, 256)}
	for code := 0x21; code < 0x7f; code++ {
		for y := 1; y < 8; y++ {
			f.Glyphs[code][y] = byte(rng.Uint32()) & 0x7e
		}
	}
	return f
}

// What was written with a font gives that font back, noise voted down, and what did not show is left as it was.
func TestLearnGivesTheFontBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	p := analysetest.Profile(t, "text-40x25-50")
	f := fontOfChance(rng)
	words := strings.Repeat("THE QUICK FOX 0123 jumps over; ", 40)
	codes, err := Codes(strings.Join([]string{words[:40], words[3:30], words[5:45], words[7:40], words[9:40]}, "\n"), p)
	if err != nil {
		t.Fatal(err)
	}
	cells := screenOf(p, f, codes)
	for range 30 { // pixels that were misread
		i := rng.IntN(200)
		if !cells[i].Single {
			cells[i].Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
		}
	}
	l, err := Learn(cells, p, codes, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	shown := map[int]int{}
	for _, g := range l.Glyphs {
		shown[g.Code] = g.Cells
		if g.Cells > 4 && l.Font.Glyphs[g.Code] != f.Glyphs[g.Code] {
			t.Errorf("%q of %d cells: %x, want %x", rune(g.Code), g.Cells, l.Font.Glyphs[g.Code], f.Glyphs[g.Code])
		}
	}
	if shown['T'] == 0 || shown['Z'] != 0 || l.Font.Glyphs['Z'] != [8]byte{} {
		t.Errorf("learned %v", shown)
	}
	base := fontOfChance(rng)
	if l, err = Learn(cells, p, codes, nil, &base); err != nil || l.Font.Glyphs['Z'] != base.Glyphs['Z'] || l.Font.Glyphs['T'] != f.Glyphs['T'] {
		t.Errorf("a base's glyph was not kept, or was: %v", err)
	}
}

// Of two places the one is taken at which cells of one code are alike.
func TestLearnFindsThePlace(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	p := analysetest.Profile(t, "text-40x25-60")
	f := fontOfChance(rng)
	codes, err := Codes("\n\nTHE QUICK FOX HIT THE LAZY FOX TWICE\nAND THEN IT SLEPT", p)
	if err != nil {
		t.Fatal(err)
	}
	shifted := append([]int{' '}, codes[:len(codes)-1]...) // a cell further right
	l, err := Learn(screenOf(p, f, shifted), p, codes, []analyse.Shift{{Probability: 0.6}, {Pixels: 8, Probability: 0.3}, {Pixels: 3, Probability: 0.1}}, nil)
	if err != nil || l.Place.Pixels != 8 || l.Font.Glyphs['Q'] != f.Glyphs['Q'] {
		t.Errorf("%+v, %v", l.Place, err)
	}
}

// A text that is not the screen's is refused.
func TestLearnRefusesAnotherText(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	p := analysetest.Profile(t, "text-40x25-50")
	codes, _ := Codes("ONE TEXT IS ON THE SCREEN\nAND MORE OF IT", p)
	other, _ := Codes("THIS IS ANOTHER TEXT, NOT IT\nSAYS QUITE ANOTHER THING", p)
	if _, err := Learn(screenOf(p, fontOfChance(rng), codes), p, other, nil, nil); !errors.Is(err, ErrOther) {
		t.Errorf("%v", err)
	}
	if _, err := Learn(nil, p, nil, nil, nil); err == nil {
		t.Error("no cells were enough")
	}
	if _, err := Learn(screenOf(p, fontOfChance(rng), codes), analysetest.Profile(t, "attr-256x192-50"), codes, nil, nil); err == nil {
		t.Error("a bitmap display has a font")
	}
}

func TestCodes(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	got, err := Codes("A\\x80\\\\\\?B\r\n", p)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []int{'A', 0x80, '\\', -1, 'B', ' '} {
		if got[i] != want {
			t.Errorf("cell %d: %d, want %d", i, got[i], want)
		}
	}
	if got[39] != ' ' || got[40] != -1 {
		t.Errorf("the end of the line %d, the next row %d", got[39], got[40])
	}
	for _, bad := range []string{strings.Repeat("x", 41), strings.Repeat("\n", 25) + "x", "\\q", "\\xG0", "\u00e4", "tab\t"} {
		if _, err := Codes(bad, p); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

func FuzzCodes(f *testing.F) {
	f.Add("READY.\n\\x80\\?\\\\")
	f.Add("\\x")
	p := analysetest.Profile(f, "text-40x25-50")
	f.Fuzz(func(t *testing.T, s string) {
		codes, err := Codes(s, p)
		if err == nil && len(codes) != 1000 {
			t.Errorf("%d codes", len(codes))
		}
	})
}
