package simulator

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"backporch/video"
	"backporch/video/display"
)

func profiles(t testing.TB) []*display.Profile {
	t.Helper()
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func open(t testing.TB, s Scenario) *Bench {
	t.Helper()
	b, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// capture takes all fields of a scenario.
func capture(t testing.TB, b *Bench) []*video.Field {
	t.Helper()
	var out []*video.Field
	for {
		f, err := b.Next()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, f.Fields(b.s.Order, 25)...)
	}
}

// meanField is the fields' mean luma.
func meanField(fields []*video.Field) (w, h int, y []float64) {
	w, h = fields[0].Width, fields[0].Height
	y = make([]float64, w*h)
	for _, f := range fields {
		for i, v := range f.Y {
			y[i] += float64(v) / float64(len(fields))
		}
	}
	return w, h, y
}

// Border and paper differ: the edges between them are measured where the luma passes half-way,
// knowing nothing of how the picture was made, and compared with the truth.
func TestTruthLiesAtTheEdges(t *testing.T) {
	long(t)
	for _, p := range profiles(t) {
		for seed := range uint64(5) {
			s := Random(p, 100+seed, "clean")
			s.Screen, s.Fields, s.Chain = ScreenFill00, 8, Chain{}
			border := 0
			s.Border = &border
			b := open(t, s)
			if p.Kind == display.Text {
				b.m.background = 3
			}
			for i := range b.m.ram { // ink nowhere, paper white
				b.m.ram[i] = 0
				if p.Kind == display.Attr && i >= p.ColourBase {
					b.m.ram[i] = 0x38
				}
			}
			if p.Kind == display.Text { // code 0x20 is a space
				for i := range b.m.ram {
					b.m.ram[i] = 0x20
				}
			}
			b.m.fresh = false
			b.queue = b.queue[:0]
			fields := capture(t, b)[4:]
			w, h, y := meanField(fields)
			truth := b.Truth()
			row := make([]float64, w)
			column := make([]float64, h)
			for i := 100; i < 200; i++ {
				for x := range row {
					row[x] += y[i*w+x] / 100
				}
			}
			for x := 250; x < 450; x++ {
				for i := range column {
					column[i] += y[i*w+x] / 200
				}
			}
			tol := 0.08 // samples; straight lines between samples cost up to 0.05
			if s := b.Truth().Device; s.Comb {
				tol = 0.3 // a comb moves edges a little: see the decoder's own test
			}
			check := func(what string, got, want, tol float64) {
				if math.Abs(got-want) > tol {
					t.Errorf("%s, seed %d, comb %v: %s at %.3f, truth %.3f", p.Name, seed, truth.Device.Comb, what, got, want)
				}
			}
			right := truth.OriginX + float64(p.Width)*truth.PitchX
			bottom := truth.OriginY + float64(p.Height)*truth.PitchY
			check("left edge", halfway(row, int(truth.OriginX)), truth.OriginX, tol)
			check("right edge", halfway(row, int(right)), right, tol)
			// A line is a whole: between the last dark and the first bright one.
			check("top edge", halfway(column, int(truth.OriginY))+0.5, truth.OriginY, 0.1)
			check("bottom edge", halfway(column, int(bottom))+0.5, bottom, 0.1)
		}
	}
}

// halfway finds where v passes the middle between its levels on both sides of place.
func halfway(v []float64, place int) float64 {
	mean := func(a, b int) float64 {
		s := 0.0
		for _, x := range v[a:b] {
			s += x / float64(b-a)
		}
		return s
	}
	level := (mean(place-14, place-7) + mean(place+7, place+14)) / 2
	for i := place - 6; i < place+6; i++ {
		if (v[i] < level) != (v[i+1] < level) {
			return float64(i) + (level-v[i])/(v[i+1]-v[i])
		}
	}
	return math.NaN()
}

// Memory read off the picture with the truth's geometry is the memory that the display read.
func TestPictureShowsMemory(t *testing.T) {
	long(t)
	for _, p := range profiles(t) {
		for _, spec := range []string{"clean", "data-bit-stuck:bit=2,level=1", "data-bit-weak:bit=6,level=0,share=0.5"} {
			t.Run(p.Name+" "+spec, func(t *testing.T) {
				fault, err := ParseFault(spec)
				if err != nil {
					t.Fatal(err)
				}
				s := Random(p, 7, "clean")
				s.Screen, s.Fields, s.Faults = ScreenText, 8, []Fault{fault}
				b := open(t, s)
				if p.Kind == display.Text { // white on black
					b.m.background = 0
					for i := range b.m.colour {
						b.m.colour[i] = 3
					}
				} else {
					for i := p.ColourBase; i < p.Size(); i++ { // no colours to tell apart here
						b.m.ram[i] = 7
					}
				}
				b.m.fresh = false
				written := append([]byte(nil), b.m.ram[:p.Size()]...)
				fields := capture(t, b)[4:]
				w, _, y := meanField(fields)
				truth := b.Truth()
				wrong, all := 0, 0
				for line := range p.Height {
					want := b.m.line(line)[p.BorderLeft:]
					at := int(truth.OriginY) + line
					for k := range p.Width {
						x := truth.OriginX + (float64(k)+0.5)*truth.PitchX
						i := int(x)
						v := y[at*w+i] + (x-float64(i))*(y[at*w+i+1]-y[at*w+i])
						colour := p.Colours[want[k]].Y
						if colour > 0.3 && colour < 0.7 {
							continue
						}
						all++
						if (v > 16+219*0.42) != (colour > 0.5) {
							wrong++
						}
					}
				}
				// Straight sampling makes a few mistakes at single pixels on soft devices.
				if all < 10000 || wrong > all/100 {
					t.Errorf("%d of %d pixels wrong", wrong, all)
				}
				changed := 0
				for i, v := range truth.Read {
					if v == written[i] {
						continue
					}
					if v != written[i]^1<<fault.Bit {
						t.Fatalf("address %d: %02x became %02x", i, written[i], v)
					}
					changed++
				}
				if (changed > 0) != (spec != "clean") {
					t.Errorf("%d bytes changed", changed)
				}
			})
		}
	}
}

// The same scenario gives the same capture; another field has other noise; another
// seed another capture.
func TestSeeds(t *testing.T) {
	long(t)
	all := profiles(t)
	for i, kind := range Kinds() {
		p := []*display.Profile{all[1], all[2]}[i%2] // one of each sort
		if k, _ := findKind(kind); k.only == display.Attr {
			p = all[1]
		} else if k.only == display.Text {
			p = all[2]
		}
		s := Random(p, 3, kind)
		s.Fields = 4
		s.Device.Without = ShowsSnow // a filled screen has no noise
		s.Device.NoiseMV = 2
		a, b := capture(t, open(t, s)), capture(t, open(t, s))
		for i := range a {
			if string(a[i].Y) != string(b[i].Y) || string(a[i].Cr) != string(b[i].Cr) {
				t.Fatalf("%s %s: field %d differs", p.Name, kind, i)
			}
		}
		if string(a[1].Y) == string(a[3].Y) {
			t.Errorf("%s %s: two fields are equal", p.Name, kind)
		}
	}
}

func TestFlash(t *testing.T) {
	long(t)
	p := profiles(t)[0]
	s := Scenario{Display: p, Seed: 32, Screen: ScreenFill00, Fields: 64}
	b := open(t, s)
	for i := range b.m.ram {
		b.m.ram[i] = 0
		if i >= p.ColourBase {
			b.m.ram[i] = 0x80 | 7 // white ink on black, flashing, nothing drawn
		}
	}
	b.m.fresh = false
	fields := capture(t, b)
	last, runs := false, []int{0}
	for i, f := range fields {
		lit := f.Y[150*f.Width+360] > 100
		if i > 0 && lit != last {
			runs = append(runs, 0)
		}
		runs[len(runs)-1]++
		last = lit
	}
	for _, n := range runs[1 : len(runs)-1] {
		if n != display.FlashFields {
			t.Errorf("runs of %v fields, want %d", runs, display.FlashFields)
			break
		}
	}
	if len(runs) < 4 {
		t.Errorf("runs %v", runs)
	}
}

// Noise of N mV rms in 5 MHz is 219 N/700 codes rms on flat luma, less what
// the device's own filters take (ITU-R BT.1439's S/N: white over rms noise).
func TestNoiseLevel(t *testing.T) {
	long(t)
	p := profiles(t)[0]
	border := 7
	s := Scenario{Display: p, Seed: 1, Screen: ScreenFill00, Border: &border, Fields: 12,
		Chain: Chain{NoiseMV: 20}, Device: Device{LumaHz: 5e6, NotchHz: 0.5e6, Gain: 1, Colour: 1}}
	fields := capture(t, open(t, s))
	var sum, n float64
	for i := 2; i < len(fields); i++ {
		for y := 5; y < 25; y++ {
			for x := 60; x < 660; x++ {
				d := float64(fields[i].Y[y*720+x]) - float64(fields[i-2].Y[y*720+x])
				sum += d * d / 2
				n++
			}
		}
	}
	want := 219.0 * 20 / 700
	if got := math.Sqrt(sum / n); got < want*0.75 || got > want*1.05 {
		t.Errorf("noise %.2f codes rms, want %.2f or a little less", got, want)
	}
}

// Without a signal the device shows what it shows.
func TestNoSignal(t *testing.T) {
	long(t)
	for _, p := range profiles(t)[:2] {
		for _, without := range []string{ShowsBlue, ShowsBlack, ShowsBars, ShowsFrozen, ShowsSnow} {
			s := Random(p, 5, "no-signal")
			s.Device = randomDevice(rand.New(rand.NewPCG(5, 5)), p.Standard)
			s.Device.Without, s.Fields = without, 8
			s.Faults[0].MV = 6
			fields := capture(t, open(t, s))
			still := string(fields[0].Y) == string(fields[len(fields)-2].Y)
			if still != (without != ShowsSnow) {
				t.Errorf("%s, %s: still %v", p.Name, without, still)
			}
		}
	}
}

func TestFaultsReadAndWrite(t *testing.T) {
	for _, p := range profiles(t) {
		for _, kind := range Kinds() {
			for seed := range uint64(5) {
				f := Random(p, seed, kind).Faults[0]
				got, err := ParseFault(f.String())
				if err != nil || got != f {
					t.Errorf("%v became %v, %v", f, got, err)
				}
			}
		}
	}
	for _, bad := range []string{"", "nonsense", "noise:mv=x", "noise:bit=3", "data-bit-stuck:bit=8", "data-bit-stuck:level=-1", "sync-weak:mode=x", "noise:mv", "noise:mv=NaN"} {
		if f, err := ParseFault(bad); err == nil {
			t.Errorf("%q: read as %v", bad, f)
		}
	}
	for _, all := range []struct{ text, want string }{
		{"data-bit-weak", "data-bit-weak:bit=0,level=0,mode=addresses,share=0.2"},
		{"address-line-stuck:lines=2/9,lanes=4,level=1", "address-line-stuck:lines=2/9,lanes=4,level=1"},
	} {
		if f, err := ParseFault(all.text); err != nil || f.String() != all.want {
			t.Errorf("%s: read as %v, %v", all.text, f, err)
		}
	}
	pair, err := ParseFaults("noise:mv=30+data-bit-stuck:bit=3,level=1")
	if err != nil || len(pair) != 2 || pair[1].Bit != 3 {
		t.Errorf("%v, %v", pair, err)
	}
}

func TestRefuses(t *testing.T) {
	all := profiles(t)
	attr, text := all[0], all[2]
	nine := 9
	for name, s := range map[string]Scenario{
		"no display":       {},
		"no such screen":   {Display: attr, Screen: "x"},
		"border":           {Display: attr, Border: &nine},
		"component":        {Display: attr, Faults: []Fault{{Kind: "colour-path", Component: "luma"}}},
		"no component":     {Display: text, Faults: []Fault{{Kind: "colour-path"}}},
		"colour RAM":       {Display: attr, Faults: []Fault{{Kind: "data-bit-stuck", Memory: "colour"}}},
		"colour bit":       {Display: text, Faults: []Fault{{Kind: "data-bit-stuck", Memory: "colour", Bit: 5}}},
		"kind":             {Display: attr, Faults: []Fault{{Kind: "x"}}},
		"negative fields":  {Display: attr, Fields: -1},
		"border latch bit": {Display: attr, Faults: []Fault{{Kind: "border-latch", Bit: 3}}},
	} {
		if _, err := New(s); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func FuzzParseFault(f *testing.F) {
	f.Add("data-bit-stuck:bit=3,level=1")
	f.Add("noise:mv=20")
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseFault(text)
		if err != nil {
			return
		}
		if b, err := ParseFault(a.String()); err != nil || a != b {
			t.Errorf("%v became %v, %v", a, b, err)
		}
	})
}

func BenchmarkField(b *testing.B) {
	for _, p := range profiles(b) {
		for _, kind := range []string{"clean", "data-bit-weak"} {
			b.Run(fmt.Sprintf("display=%s/fault=%s", p.Name, kind), func(b *testing.B) {
				s := Random(p, 2, kind)
				s.Screen, s.Fields = ScreenText, math.MaxInt
				bench := open(b, s)
				fields := 0
				for b.Loop() {
					bench.queue = bench.queue[:0]
					bench.produce()
					fields++
				}
				perField := b.Elapsed().Seconds() / float64(b.N)
				b.ReportMetric(perField*1e3, "ms/field")
				b.ReportMetric(1/p.FieldHz()/perField, "x-realtime")
			})
		}
	}
}

// long skips a test under the race detector: nothing here starts a goroutine, and
// the plain run has it.
func long(t *testing.T) {
	t.Helper()
	if underRace {
		t.Skip("many fields, one goroutine")
	}
}
