package text

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/combin"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video/display"
)

// show puts codes into the cells of a display, row by row.
func show(p *display.Profile, f display.Font, codes []byte) []analyse.Cell {
	cells := make([]analyse.Cell, p.Rows()*p.Columns())
	for i := range cells {
		cells[i] = analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Bits: f.Glyph(codes[i%len(codes)])}
	}
	return cells
}

func TestEveryCodeIsRead(t *testing.T) {
	f := display.ShippedFont()
	var codes []byte
	for c := range 256 {
		codes = append(codes, byte(c))
	}
	for _, name := range []string{"text-40x25-50", "attr-256x192-60"} {
		p := analysetest.Profile(t, name)
		out := Read(show(p, f, codes), p, f, Options{})
		for i, code := range out.Codes {
			if code != i%256 || out.Inverse[i] || out.Odds[i] <= 0 {
				t.Fatalf("%s, cell %d: code %d, odds %v", name, i, code, out.Odds[i])
			}
		}
		if out.Unknown != 0 || out.Checked != p.Rows()*p.Columns() {
			t.Errorf("%s: %d unknown of %d", name, out.Unknown, out.Checked)
		}
	}
}

func TestLinesAndInverse(t *testing.T) {
	p, f := analysetest.Profile(t, "text-40x25-50"), display.ShippedFont()
	words := "16K TEST: PASS, bit 3 (U14) ~ok~ #$%&@\x90!"
	out := Read(show(p, f, []byte(words)), p, f, Options{})
	if want := strings.ReplaceAll(words, "\x90", "▒"); out.Lines[3] != want {
		t.Errorf("%q, want %q", out.Lines[3], want)
	}
	cells := show(p, f, []byte(words))
	for i := range cells {
		for y := range cells[i].Bits {
			cells[i].Bits[y] ^= 0xFF
		}
	}
	out = Read(cells, p, f, Options{})
	for i, code := range out.Codes[:len(words)] {
		if code != int(words[i]) || !out.Inverse[i] {
			t.Errorf("inverse %q was read as %d, inverse %v", words[i], code, out.Inverse[i])
		}
	}
}

// With three pixels in 64 wrong, as a font's letters differ by more than that in the main,
// most are read, and what is read wrong is said to be unsure.
func TestWrongPixels(t *testing.T) {
	p, f := analysetest.Profile(t, "text-40x25-50"), display.ShippedFont()
	rng := rand.New(rand.NewPCG(4, 4))
	words := []byte("the quick brown fox jumps over the lazy dog 0123456789 THE QUICK BROWN FOX")
	cells := show(p, f, words)
	for i := range cells {
		for range 3 {
			cells[i].Bits[rng.IntN(8)] ^= 1 << rng.IntN(8)
		}
	}
	out := Read(cells, p, f, Options{PixelError: 3.0 / 64})
	right, sureAndWrong := 0, 0
	for i, code := range out.Codes {
		switch {
		case code == int(words[i%len(words)]):
			right++
		case code >= 0 && out.Odds[i] > 7:
			sureAndWrong++
		}
	}
	if right < 930 || sureAndWrong > 0 {
		t.Errorf("%d of %d right, %d wrong with odds above e^7", right, len(cells), sureAndWrong)
	}
}

func TestWhatIsNoGlyphIsUnknown(t *testing.T) {
	p, f := analysetest.Profile(t, "attr-256x192-50"), display.ShippedFont()
	rng := rand.New(rand.NewPCG(5, 5))
	cells := show(p, f, []byte{' '})
	sparse := 0
	for i := range cells {
		for y := range cells[i].Bits {
			cells[i].Bits[y] = byte(rng.Uint32())
		}
		if i%3 == 0 { // eight scattered pixels
			cells[i].Bits = [8]byte{}
			for n := 0; n < 8; {
				y, b := rng.IntN(8), byte(1)<<rng.IntN(8)
				if cells[i].Bits[y]&b == 0 {
					cells[i].Bits[y] |= b
					n++
				}
			}
			sparse++
		}
	}
	if out := Read(cells, p, f, Options{}); out.Unknown < out.Checked*99/100 || out.Lines[0][:3] != "\uFFFD" {
		t.Errorf("%d unknown of %d (%d sparse)", out.Unknown, out.Checked, sparse)
	}
}

// A Text display's background is known: a glyph in the upper half of a font that is the
// inverse of one in the lower half is a code of its own, and a cell of another colour than the background is all ink.
func TestInvertedGlyphsOfAWholeFont(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	f := display.Font{Glyphs: append([][8]byte(nil), display.ShippedFont().Glyphs...)}
	for c := range 128 {
		for y, b := range f.Glyphs[c] {
			f.Glyphs[c+128][y] = ^b
		}
	}
	cells := show(p, f, []byte{'A', 'A' + 128, ' ', ' ' + 128})
	for i := range cells {
		cells[i].Paper, cells[i].Ink = 6, i%5+7
		if i%4 == 3 { // all ink: shows no paper
			cells[i].Single, cells[i].Paper, cells[i].Ink, cells[i].Bits = true, cells[i].Ink, -1, [8]byte{}
		}
	}
	out := Read(cells, p, f, Options{})
	for i, want := range []int{'A', 'A' + 128, ' ', ' ' + 128} {
		if out.Codes[i] != want || out.Inverse[i] || out.Odds[i] < 5 {
			t.Errorf("code %d was read as %d, inverse %v, odds %v", want, out.Codes[i], out.Inverse[i], out.Odds[i])
		}
	}
}

func TestAlikeGlyphsTie(t *testing.T) {
	p, f := analysetest.Profile(t, "text-40x25-60"), display.ShippedFont()
	twin := display.Font{Glyphs: append([][8]byte(nil), f.Glyphs...)}
	twin.Glyphs[0x90] = twin.Glyphs['A']
	twin.Glyphs[0xF1] = twin.Glyphs[0xF0]
	out := Read(show(p, twin, []byte{'A', 0x90, 0xF1, 'B'}), p, twin, Options{})
	if out.Codes[1] != 'A' || out.Odds[0] != 0 || out.Odds[1] != 0 || out.Codes[2] != 0xF0 || out.Odds[2] != 0 {
		t.Errorf("codes %v, odds %v", out.Codes[:4], out.Odds[:4])
	}
	if out.Odds[3] <= 0 {
		t.Errorf("B has no twin: odds %v", out.Odds[3])
	}
}

func TestHalfFontHasInverseCodes(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	half := display.Font{Glyphs: display.ShippedFont().Glyphs[:128]}
	out := Read(show(p, half, []byte{'A', 'A' + 128, ' ', ' ' + 128}), p, half, Options{})
	if out.Codes[0] != 'A' || out.Codes[1] != 'A'+128 || out.Codes[3] != ' '+128 || out.Inverse[1] || out.Lines[0][:4] != "AA  " {
		t.Errorf("%v %v %q", out.Codes[:4], out.Inverse[:4], out.Lines[0][:4])
	}
}

func TestOddCells(t *testing.T) {
	p, f := analysetest.Profile(t, "text-40x25-50"), display.ShippedFont()
	out := Read([]analyse.Cell{{Row: -1}, {Row: 99}, {Column: 40}, {Bits: f.Glyph('x')}}, p, f, Options{})
	if out.Checked != 1 || out.Codes[0] != 'x' || out.Codes[1] != -1 {
		t.Errorf("%+v", out.Codes[:3])
	}
	if out := Read([]analyse.Cell{{}}, p, display.Font{}, Options{}); out.Checked != 0 || out.Codes[0] != -1 {
		t.Error("read without a font")
	}
}

// The evidence of any cell, over all cells with k pixels of ink, is flat in k: 1/65 (the beta-binomial
// with a = b = 1 is uniform). Binomials by gonum.
func TestEvidenceOfAnything(t *testing.T) {
	for k := 0; k <= 64; k++ {
		if got := anything(k) + combin.LogGeneralizedBinomial(64, float64(k)); math.Abs(got+math.Log(65)) > 1e-9 {
			t.Errorf("k = %d: %v", k, got)
		}
	}
}

// BenchmarkRead's ratio is to counting the pixels of a screen's glyphs once a glyph.
func BenchmarkRead(b *testing.B) {
	p, f := analysetest.Profile(b, "text-40x25-50"), display.ShippedFont()
	cells := show(p, f, []byte("A screen full of words 0123456789"))
	n := 0
	begin := time.Now()
	const rounds = 20
	for range rounds {
		for i := range cells {
			for g := range uint64(256) {
				n += bits.OnesCount64(g ^ uint64(i))
			}
		}
	}
	counting := float64(time.Since(begin).Nanoseconds()) / rounds
	for b.Loop() {
		Read(cells, p, f, Options{})
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/counting, "x-counting")
	_ = n
}
