package analyse

import "testing"

// Colours are means of several where a fifth of the bytes moves; what goes with the subcarrier's rhythm on a Text display is its dots.
func TestBlendsOfMotion(t *testing.T) {
	for _, c := range []struct {
		m    *Motion
		text bool
		want bool
	}{
		{nil, false, false}, {&Motion{Fields: 20, Bytes: 1000, Moving: 300}, false, true}, {&Motion{Fields: 20, Bytes: 1000, Moving: 100}, false, false},
		{&Motion{Fields: 20, Bytes: 1000, Moving: 300, Rhythm: 0.9}, true, false}, {&Motion{Fields: 20, Bytes: 1000, Moving: 300, Rhythm: 0.9}, false, true},
		{&Motion{Fields: 2, Bytes: 1000, Moving: 300}, false, false},
	} {
		if got := c.m.Blends(c.text); got != c.want {
			t.Errorf("%+v, text %v: %v", c.m, c.text, got)
		}
	}
}
