package judge

import (
	"math"
	"testing"

	"backporch/analyse"
)

// Of scipy.special.betaln: b(k, n) = betaln(k + 0.5, n - k + 3) - betaln(0.5, 3) for all bits, or for those of each level, at even odds.
func TestWeakLaneGoesToOneLevel(t *testing.T) {
	one := weakLane{bits: byLevel{0, 40}, of: byLevel{5372, 1539}}
	both := weakLane{bits: byLevel{31, 9}, of: byLevel{5372, 1539}}
	for _, k := range []struct {
		w    weakLane
		want float64
	}{{one, -192.839}, {both, -250.174}} {
		if got := k.w.spelt(); math.Abs(got-k.want) > 0.01 {
			t.Errorf("%v of %v: %.2f, want %.2f", k.w.bits, k.w.of, got, k.want)
		}
	}
}

// What two pictures say of a cell holds for it whichever of its colours is called ink.
func TestApartWhicheverIsInk(t *testing.T) {
	good := analyse.Cell{Paper: 1, Ink: 7, Bits: [8]uint8{0x82, 0x82, 0x6c, 0x10}, Sure: 20}
	seen := good
	seen.Bits[1], seen.Apart = 0x80, 11
	c := &comparison{cells: []analyse.Cell{good}, columns: 1, soft: 1}
	for name, s := range map[string]tile{"as read": tileOf(&good), "the other way": tileOf(&good).inverted()} {
		if paid := c.paid(1, s, &seen, 7); paid != 11 {
			t.Errorf("%s: %.1f nats, want 11", name, paid)
		}
	}
	if paid := c.paid(1, tile{paper: 1, ink: 6, rows: good.Bits}, &seen, 7); paid >= 11 {
		t.Errorf("another prediction pays %.1f", paid)
	}
}
