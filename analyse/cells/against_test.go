package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
)

// drawn is a survey of a screen of stripes, ink over paper in the lower half of every cell, each cell's and the border's colours as a path or a fault
// of the logic leaves them.
func drawn(p *display.Profile, border int, colours func(cell int) (ink, paper int), change func(video.YUV) video.YUV) *analyse.Survey {
	height := p.Standard.Scan().FieldLines
	s := &analyse.Survey{Levels: analyse.Levels{Black: 16, White: 235, Saturation: 1}}
	s.Registration = analyse.Registration{OK: true, PitchX: p.PitchX(720), PitchY: 1}
	s.Registration.OriginX, s.Registration.OriginY = p.Origin(720, height)
	st := &analyse.Stack{Width: 720, ChromaWidth: 360, Height: height, N: 1}
	st.Y, st.Cb, st.Cr = make([]float32, 720*height), make([]float32, 360*height), make([]float32, 360*height)
	for i := range p.Rows() * p.Columns() {
		ink, paper := colours(i)
		c := analyse.Cell{Column: i % p.Columns(), Row: i / p.Columns(), Ink: ink, Paper: paper}
		for y := 4; y < 8; y++ {
			c.Bits[y] = 0xff
		}
		s.Cells = append(s.Cells, c)
	}
	for y := range height {
		for x := range 720 {
			colour := border
			column := int(math.Floor((float64(x) - s.Registration.OriginX) / s.Registration.PitchX / 8))
			row := y - int(s.Registration.OriginY)
			if column >= 0 && column < p.Columns() && row >= 0 && row < p.Height {
				colour = s.Cells[row/8*p.Columns()+column].Paper
				if row%8 >= 4 {
					colour = s.Cells[row/8*p.Columns()+column].Ink
				}
			}
			luma, cb, cr := change(p.Colours[colour].YUV).Codes()
			st.Y[y*720+x] = float32(luma)
			st.Cb[(y*720+x)/2], st.Cr[(y*720+x)/2] = float32(cb), float32(cr)
		}
	}
	s.Stack = st
	return s
}

func same(c video.YUV) video.YUV { return c }

// With a good machine's capture, a colour difference at nothing is told from what the path does, and from its own picture where it leaves that as it is.
func TestAgainstHeldSignal(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	colours := func(cell int) (int, int) { return 1 + cell%15, 0 }
	good := drawn(p, 14, colours, same)
	of := func(change func(video.YUV) video.YUV) (held *analyse.Component, best analyse.ColourFit) {
		fits, components, _ := Against(drawn(p, 14, colours, change), good, p)
		best.Gain = math.Inf(-1)
		for _, f := range fits {
			if f.Gain > best.Gain {
				best = f
			}
		}
		return Held(components), best
	}
	if held, best := of(same); held != nil || best.Gain > 1 {
		t.Errorf("the same again: %+v, %+v", held, best)
	}
	held, best := of(func(c video.YUV) video.YUV { return video.YUV{Y: c.Y, U: c.U} })
	if held == nil || held.Name != "cr" || held.Level != 0 || !held.Beside || best.Gain > 0 {
		t.Errorf("cr at nothing: %+v, %+v", held, best)
	}
	held, best = of(func(c video.YUV) video.YUV { return turned(c, 40) })
	if held != nil || best.Kind != "hue-shift" || best.Gain < 6 || math.Abs(best.Amount.Value-40) > 10 {
		t.Errorf("turned by 40 degrees: %+v, %+v", held, best)
	}
}

// A bit of all colour bytes at nothing makes bright inks darker, and leaves border and paper: that is no cut at a level. A picture that is cut is still
// one.
func TestAgainstHeldLane(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	good := drawn(p, 3, func(int) (int, int) { return 14, 11 }, same)
	clipping := func(s *analyse.Survey) float64 {
		fits, _, _ := Against(s, good, p)
		for _, f := range fits {
			if f.Kind == "clipping" {
				return f.Gain
			}
		}
		return math.NaN()
	}
	lane := clipping(drawn(p, 3, func(int) (int, int) { return 12, 11 }, same))
	cut := clipping(drawn(p, 3, func(int) (int, int) { return 14, 11 }, func(c video.YUV) video.YUV { return cutAt(c, 0.6) }))
	if !(lane < -3 && cut > 1) {
		t.Errorf("clipping by %.1f nats with bit 1 at nothing, by %.1f where it is cut at 0.6", lane, cut)
	}
}

// A bit of a colour byte is held where the display puts it: ink, paper, brightness of both.
func TestLanesOfColours(t *testing.T) {
	attr, text := analysetest.Profile(t, "attr-256x192-50"), analysetest.Profile(t, "text-40x25-50")
	for _, c := range []struct {
		p              *display.Profile
		bit, level     int
		ink, paper     int
		toInk, toPaper int
		lanes          int
	}{
		{attr, 1, 0, 7, 2, 5, 2, 7}, {attr, 4, 0, 7, 2, 7, 0, 7}, {attr, 6, 1, 7, 2, 15, 10, 7}, {attr, 6, 0, 15, 10, 7, 2, 7},
		{text, 3, 1, 6, 11, 14, 11, 4}, {text, 0, 0, 7, 1, 6, 1, 4},
	} {
		if ink, paper := withLane(c.p, c.ink, c.paper, c.bit, c.level); ink != c.toInk || paper != c.toPaper || colourLanes(c.p) != c.lanes {
			t.Errorf("%s bit %d at %d: %d on %d from %d on %d", c.p.Name, c.bit, c.level, ink, paper, c.ink, c.paper)
		}
	}
	// Ink in 28 of the 56 pixels below a cell's first line: half of the way from blue to black.
	c := analyse.Cell{Ink: 1, Paper: 0}
	for y := 4; y < 8; y++ {
		c.Bits[y] = 0x7f
	}
	if d, blue := laneShift(&c, attr, 0, 0), attr.Colours[1].YUV; math.Abs(d.Y+blue.Y/2) > 1e-9 || math.Abs(d.U+blue.U/2) > 1e-9 {
		t.Errorf("half of blue taken off: %+v, blue is %+v", d, blue)
	}
}

// Chroma of a colour that shows in patterns is the mean of what is around it; that of whole lines of cells is its own.
func TestBroadColours(t *testing.T) {
	r := &reader{columns: 1, bits: []uint8{0xff, 0xff, 0xff, 0xff, 0, 0, 0, 0, 0xaa, 0x55, 0xaa, 0x55, 0xaa, 0x55, 0xaa, 0x55}, inks: []int{32, 32}}
	if !r.broad(0, 1) || !r.broad(0, 0) {
		t.Error("a cell parted across")
	}
	if r.broad(1, 1) || r.broad(1, 0) {
		t.Error("a chequered cell")
	}
}

// A component that is stuck on colours black as well, which no map of the colours seen can tell: the cells say what is black.
func TestAgainstComponentOnBlack(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	colours := func(cell int) (int, int) { return 4, 0 }
	good := drawn(p, 0, colours, same)
	normal := p.Colours[7].Y
	here := drawn(p, 0, colours, func(c video.YUV) video.YUV {
		_, g, b := c.RGB()
		return video.YUVOfRGB(normal, g, b)
	})
	_, components, _ := Against(here, good, p)
	if held := Held(components); held == nil || held.Name != "red" || held.Level != 1 {
		t.Errorf("red stuck on: %+v of %+v", held, components)
	}
}
