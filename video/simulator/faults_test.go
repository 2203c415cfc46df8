package simulator

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
	"backporch/video/composite"
	"backporch/video/display"
)

// Colours on the way out, against BT.601 codes of the colours that should leave.
func TestColourFaults(t *testing.T) {
	long(t)
	all := profiles(t)
	attr, text := all[0], all[2]
	tests := []struct {
		p      *display.Profile
		fault  string
		border int
		want   video.YUV
	}{
		{attr, "clean", 2, video.YUVOfRGB(0.85, 0, 0)},
		{attr, "colour-path:component=green,level=1", 2, video.YUVOfRGB(0.85, 0.85, 0)},
		{attr, "colour-path:component=red,level=0", 2, video.YUVOfRGB(0, 0, 0)},
		{attr, "border-latch:bit=0,level=1", 4, video.YUVOfRGB(0, 0.85, 0.85)},
		{text, "clean", 14, text.Colours[14].YUV},
		{text, "colour-path:component=cr,level=0", 12, video.YUV{Y: 0.7, U: text.Colours[12].U}},
		{text, "colour-path:component=luma,level=0", 12, video.YUV{U: text.Colours[12].U, V: text.Colours[12].V}},
		{text, "border-latch:bit=3,level=0", 12, text.Colours[4].YUV},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprint(tt.p.Name, " ", tt.fault), func(t *testing.T) {
			f, err := ParseFault(tt.fault)
			if err != nil {
				t.Fatal(err)
			}
			s := Scenario{Display: tt.p, Seed: 11, Border: &tt.border, Faults: []Fault{f}, Fields: 4,
				Device: Device{Gain: 1, Colour: 1, DelayLine: true}}
			fields := capture(t, open(t, s))
			var got [3]float64
			n := 0.0
			for y := 10; y < 25; y++ {
				for x := 200; x < 500; x += 2 {
					fl := fields[3]
					got[0] += float64(fl.Y[y*720+x])
					got[1] += float64(fl.Cb[y*360+x/2])
					got[2] += float64(fl.Cr[y*360+x/2])
					n++
				}
			}
			var want [3]float64
			want[0], want[1], want[2] = tt.want.Codes()
			for i := range got {
				if math.Abs(got[i]/n-want[i]) > 3 {
					t.Errorf("code %d: %.1f, want %.1f", i, got[i]/n, want[i])
				}
			}
		})
	}
}

// patterned is a machine whose memory tells every address from its neighbours.
func patterned(p *display.Profile, f Fault) *machine {
	m := newMachine(p, display.ShippedFont())
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range m.ram {
		m.ram[i] = byte(rng.Uint32())
	}
	for i := range m.colour {
		m.colour[i] = byte(rng.Uint32()) & 15
	}
	k, err := findKind(f.Kind)
	if err != nil {
		panic(err)
	}
	m.start([]hooks{k.act(f, m, rand.New(rand.NewPCG(2, 2)))})
	m.fetch()
	return m
}

// A stuck pin behind the multiplexer folds two address lines; of the 6912 display
// addresses so many distinct cells are reached. Counts: worked out from the address map
// alone (lines A(k) and A(k+7) at 0), by enumeration outside this program.
func TestAddressLineFolds(t *testing.T) {
	p := profiles(t)[0]
	for k, want := range []int{1728, 1792, 1792, 1920, 2048, 2048, 3456} {
		f := Fault{Kind: "address-line-stuck", Lines: 1<<k | 1<<(k+7), Lanes: 1 << 4}
		m := patterned(p, f)
		cells := map[int]bool{}
		for a := range m.seen {
			from := a &^ int(f.Lines)
			cells[from] = true
			if got, want := m.seen[a], m.ram[a]&^0x10|m.ram[from]&0x10; got != want {
				t.Fatalf("pin %d, address %d: %02x, want %02x", k, a, got, want)
			}
		}
		if len(cells) != want {
			t.Errorf("pin %d: %d cells, want %d", k, len(cells), want)
		}
	}
}

// A dead chip row is 54 of 6912 addresses in one character column, a dead chip column
// up to 128; one lane only. Counts: from the address map, by enumeration.
func TestRowAndColumnDead(t *testing.T) {
	p := profiles(t)[0]
	row := patterned(p, Fault{Kind: "row-dead", Bit: 3, Number: 37, Level: 1})
	columns, n := map[int]bool{}, 0
	for a := range row.seen {
		if row.seen[a] != row.ram[a] && row.seen[a] != row.ram[a]|8 {
			t.Fatalf("address %d: %02x became %02x", a, row.ram[a], row.seen[a])
		}
		if a&127 == 37 {
			n++
			if row.seen[a]&8 == 0 {
				t.Errorf("address %d: bit 3 is 0", a)
			}
			columns[a&31] = true
		} else if row.seen[a] != row.ram[a] {
			t.Errorf("address %d is of another row", a)
		}
	}
	if n != 54 || len(columns) != 1 {
		t.Errorf("%d addresses in %d columns, want 54 in 1", n, len(columns))
	}
	column := patterned(p, Fault{Kind: "column-dead", Bit: 0, Number: 20})
	for a := range column.seen {
		want := column.ram[a]
		if a>>7 == 20 {
			want &^= 1
		}
		if column.seen[a] != want {
			t.Fatalf("address %d: %02x, want %02x", a, column.seen[a], want)
		}
	}
}

// Raster faults: what a line or cell shows is another one's.
func TestRasterFaults(t *testing.T) {
	all := profiles(t)
	attr, text := all[0], all[2]
	good := func(p *display.Profile) *machine { return patterned(p, Fault{Kind: "clean"}) }
	line := func(m *machine, y int) string { return string(m.line(y)[m.p.BorderLeft : m.p.BorderLeft+m.p.Width]) }
	cells := func(s string, from, to int) string { return s[from*8 : to*8] }

	counter := patterned(attr, Fault{Kind: "line-counter", Number: 4, Level: 0})
	for _, y := range []int{0, 15, 16, 100, 191} {
		if line(counter, y) != line(good(attr), y&^16) {
			t.Errorf("line counter: line %d", y)
		}
	}
	odd := patterned(attr, Fault{Kind: "cell-fetch", Mode: "odd", Share: 1})
	if got, want := line(odd, 50), line(good(attr), 50); cells(got, 6, 7) != cells(want, 6, 7) || cells(got, 7, 8) != cells(want, 6, 7) {
		t.Error("odd cells do not show the even ones")
	}
	after := patterned(text, Fault{Kind: "cell-fetch", Mode: "after", Number: 10, Share: 1})
	if got, want := line(after, 50), line(good(text), 50); cells(got, 0, 11) != cells(want, 0, 11) || cells(got, 30, 31) != cells(want, 10, 11) {
		t.Error("cells after 10 do not show cell 10")
	}
	generator := patterned(text, Fault{Kind: "character-generator", Mode: "data", Bit: 7, Level: 1})
	for c := range 40 {
		if got := line(generator, 33)[c*8]; got != generator.seenColour[4*40+c] {
			t.Errorf("cell %d: leftmost pixel %d, want ink %d", c, got, generator.seenColour[4*40+c])
		}
	}
	blank := patterned(attr, Fault{Kind: "blank-picture", Mode: "black"})
	for _, v := range []byte(line(blank, 10)) {
		if v != 0 {
			t.Fatalf("blank picture: index %d", v)
		}
	}
	dead := patterned(attr, Fault{Kind: "flash-dead"})
	before := line(dead, 20)
	dead.field = display.FlashFields
	if line(dead, 20) != before {
		t.Error("flash goes on")
	}
}

// The chain's measures, on a bare step of 500 mV: ringing's first swing, a ghost's
// place and height, one pole's 10 to 90 % time (0.3497/B, ln 9/(2 pi B)), hum's size.
func TestChain(t *testing.T) {
	const at = 2000
	run := func(c Chain) ([]float32, float64) {
		e, err := composite.NewEncoder(composite.Raster{Standard: video.Std625, PixelHz: 7e6, LinePixels: 448, Lines: 312}, 0)
		if err != nil {
			t.Fatal(err)
		}
		c = c.withDefaults()
		c.NoiseMV = 0
		x := make([]float32, 354122)
		for i := at; i < len(x); i++ {
			x[i] = 500
		}
		newChain(c, e, 312, 300, 1).apply(x, 0)
		return x, e.Rate()
	}
	x, rate := run(Chain{RingHz: 2e6, RingPart: 0.3})
	top, place := float32(0), 0
	for i, v := range x[:at+100] {
		if v > top {
			top, place = v, i
		}
	}
	// exp(-t/T) sin(wt) is greatest where tan(wt) = wT; T is 150 ns.
	w := 2 * math.Pi * 2e6
	peak := math.Atan(w*150e-9) / w
	want := 500 * (1 + 0.3*math.Exp(-peak/150e-9)*math.Sin(w*peak))
	if math.Abs(float64(top)-want) > 5 || math.Abs(float64(place-at)/rate-peak) > 40e-9 {
		t.Errorf("ringing: %.0f mV at %.0f ns, want about %.0f at %.0f", top, float64(place-at)/rate*1e9, want, peak*1e9)
	}
	x, rate = run(Chain{GhostNs: 1000, GhostPart: 0.2})
	n := int(math.Round(1e-6 * rate))
	if x[at+n-1] != 500 || x[at+n] != 600 {
		t.Errorf("ghost: %v, then %v mV", x[at+n-1], x[at+n])
	}
	x, rate = run(Chain{BandwidthHz: 1e6})
	low, high := 0, 0
	for i := at; i < at+200; i++ {
		if low == 0 && x[i] > 50 {
			low = i
		}
		if high == 0 && x[i] > 450 {
			high = i
		}
	}
	if got := float64(high-low) / rate * 1e9; math.Abs(got-349.7) > 60 { // a sample is 56 ns
		t.Errorf("one pole of 1 MHz: %.0f ns, want 350", got)
	}
	x, _ = run(Chain{HumMV: 80})
	least, most := float32(1e9), float32(-1e9)
	for _, v := range x[at:] {
		least, most = min(least, v), max(most, v)
	}
	if math.Abs(float64(most-least)-80) > 2 {
		t.Errorf("hum of %.1f mV, want 80", most-least)
	}
	x, _ = run(Chain{ClipMV: 400, Level: 0.9})
	if got := x[at+50]; got != 360 {
		t.Errorf("clipped at %v mV, want 360", got)
	}
}

// A fault that the first field does not show may show in a later one.
func TestVisibleLater(t *testing.T) {
	long(t)
	p := profiles(t)[0]
	for _, fault := range []string{"cell-fetch:mode=odd,share=0.1", "flash-dead"} {
		f, err := ParseFault(fault)
		if err != nil {
			t.Fatal(err)
		}
		seen := [2]int{} // at once, and later alone
		for seed := range uint64(8) {
			first := open(t, Scenario{Display: p, Seed: seed, Screen: ScreenListing, Faults: []Fault{f}, Fields: 2})
			capture(t, first)
			all := open(t, Scenario{Display: p, Seed: seed, Screen: ScreenListing, Faults: []Fault{f}, Fields: 2 * display.FlashFields})
			capture(t, all)
			switch {
			case first.Truth().Visible:
				seen[0]++
			case all.Truth().Visible:
				seen[1]++
			}
		}
		if seen[1] == 0 {
			t.Errorf("%s: seen at once in %d captures of 8, later in none", fault, seen[0])
		}
	}
}

// A fault that changes nothing on this screen says so.
func TestVisible(t *testing.T) {
	long(t)
	p := profiles(t)[0]
	zero := 0
	for _, tt := range []struct {
		fault  string
		screen Screen
		want   bool
	}{
		{"data-bit-stuck:bit=3,level=1", ScreenListing, true},
		{"border-latch:bit=1,level=0", ScreenListing, false}, // the border is black
		{"border-latch:bit=1,level=1", ScreenListing, true},
		{"noise", ScreenBoot, true},
		{"data-bit-weak:bit=3,level=1,mode=time,share=0.05", ScreenText, true},
		{"clean", ScreenText, false},
	} {
		f, err := ParseFault(tt.fault)
		if err != nil {
			t.Fatal(err)
		}
		b := open(t, Scenario{Display: p, Seed: 4, Screen: tt.screen, Border: &zero, Faults: []Fault{f}, Fields: 4})
		capture(t, b)
		if got := b.Truth().Visible; got != tt.want {
			t.Errorf("%s on %s: visible %v", tt.fault, tt.screen, got)
		}
	}
	// Of two, the one that shows is told from the one that does not.
	pair, err := ParseFaults("noise+border-latch:bit=1,level=0")
	if err != nil {
		t.Fatal(err)
	}
	b := open(t, Scenario{Display: p, Seed: 4, Screen: ScreenListing, Border: &zero, Faults: pair, Fields: 4})
	capture(t, b)
	if got := b.Truth().Shows; len(got) != 2 || !got[0] || got[1] {
		t.Errorf("noise and a border bit at 0 on a black border: shows %v", got)
	}
}
