package survey

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
)

// Turns, and how many chance makes: the runs test has 2 n1 n2/(n1+n2) + 1 runs on the mean, one more than there are turns. Of what changes in
// one field, or in all but one, nothing is said.
func TestOrder(t *testing.T) {
	for _, c := range []struct {
		shown  string
		flips  int
		chance float64
	}{
		{"0000111111", 1, 4.8}, // n1 4, n2 6: 5.8 runs
		{"0101010101", 9, 5},   // 5 and 5: 6 runs
		{"0110000000", 2, 3.2}, // 2 and 8: 4.2 runs
		{"1011111101", 4, 3.2},
		{"0000001000", 0, 0},
		{"1110111111", 0, 0},
		{"0000000000", 0, 0},
	} {
		var by moment
		for k, v := range c.shown {
			if v == '1' {
				by.add(k)
			}
		}
		m := &analyse.Motion{Fields: len(c.shown)}
		(&track{}).order(m, &by, by.count())
		if m.Flips != c.flips || math.Abs(m.Chance-c.chance) > 1e-12 {
			t.Errorf("%s: %d turns where chance makes %.2f, want %d and %.2f", c.shown, m.Flips, m.Chance, c.flips, c.chance)
		}
	}
}

// What goes back and forth between fields more often than chance lets anything, by three standard deviations, is the subcarrier; what goes as chance
// has it, or seldom, is not.
func TestAlternates(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 6))
	for _, c := range []struct {
		name   string
		fields int
		in     func(k int) bool
		want   bool
	}{
		{"every other field", 40, func(k int) bool { return k&1 == 1 }, true},
		{"in step but for two fields", 40, func(k int) bool { return k&1 == 1 != (k == 8 || k == 21) }, true},
		{"every third", 40, func(k int) bool { return k%3 == 0 }, false}, // 26 turns, chance makes 18.2, three deviations are 9.5
		{"every third, for long", 120, func(k int) bool { return k%3 == 0 }, true},
		{"by chance", 120, func(int) bool { return r.IntN(2) == 1 }, false},
		{"once and for good", 40, func(k int) bool { return k > 11 }, false},
	} {
		var by moment
		for k := range c.fields {
			if c.in(k) {
				by.add(k)
			}
		}
		if got := alternates(&by, c.fields); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
