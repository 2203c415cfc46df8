package characters

import (
	"encoding/binary"
	"testing"

	"backporch/patterns/characters/screentest"
	"backporch/video/display"
)

// A font whose upper half is drawn as the font for comparison is, and whose lower half by another hand, is in the order of ASCII all the same.
func TestOrderOfTwoHands(t *testing.T) {
	var rows [256]uint64
	lower, upper := screentest.OtherHand(), display.ShippedFont()
	for code := range 128 {
		glyph := upper.Glyph(byte(code))
		rows[code], rows[code+128] = binary.BigEndian.Uint64(lower[code][:]), binary.BigEndian.Uint64(glyph[:])
	}
	order := orderOf(&rows)
	for code := range rows {
		if order.means[code] != code || order.stands[code] != code {
			t.Fatalf("code %#02x stands for %#02x", code, order.means[code])
		}
	}
}
