package characters

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/patterns/nats"
)

// The same cells, once in a field of fifty and once in a field of five: the first is snow, the second the supply's doing.
func TestCellsOfSnowAgainstSupplyByHowOften(t *testing.T) {
	text := func(fields int) float64 {
		r := &restless{n: 1000, seen: true}
		for k := range 200 {
			r.changes = append(r.changes, changed{Change: analyse.Change{At: 5 * k, Fields: fields, Of: 50, Turns: 2 * fields, Pictures: fields}, lane: 0x55, colours: -1})
		}
		return r.often(nats.SnowOften) - r.often(nats.SupplyOften)
	}
	// One field of fifty or ten of them are 5.41 nats for one and against the other.
	if a, b := text(1), text(10); math.Abs(a-5.41019) > 1e-4 || math.Abs(b+5.41019) > 1e-4 {
		t.Errorf("cells that change in one field of fifty: %.2f for snow; in ten: %.2f", a, b)
	}
	if (&restless{}).often(nats.SnowOften) != 0 {
		t.Error("nothing that changes says something")
	}
}
