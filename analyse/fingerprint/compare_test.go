package fingerprint

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse/analysetest"
	"backporch/analyse/survey"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
)

// printOf simulates a machine by its seed, from a field of its capture on, and takes its print as a device's would be.
func printOf(t *testing.T, ppm float64, seed uint64, screen simulator.Screen, device simulator.Device, faults ...simulator.Fault) *Print {
	t.Helper()
	p := *analysetest.Profile(t, "attr-256x192-50")
	p.PixelClockHz *= 1 + ppm*1e-6
	b, err := simulator.New(simulator.Scenario{Display: &p, Seed: seed, Screen: screen, Fields: 50, Device: device, Faults: faults})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(seed, 77))
	var fields []*video.Field
	for f, err := b.Next(); err == nil; f, err = b.Next() {
		for _, field := range f.Fields(video.TopFirst, 25) {
			field.Time += time.Duration(rng.NormFloat64() * 1e6)
			fields = append(fields, field)
		}
	}
	q := analysetest.Profile(t, "attr-256x192-50")
	info := video.Info{Kind: video.KindDevice, Standard: video.Std625, Rate: 25}
	s, _, err := survey.Run(fields, info, survey.Options{Display: q, Displays: []*display.Profile{q}})
	if err != nil {
		t.Fatal(err)
	}
	return Take(fields, info, s, q)
}

// The same machine on another screen, and after a repair of a fault, is still that machine; one whose
// clock is 100 ppm off is another.
func TestMachinesAreToldApart(t *testing.T) {
	d := simulator.Device{DelayLine: true, LumaHz: 5.2e6, ChromaHz: 1.1e6, NotchHz: 0.7e6, Pull: 0.2, Gain: 1, Colour: 1, NoiseMV: 1, FreeLines: 312.5, Without: simulator.ShowsBlue}
	stuck, err := simulator.ParseFault("data-bit-stuck:bit=3,level=1")
	if err != nil {
		t.Fatal(err)
	}
	faulty, repaired := printOf(t, 0, 3, "listing", d, stuck), printOf(t, 1, 3, "bars", d)
	if c := Compare(faulty, repaired); !c.Same() {
		t.Errorf("repaired: %+v of %+v", c, faulty.Ratio)
	}
	if c := Compare(faulty, printOf(t, 100, 3, "listing", d)); !c.Another() {
		t.Errorf("another clock: %+v", c)
	}
	if faulty.FieldRate == nil || faulty.Left == nil || faulty.Black == nil || len(faulty.Ratio) == 0 {
		t.Errorf("not all was measured: %+v", faulty)
	}
}

// A likelihood ratio keeps its promise: over pairs of one machine its reciprocal has mean 1, which is the mean
// over pairs of two machines of the ratio itself. Drawn from the very spreads it is made of.
func TestLikelihoodRatioIsOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 2026))
	for _, v := range append([]trait{ratioTrait, barTrait}, traits...) {
		v.stray = 0
		const sd = 0.1
		sum := 0.0
		const n = 200000
		for range n {
			d := math.Sqrt2*v.within*rng.NormFloat64() + sd*rng.NormFloat64()
			if rng.Float64() >= v.alike {
				d += math.Sqrt2 * v.between * rng.NormFloat64()
			}
			sum += math.Pow(10, v.weigh(d, sd)) / n
		}
		if math.Abs(sum-1) > 0.05 {
			t.Errorf("%s: mean %.3f", v.name, sum)
		}
	}
}

func TestCompareSaysWhatItLacks(t *testing.T) {
	if c := Compare(&Print{Display: "a"}, &Print{Display: "b"}); !c.Another() || len(c.Limits) == 0 {
		t.Errorf("displays: %+v", c)
	}
	c := Compare(&Print{}, &Print{})
	if c.Same() || c.Another() || len(c.Limits) != 2 {
		t.Errorf("nothing: %+v", c)
	}
	if p := c.Probability(0.95); math.Abs(p-0.95) > 1e-12 {
		t.Errorf("nothing changed the odds to %v", p)
	}
}
