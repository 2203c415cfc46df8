package judge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video/display"
)

// inLetters is what a good reading gives of a memory in which letters stand, black on white.
func inLetters(t *testing.T, p *display.Profile, memory []uint8) *evidence {
	t.Helper()
	s := &analyse.Survey{Memory: &analyse.Memory{Bytes: memory, Seen: make([]uint8, len(memory)), Odds: make([]float32, 8*len(memory)), Changed: make([]uint16, 8*len(memory))}}
	for a := range memory {
		s.Memory.Seen[a] = 0xff
	}
	for a := range s.Memory.Odds {
		s.Memory.Odds[a] = 30
	}
	for i := range p.Columns() * p.Rows() {
		c := analyse.Cell{Row: i / p.Columns(), Column: i % p.Columns(), Paper: 7, Sure: 20}
		for y := range c.Bits {
			c.Bits[y] = memory[p.BitmapAddress(c.Row*8+y, c.Column)]
		}
		if c.Single = c.Bits == [8]uint8{}; c.Single {
			c.Ink = -1
		}
		s.Cells = append(s.Cells, c)
	}
	return gather(s, p)
}

// A lane of a chip whose address line is stuck is the same at addresses that differ in that line, whatever the other lanes are (decoder fault AF3 of march tests: two
// addresses reach one cell; van de Goor, Testing Semiconductor Memories, 1991, from memory). A lane that is stuck, and a good screen, say so of no line.
func TestUnlikeFolds(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	lines := p.RowBits + p.ColumnBits
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 8))
		screen := analysetest.New(p)
		analysetest.Listing(p, screen, 18, rng)
		good := screen.Memory[:p.Size()]
		lane := 2 + int(seed) // strokes stand there
		mask := uint8(1) << lane
		through := func(f func(a int) int, level int) []uint8 {
			out := append([]uint8(nil), good...)
			for a := range p.ColourBase {
				from := f(a)
				bit := good[from] & mask
				if level >= 0 {
					bit = uint8(level) << lane
				}
				out[a] = out[a]&^mask | bit
			}
			return out
		}
		same := func(a int) int { return a }
		for _, c := range []struct {
			name   string
			memory []uint8
			folds  []int
		}{
			{"good", good, nil},
			{"held at 1", through(same, 1), nil},
			{"held at 0", through(same, 0), nil},
			{"line 6 at 0", through(func(a int) int { return a &^ (1 << 6) }, -1), []int{6}},
			{"line 9 at 1", through(func(a int) int { return a | 1<<9 }, -1), []int{9}},
			{"lines 1 and 8 at 0", through(func(a int) int { return a &^ (1<<1 | 1<<8) }, -1), []int{1, 8}},
		} {
			found := inLetters(t, p, c.memory).unlikeFolds(lines)
			for line := range found {
				for l, f := range found[line] {
					due := false
					for _, k := range c.folds {
						due = due || k == line && l == lane
					}
					if due && f.odds < 4 || !due && f.odds > 2 {
						t.Errorf("seed %d, %s: line %d of lane %d has odds %.1f over %d pairs", seed, c.name, line, l, f.odds, f.pairs)
					}
				}
			}
		}
	}
}

// Of two cells either colour may be paper, and one that is all ink is one colour.
func TestSameColours(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	memory := make([]uint8, p.Size())
	for a := range 64 {
		memory[a] = 0x3c // letters of black on white
	}
	e := inLetters(t, p, memory)
	pair := func(paper, ink int) *analyse.Cell { return &analyse.Cell{Paper: paper, Ink: ink} }
	one := func(paper int) *analyse.Cell { return &analyse.Cell{Paper: paper, Ink: -1, Single: true} }
	for _, c := range []struct {
		name string
		a, b *analyse.Cell
		want bool
	}{
		{"turned", pair(7, 2), pair(2, 7), true},
		{"another ink", pair(7, 2), pair(7, 1), false},
		{"all ink", one(2), pair(7, 2), true},
		{"neither", one(4), pair(7, 2), false},
		{"blank and all ink of the screen's letters", one(7), one(0), true},
		{"blank and another colour", one(7), one(3), false},
		{"black at either brightness", one(0), one(8), true},
	} {
		if e.sameColours(c.a, c.b) != c.want || e.sameColours(c.b, c.a) != c.want {
			t.Errorf("%s: want %v", c.name, c.want)
		}
	}
}

// The odds of a fold among misread lines are those of two binomials, gonum's.
func TestMisreadFold(t *testing.T) {
	for _, c := range [][2]int{{200, 45}, {30, 1}, {60, 40}} {
		same, n := float64(c[0]), float64(c[0])+float64(c[1])+0.5
		own, chance := distuv.Binomial{N: n, P: same / n}, distuv.Binomial{N: n, P: 0.5}
		if got, want := misreadFold(c[0], c[1]), own.LogProb(same)-chance.LogProb(same); math.Abs(got-want) > 1e-6*want+1e-9 {
			t.Errorf("%v: %.4f nats, want %.4f", c, got, want)
		}
	}
	if !math.IsInf(misreadFold(10, 12), -1) {
		t.Error("lines that mostly differ are a fold")
	}
}
