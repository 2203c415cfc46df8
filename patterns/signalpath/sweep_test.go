package signalpath

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/survey"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
	"backporch/video/videotest"
)

// A dose is an impairment of one strength, and what it should measure.
type dose struct {
	fault string // in the words of simulator.ParseFault; "": none
	chain simulator.Chain
	known bool // what the device shows of a good machine
	truth map[string]float64
}

// An impairment is swept over its range; at is from 0 to 1, and other a second particular, from 0 to 1 as well.
type impairment struct {
	name string
	dose func(p *display.Profile, at, other float64) dose
}

func along(a, b, at float64) float64 { return a + (b-a)*at }

// sweeps are the impairments that a capture can show. Millivolts are of 700 or 714 from black to white; a first swing is a quarter of a cycle
// after an edge, what is left after 600 ns dies in 400.
var sweeps = []impairment{
	{"clean", func(*display.Profile, float64, float64) dose {
		return dose{truth: map[string]float64{"hue": 0, "saturation": 100, "level": 100}}
	}},
	{"noise", func(p *display.Profile, at, _ float64) dose {
		return dose{fault: fmt.Sprintf("noise:mv=%.2f", 3*math.Pow(20, at)), truth: map[string]float64{}}
	}},
	{"bandwidth", func(_ *display.Profile, at, _ float64) dose {
		mhz := along(0.5, 2.5, at)
		return dose{fault: fmt.Sprintf("low-bandwidth:hz=%.0f", mhz*1e6), truth: map[string]float64{"bandwidth": mhz}}
	}},
	{"bandwidth, device known", func(_ *display.Profile, at, _ float64) dose {
		mhz := along(1.5, 3.5, at)
		return dose{fault: fmt.Sprintf("low-bandwidth:hz=%.0f", mhz*1e6), known: true, truth: map[string]float64{"own bandwidth": mhz}}
	}},
	{"ringing", func(_ *display.Profile, at, other float64) dose {
		hz, share := along(1.5e6, 4e6, other), along(0.08, 0.45, at)
		return dose{fault: fmt.Sprintf("ringing:hz=%.0f,share=%.3f", hz, share), truth: map[string]float64{
			"ringing": 100 * share * math.Exp(-600./400), "first swing": 100 * share * math.Exp(-1/(4*hz*400e-9)), "ringing Hz": hz, "decay": 400,
		}}
	}},
	{"ghost", func(p *display.Profile, at, other float64) dose {
		share, period := along(0.05, 0.4, at), along(3, 15, other)
		return dose{fault: fmt.Sprintf("ghost:share=%.3f,period=%.2f", share, period), truth: map[string]float64{"ghost": 100 * share, "ghost ns": period / p.PixelClockHz * 1e9}}
	}},
	{"fixed bars", func(p *display.Profile, at, other float64) dose {
		mv, period := 6*math.Pow(15, at), float64(int(4)<<int(3*other))
		return dose{fault: fmt.Sprintf("fixed-bars:period=%.0f,mv=%.1f", period, mv), truth: map[string]float64{"fixed-bars": ofWhite(p, mv), "period": period}}
	}},
	{"interference", func(p *display.Profile, at, other float64) dose {
		hz, mv := 40e3*math.Pow(90, at), 10*math.Pow(10, other)
		return dose{fault: fmt.Sprintf("interference:hz=%.0f,mv=%.1f", hz, mv), truth: map[string]float64{"interference": ofWhite(p, mv), "interference Hz": hz}}
	}},
	{"hum", func(p *display.Profile, at, other float64) dose {
		mv, hz := 20*math.Pow(9.5, at), 50*float64(1+int(2*other))
		if p.Standard == video.Std525 {
			hz *= 1.2
		}
		return dose{fault: fmt.Sprintf("hum:mv=%.1f,hz=%.0f", mv, hz), truth: map[string]float64{"hum": ofWhite(p, mv), "hum Hz": hz}}
	}},
	{"jitter", func(_ *display.Profile, at, _ float64) dose {
		return dose{fault: fmt.Sprintf("sync-weak:mode=jitter,share=%.3f", at), truth: map[string]float64{"jitter": 60 + 200*at, "sync-jitter": 60 + 200*at}}
	}},
	{"level high", func(_ *display.Profile, at, _ float64) dose {
		share := along(0.1, 0.75, at)
		return dose{fault: fmt.Sprintf("level-high:share=%.3f", share), truth: map[string]float64{"level": 100 + 100*share}}
	}},
	{"level low", func(_ *display.Profile, at, _ float64) dose {
		share := along(0.1, 0.65, at)
		return dose{fault: fmt.Sprintf("level-low:share=%.3f", share), truth: map[string]float64{"level": 100 - 100*share}}
	}},
	{"hue", func(_ *display.Profile, at, _ float64) dose {
		degrees := along(-80, 80, at)
		return dose{fault: fmt.Sprintf("hue-shift:degrees=%.1f", degrees), truth: map[string]float64{"hue": degrees}}
	}},
	{"saturation", func(_ *display.Profile, at, _ float64) dose {
		size := along(0.35, 1.6, at)
		return dose{chain: simulator.Chain{Chroma: size}, truth: map[string]float64{"saturation": 100 * size}}
	}},
	{"chroma delay", func(_ *display.Profile, at, _ float64) dose {
		return dose{chain: simulator.Chain{ChromaNs: along(-300, 400, at)}, truth: map[string]float64{"chroma-delay": 0}}
	}},
	{"clipping", func(_ *display.Profile, at, _ float64) dose {
		share := along(0.1, 0.5, at)
		return dose{fault: fmt.Sprintf("clipping:share=%.3f", share), truth: map[string]float64{"white-cut": 100 - 100*share}}
	}},
	{"white's end", func(_ *display.Profile, at, _ float64) dose {
		return dose{fault: fmt.Sprintf("level-high:share=%.3f", along(0.05, 0.5, at)), truth: map[string]float64{"clipped": 0}}
	}},
	{"crosstalk", func(*display.Profile, float64, float64) dose { // of luma and chroma, which any device has
		return dose{truth: map[string]float64{"dot-crawl": 0, "cross-colour": 0}}
	}},
}

func ofWhite(p *display.Profile, mv float64) float64 { return 100 * mv / p.Standard.Scan().WhiteMV }

// A shareRight is how often a figure was right: within a tenth of what was put in, or within twice its stated uncertainty; where it says that the device hides
// some of it, what was put in may be more. A capture that says that it cannot tell is counted by itself.
type shareRight struct{ right, of, untold int }

func (t *shareRight) count(truth float64, e *analyse.Estimate, least, tenth bool) bool {
	if e == nil || math.IsNaN(e.Value) {
		t.untold++
		return true
	}
	t.of++
	off := math.Abs(e.Value - truth)
	if least { // which way does not matter
		truth = math.Abs(truth)
	}
	if off <= 2*e.Spread || tenth && off <= 0.1*math.Abs(truth) || least && e.Value < truth {
		t.right++
		return true
	}
	return false
}

// Each impairment is measured within a tenth or its stated uncertainty over its range, on four displays, through decoders of any sort and through
// codecs; a clean chain measures clean. SWEEP=N asks for N captures an impairment in place of a few; SWEEP_SEED=N begins elsewhere, SWEEP_ONLY=names takes some.
func TestSweep(t *testing.T) {
	n, full := 4, false
	if v, err := strconv.Atoi(os.Getenv("SWEEP")); err == nil && v > 0 {
		n, full = v, true
	} else if testing.Short() {
		t.Skip("it takes half a minute")
	}
	seed, _ := strconv.Atoi(os.Getenv("SWEEP_SEED"))
	var all shareRight
	for i, of := range sweeps {
		figures, clean := map[string]*shareRight{}, 0
		if only := os.Getenv("SWEEP_ONLY"); only != "" && !strings.Contains(only, of.name) {
			continue
		}
		for k := range n {
			name := []string{"attr-256x192-50", "text-40x25-60", "text-40x25-50", "attr-256x192-60"}[k%4]
			p := analysetest.Profile(t, name)
			d := of.dose(p, (float64(k)+0.5)/float64(n), math.Mod(0.618*float64(k+1), 1))
			s, truth := swept(t, p, uint64(seed+1000*i+k), d, k)
			var device map[string]float64
			if d.known {
				device = deviceOf(t, p, uint64(seed+1000*i+k), truth.Device)
			}
			readings := Readings(s, device)
			if d.fault == "" && Assess(s, readings).Word == CleanOutput {
				clean++
			}
			if i < 2 { // the only noise is what the chain and the device have
				d.truth["snr"] = 20 * math.Log10(p.Standard.Scan().WhiteMV/truth.NoiseMV)
			}
			if _, ok := d.truth["chroma-delay"]; ok {
				d.truth["chroma-delay"] = truth.ChromaNs
			}
			quietly(t, p, uint64(seed+1000*i+k), truth, d, k)
			for figure, e := range read(s, readings, d.truth) {
				if figures[figure] == nil {
					figures[figure] = &shareRight{}
				}
				tenth := figure != "snr" // of decibels a tenth is far too much
				if !figures[figure].count(d.truth[figure], e.Estimate, e.AtLeast, tenth) {
					t.Logf("%s %s, %s, seed %d: %v +- %v, put in %v", figure, d.fault, name, seed+1000*i+k, e.Estimate.Value, e.Estimate.Spread, d.truth[figure])
				}
			}
		}
		for figure, c := range figures {
			t.Logf("%-12s %-16s right %d of %d, not told %d", of.name, figure, c.right, c.of, c.untold)
			all.right, all.of, all.untold = all.right+c.right, all.of+c.of, all.untold+c.untold
			if !full && c.right < c.of-1 || full && float64(c.right) < 0.85*float64(c.of) {
				t.Errorf("%s: %s is right %d of %d times", of.name, figure, c.right, c.of)
			}
		}
		if of.name == "clean" {
			t.Logf("clean chains that are called clean: %d of %d", clean, n)
			if float64(clean) < 0.95*float64(n) {
				t.Errorf("%d of %d clean chains are called clean", clean, n)
			}
		}
	}
	t.Logf("in all %d of %d", all.right, all.of)
	if float64(all.right) < 0.94*float64(all.of) {
		t.Errorf("%d of %d figures are right", all.right, all.of)
	}
}

// read gives the readings by the names of what was put in, those of their notes as well.
func read(s *analyse.Survey, readings []Reading, truth map[string]float64) map[string]Reading {
	out := map[string]Reading{}
	for _, r := range readings {
		out[r.Name] = r
	}
	if r, ok := out["bandwidth"]; ok && r.Own != nil {
		own := Reading{Estimate: &analyse.Estimate{Value: *r.Own, Spread: r.Estimate.Spread}, AtLeast: r.Floor}
		if r.OwnSpread != nil {
			own.Estimate.Spread = *r.OwnSpread
		}
		out["own bandwidth"] = own
	}
	of := func(e analyse.Estimate) Reading { return Reading{Estimate: &e} }
	if r := s.Signal.Ringing; r != nil && r.Late >= lateSure { // otherwise the note says nothing of them
		first, hz, decay := ringingOf(r)
		out["first swing"], out["ringing Hz"], out["decay"] = of(first), of(hz), of(decay)
	}
	if g := s.Signal.Ghost; g.Stands(s.Signal.Ringing) {
		out["ghost ns"] = of(g.Ns)
	}
	if tone := firstTone(s, true); tone != nil {
		out["period"] = of(analyse.Estimate{Value: tone.PeriodPx})
	}
	if tone := firstTone(s, false); tone != nil {
		out["interference Hz"] = of(tone.Hz)
	}
	if h := s.Signal.Hum; h != nil {
		out["hum Hz"] = of(h.Hz)
	}
	for name := range out {
		if _, ok := truth[name]; !ok {
			delete(out, name)
		}
	}
	for name := range truth {
		if _, ok := out[name]; !ok {
			out[name] = Reading{}
		}
	}
	return out
}

// deviceOf is what a device shows of a good machine with a screen full of words.
func deviceOf(t *testing.T, p *display.Profile, seed uint64, device simulator.Device) map[string]float64 {
	t.Helper()
	sc := scenario(p, seed+500, dose{}, 0)
	sc.Device = device
	var fields []*video.Field
	for _, f := range simulatortest.Frames(t, sc) {
		fields = append(fields, f.Fields(sc.Order, p.FieldHz()/2)...)
	}
	s, _, err := survey.Run(fields, video.Info{Kind: video.KindFile, Rate: p.FieldHz() / 2, Standard: p.Standard}, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]float64{}
	for _, r := range Readings(s, nil) {
		if r.Estimate != nil {
			out[r.Name] = r.Estimate.Value
		}
	}
	return out
}

// words are the faults of a dose.
func (d dose) words() []string {
	if d.fault == "" {
		return nil
	}
	return []string{d.fault}
}

// scenario is the k-th capture of a sweep.
func scenario(p *display.Profile, seed uint64, d dose, k int) simulator.Scenario {
	sc := simulator.Scenario{
		Display: p, Seed: seed, Fields: 24, Order: video.TopFirst, Chain: d.chain,
		Screen: []simulator.Screen{"text", "boot", "bars", "listing", "busy"}[k%5],
	}
	if p.Standard == video.Std525 {
		sc.Order = video.BottomFirst
	}
	return sc
}

// swept captures a scenario, every second one through a codec, and surveys it.
func swept(t *testing.T, p *display.Profile, seed uint64, d dose, k int) (*analyse.Survey, simulator.Truth) {
	t.Helper()
	sc := scenario(p, seed, d, k)
	frames, truth := simulatortest.Capture(t, sc, d.words()...)
	info := video.Info{Kind: video.KindFile, Rate: p.FieldHz() / 2, Standard: p.Standard}
	quality := []int{0, 90, 0, 75}[k/4%4]
	var fields []*video.Field
	for _, f := range frames {
		if quality > 0 {
			info.Codec, info.Block = "MJPG", 8
			f = videotest.ThroughJPEG(t, f, quality)
		}
		fields = append(fields, f.Fields(sc.Order, info.Rate)...)
	}
	s, _, err := survey.Run(fields, info, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	return s, truth
}
