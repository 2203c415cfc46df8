package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
)

// A chip whose address line is held answers with what stands elsewhere at the other addresses alone (decoder fault AF2 and AF3 of march tests: one cell is reached by two
// addresses, another by none; van de Goor, Testing Semiconductor Memories, 1991, from memory); a weak chip goes wrong on either side of every line.
func TestSided(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	const lane = 3
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 21))
		screen := analysetest.New(p)
		analysetest.Listing(p, screen, 24-7*int(seed), rng) // with nothing on the rest
		good := screen.Memory[:p.Size()]
		empty := func(a int) bool { // the whole cell
			y, column := p.BitmapPlace(a)
			for line := range 8 {
				if good[p.BitmapAddress(y&^7+line, column)] != 0 {
					return false
				}
			}
			return true
		}
		for name, c := range map[string]struct {
			wrong       func(a int) bool
			line, level int // -1: none
		}{
			"good":                 {func(int) bool { return false }, -1, 0},
			"weak":                 {func(int) bool { return rng.IntN(12) == 0 }, -1, 0},
			"weak to 0":            {func(a int) bool { return good[a]>>lane&1 == 1 && rng.IntN(4) == 0 }, -1, 0},
			"rules in odd columns": {func(a int) bool { return a&3 == 3 && empty(a) }, -1, 0},
			"line 5 held at 0":     {func(a int) bool { return a>>5&1 == 1 && good[a&^(1<<5)]>>lane&1 != good[a]>>lane&1 }, 5, 0},
			"line 2 held at 1":     {func(a int) bool { return a>>2&1 == 0 && good[a|1<<2]>>lane&1 != good[a]>>lane&1 }, 2, 1},
			"line 5, half misread": {func(a int) bool { return a>>5&1 == 1 && rng.IntN(9) == 0 || rng.IntN(600) == 0 }, 5, 0},
		} {
			memory := append([]uint8(nil), good...)
			for a := range p.ColourBase {
				if c.wrong(a) {
					memory[a] ^= 1 << lane
				}
			}
			e := inLetters(t, p, memory)
			x := e.broken()
			best, at := chipFold{}, -1
			for line := range p.RowBits + p.ColumnBits {
				if 1<<line >= p.ColourBase {
					continue
				}
				for _, f := range e.sided(x, line, line) {
					if f.odds > best.odds {
						best, at = f, line
					}
				}
			}
			switch {
			case c.line < 0 && best.odds > 4:
				t.Errorf("seed %d, %s: bit %d, line %d by %.1f nats", seed, name, best.bit, at, best.odds)
			case c.line >= 0 && (at != c.line || best.bit != lane || *best.level != c.level || best.odds < 5):
				t.Errorf("seed %d, %s: bit %d, line %d at %v by %.1f nats", seed, name, best.bit, at, best.level, best.odds)
			}
		}
	}
}
