package characters

import (
	"encoding/binary"
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"backporch/patterns/characters/screentest"
)

// A drawing is as like itself as can be, and hardly less where it stands aside; letters of another hand are known by their own.
func TestLettersAreKnownByTheirLooks(t *testing.T) {
	s, p := screentest.Typed(t, screentest.Program(10), screentest.White)
	font := pageOf(s, p, &forms{}).font
	for c := '!'; c <= '~'; c++ {
		d := drawingOf(font.rows[c])
		if got := d.like(&d); math.Abs(got-1) > 1e-12 {
			t.Errorf("%c is like itself by %.3f", c, got)
		}
		if font.rows[c]&0x01010101010101ff == 0 {
			aside := drawingOf(font.rows[c] >> 1)
			if got := d.like(&aside); math.Abs(got-1) > 1e-12 {
				t.Errorf("%c is like itself a pixel aside by %.3f", c, got)
			}
		}
	}
	right, other := 0, &glyphs{}
	for c, rows := range screentest.OtherHand() {
		other.rows[c] = binary.BigEndian.Uint64(rows[:])
	}
	other.index()
	for c := 'A'; c <= 'Z'; c++ {
		like, best := font.resembles(other.rows[c]), 'A'
		for k := '!'; k <= '~'; k++ {
			if like[k] > like[best] {
				best = k
			}
		}
		if best == c {
			right++
		}
		if inverted := font.resembles(^other.rows[c]); bits.OnesCount64(other.rows[c]) < 32 && inverted[c] != like[c] {
			t.Errorf("%c inverted is another", c)
		}
	}
	if right < 20 {
		t.Errorf("%d of 26 letters are known", right)
	}
}

// The bit of a lane that is stuck shows in what letters of another hand there are and are not. On a good screen they speak against every lane.
func TestStuckLaneByLooks(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(5, 1)))
	other := screentest.OtherHand()
	for _, stuck := range []int{-1, 0, 1, 2} {
		seen := append([]int(nil), codes...)
		for i := range seen {
			if stuck >= 0 {
				seen[i] &^= 1 << stuck
			}
		}
		s, p := screentest.Typed(t, seen, screentest.White)
		screentest.Handwritten(s, seen, other)
		page := pageOf(s, p, &forms{})
		page.fits = false
		for bit := range 3 {
			for level := range 2 {
				odds, sorts := page.lettered(bit, level)
				if held := bit == stuck && level == 0; held != (odds > 4) || sorts < fewSorts {
					t.Errorf("bit %d stuck: bit %d at %d is weighed %.1f by %d sorts", stuck, bit, level, odds, sorts)
				}
			}
		}
	}
}

// Menus and titles have letters alone: that no figure stands there says little of any lane.
func TestLettersAloneSayLittle(t *testing.T) {
	codes := screentest.Menu()
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Handwritten(s, codes, screentest.OtherHand())
	page := pageOf(s, p, &forms{})
	page.fits = false
	if odds, sorts := page.lettered(6, 1); odds > 2 || sorts < fewSorts {
		t.Errorf("bit 6 at 1 is weighed %.1f by %d sorts", odds, sorts)
	}
}

// A picture of graphics, of which a decoder spoils some cells each in its own way, has many sorts that look like some letter, and few cells.
func TestSpoiltPicturesAreNoLetters(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	codes := make([]int, 1000)
	for i := range codes {
		codes[i] = []int{0x80, 0x81, 0x82, 0x83}[rng.IntN(4)]
	}
	for k, c := range "AEHKMNRSTWXZ" { // what spoilt ones may be like
		codes[83*k] = int(c)
	}
	s, p := screentest.Typed(t, codes, screentest.White)
	for c := 0x80; c < 0x84; c++ {
		for y := range 8 {
			s.Text.Glyphs[c][y] = []uint8{0xaa << (y & 1), 0xff >> y, 0xff << y, 0x18<<(y&3) | uint8(y*31)}[c-0x80]
		}
	}
	for i, code := range codes {
		s.Cells[i].Bits, s.Cells[i].Single, s.Cells[i].Ink = s.Text.Glyphs[code], false, 3
	}
	page := pageOf(s, p, &forms{})
	page.fits = false
	if odds, sorts := page.lettered(5, 0); odds != 0 || sorts != 0 {
		t.Errorf("bit 5 at 0 is weighed %.1f by %d sorts", odds, sorts)
	}
}

// Of pixels that nobody drew nothing follows.
func TestNoLettersNoLooks(t *testing.T) {
	codes := screentest.Page(rand.New(rand.NewPCG(5, 1)))
	s, p := screentest.Typed(t, codes, screentest.White)
	screentest.Strange(s, codes)
	page := pageOf(s, p, &forms{})
	for bit := range 8 {
		for level := range 2 {
			if odds, sorts := page.lettered(bit, level); odds != 0 {
				t.Errorf("bit %d at %d is weighed %.1f by %d sorts", bit, level, odds, sorts)
			}
		}
	}
}
