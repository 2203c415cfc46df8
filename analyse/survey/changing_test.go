package survey

import (
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/display"
)

func listing(t *testing.T) (*display.Profile, *analysetest.Screen) {
	p := analysetest.Profile(t, "text-40x25-50")
	s := analysetest.New(p)
	analysetest.Listing(p, s, 12, rand.New(rand.NewPCG(5, 5)))
	return p, s
}

func surveyed(t *testing.T, p *display.Profile, fields []*video.Field) *analyse.Survey {
	t.Helper()
	s, _, err := Run(fields, video.Info{Standard: p.Standard, Rate: p.FieldHz() / 2}, Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Noise moves every pixel, and changes no cell: it is read from all fields and not from one.
func TestNoiseChangesNoCell(t *testing.T) {
	p, s := listing(t)
	good := surveyed(t, p, drawn(p, s, 2, analysetest.Capture{Noise: 1}))
	out := surveyed(t, p, drawn(p, s, 40, analysetest.Capture{Noise: 20}))
	if n := len(out.Text.Changes); n > 0 {
		t.Errorf("%d cells change", n)
	}
	wrong := 0
	for i, code := range out.Text.Codes {
		if code != good.Text.Codes[i] {
			wrong++
		}
	}
	if wrong > 10 {
		t.Errorf("%d cells misread", wrong)
	}
}

// A lane that fails as a whole in some fields changes every cell that has it otherwise, to one picture.
func TestLaneThatFailsInSomeFields(t *testing.T) {
	p, s := listing(t)
	fields := drawn(p, s, 24, analysetest.Capture{Noise: 2})
	const bit = 3
	bad := analysetest.New(p)
	want := 0
	copy(bad.Memory, s.Memory)
	for a := range p.Columns() * p.Rows() {
		if bad.Memory[a]>>bit&1 == 0 {
			bad.Memory[a] |= 1 << bit
			want++
		}
	}
	broken := drawn(p, bad, 24, analysetest.Capture{Noise: 2})
	for _, k := range []int{2, 3, 9, 14, 20} {
		fields[k] = broken[k]
	}
	out := surveyed(t, p, fields)
	right := 0
	for _, c := range out.Text.Changes {
		if c.Code >= 0 && c.Code^out.Text.Codes[c.At] == 1<<bit && c.Fields == 5 && c.Pictures == 2 {
			right++
		}
	}
	if right*10 < want*9 {
		t.Errorf("%d of %d cells are seen to change in bit %d, of %d that change", right, want, bit, len(out.Text.Changes))
	}
}

// Lines that lie aside in some fields, each time elsewhere, are the signal's and not the memory's.
func TestLinesAside(t *testing.T) {
	p, s := listing(t)
	fields := drawn(p, s, 30, analysetest.Capture{Noise: 1})
	rng := rand.New(rand.NewPCG(1, 1))
	for _, f := range fields {
		// Inside of the border's ends, which would show it by themselves.
		from, by := 90+rng.IntN(40), rng.IntN(25)-12
		for y := from; y < f.Height-90; y++ {
			line := append([]uint8(nil), f.Y[y*f.Width:(y+1)*f.Width]...)
			for x := 90; x < f.Width-90; x++ {
				f.Y[y*f.Width+x] = line[x+by]
			}
		}
	}
	out := surveyed(t, p, fields)
	if len(out.Text.Changes) > 0 || out.Sync.State == analyse.Locked && out.Registration.OK {
		t.Errorf("%d cells change, sync is %s", len(out.Text.Changes), out.Sync.State)
	}
}

// Where most of a screen changes in every field its cells are seen to change: what noise does is read from the border.
func TestAScreenThatChangesAllOver(t *testing.T) {
	p, s := listing(t)
	rng := rand.New(rand.NewPCG(6, 2))
	var fields []*video.Field
	for k := range 24 {
		now := analysetest.New(p)
		copy(now.Memory, s.Memory)
		for a := range p.Columns() * p.Rows() {
			now.Memory[a] = uint8(rng.Uint32())
		}
		f := drawn(p, now, 1, analysetest.Capture{Noise: 1})[0]
		f.Time, f.Frame, f.Parity = time.Duration(k)*20*time.Millisecond, k/2, k%2
		fields = append(fields, f)
	}
	out := surveyed(t, p, fields)
	if n := len(out.Text.Changes); n < 900 {
		t.Errorf("%d of 1000 cells are seen to change", n)
	}
}
