package judge

import "testing"

// Lines that are misread by turns are two that differ in few pixels; a dither, letters and bars are none such.
func TestAlternates(t *testing.T) {
	two := func(a, b uint8) (rows [8]uint8) {
		for y := range rows {
			rows[y] = a
			if y%2 == 1 {
				rows[y] = b
			}
		}
		return rows
	}
	for _, c := range []struct {
		name string
		rows [8]uint8
		want bool
	}{
		{"stripes misread by turns", two(0b01011100, 0b00001000), true},
		{"dither", two(0x55, 0xaa), false},
		{"bars", two(0xf0, 0xf0), false},
		{"a letter", [8]uint8{0, 0x3c, 0x42, 0x42, 0x7e, 0x42, 0x42, 0}, false},
		{"one line off", [8]uint8{0x0f, 0x07, 0x0f, 0x07, 0x0f, 0x07, 0x0f, 0x0f}, false},
	} {
		if got := alternates(c.rows); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// A lane that is held at 1 in the colours makes ink and paper alike that differ in its bit alone, so that cells of one colour speak less against it than
// against a stage of the shift register.
func TestSingleColoursUnderHeldLane(t *testing.T) {
	e := &evidence{groups: []*group{{paper: 7, ink: -1, cells: make([]int, 5)}}}
	held, tap := e.single(1, lane{3, 1}), e.single(1, nothing{})
	if held <= tap || held > 0 || e.single(1, lane{7, 1}) != tap || e.single(0, nothing{}) != 0 {
		t.Errorf("held %.2f, tap %.2f nats", held, tap)
	}
}
