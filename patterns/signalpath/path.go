package signalpath

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// The signal-to-noise ratio of a capture, dB, on a good chain and on a noisy one, as Gaussians: good grabbers read 36 to
// 50 dB, noise that makes somebody look for a fault reads 15 to 33 dB. With the priors they cross near 35 dB: between
// the 38 and 30 dB at which viewers stop calling noise "good" and "fairly good" (BBC Research Report 1960/08: 8 %
// and 20 % peak to peak, taken as six standard deviations). Centres and widths are common practice, no source; of 78 captures of good chains by
// simulators that others wrote none reads less than 38 dB.
const (
	cleanSNR, cleanSNRSpread = 45.0, 3.4
	noisySNR, noisySNRSpread = 27.0, 5.0
)

// A figure is a log-normal distribution: its median, and the standard deviation of its logarithm to base e.
type figure struct{ median, spread float64 }

// Jitter in ns and tear in samples of paths whose sync is good, noisy or weak. A line-locked decoder leaves
// a good line within a few ns, noise of 25 dB moves its slicer by some 10 ns; jitter that shows is a pixel and more. The least
// that a capture of 8 bits tells is put at 1 ns and 0.05 sample. Common practice, no source.
var (
	goodJitter, noisyJitter, weakJitter = figure{3, 0.9}, figure{8, 0.8}, figure{100, 0.9}
	goodTear, noisyTear, weakTear       = figure{0.15, 0.8}, figure{0.35, 0.7}, figure{5, 0.9}
)

const (
	leastJitter, leastTear = 1.0, 0.05
	noisyAt                = 25.0 // dB, for which noisyJitter and noisyTear stand
)

// ln is the log-density of the logarithm of a value; a value not measured says nothing.
func (f figure) ln(value *float64, least float64) float64 {
	if value == nil {
		return 0
	}
	return nats.Gauss(math.Log(math.Max(*value, least)), math.Log(f.median), f.spread)
}

// steadyRoll, in lines a second: less is a frame counted wrong.
const steadyRoll = 1.0

// syncLikelihoods are the log-likelihoods of the sync figures of a capture with a picture, on a clean
// path, without signal, with weak sync and with noise. Weak sync rolls, tears or jitters, each as often, and the last two often
// come together.
func syncLikelihoods(s *analyse.Sync, snr *float64) (clean, lost, weak, noise float64) {
	jitter := func(f figure) float64 { return f.ln(s.JitterNs, leastJitter) }
	tear := func(f figure) float64 { return f.ln(s.TearPx, leastTear) }
	either := func(a, b float64) float64 { return nats.LogSum(a, b) - math.Ln2 }
	rolls := s.RollLinesPerS != nil && math.Abs(*s.RollLinesPerS) > steadyRoll
	// How often the picture moves up or down: a clean path hardly ever, one without signal may show anything.
	moves := [5]float64{0.0005, 0.05, 0.95, 0.1, 0.003} // clean, lost, roll, tear or jitter, noise
	if !rolls {
		for i, p := range moves {
			moves[i] = 1 - p
		}
	}
	state := func(odds map[analyse.SyncState]float64) float64 { return math.Log(odds[s.State]) }
	clean = jitter(goodJitter) + tear(goodTear) + math.Log(moves[0])
	// Noise moves the lines by as much as it is strong; where it wasn't measured that accounts for nothing.
	byNoise, torn := goodJitter, goodTear
	if snr != nil {
		part := math.Pow(10, (noisyAt-*snr)/20)
		byNoise.median = math.Max(goodJitter.median, noisyJitter.median*part)
		torn.median = math.Max(goodTear.median, noisyTear.median*part)
	}
	noise = jitter(byNoise) + tear(torn) + math.Log(moves[4])
	// Something that holds to a grid of lines is a picture; the figures then say nothing for a lost signal.
	lost = either(clean, noise) + math.Log(0.001)
	weak = nats.LogSum(
		jitter(goodJitter)+tear(goodTear)+math.Log(moves[2]),
		jitter(weakJitter)+either(tear(goodTear), tear(weakTear))+math.Log(moves[3]),
		either(jitter(goodJitter), jitter(weakJitter))+tear(weakTear)+math.Log(moves[3]),
	) - math.Log(3)
	if s.State == analyse.Locked || rolls {
		return clean, lost, weak, noise
	}
	// It does not hold still, for what these figures say or another reason, such as steps up and down.
	clean += state(map[analyse.SyncState]float64{analyse.Unstable: 0.02, analyse.NoLock: 0.002})
	noise += state(map[analyse.SyncState]float64{analyse.Unstable: 0.05, analyse.NoLock: 0.02})
	lost += state(map[analyse.SyncState]float64{analyse.Unstable: 1, analyse.NoLock: 20})
	return clean, lost, weak, noise
}

// pathKinds are what can be wrong with a picture that is there, beside weak sync and noise.
var pathKinds = []string{
	"hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "interference",
	"colour-lost", "hue-shift", "level-high", "level-low", "clipping",
}

// Hypotheses weighs what can be wrong with the signal path of a survey, beside a good machine's where it is not nil; Like is ln of the
// likelihood.
func Hypotheses(s, good *analyse.Survey, p *display.Profile) []patterns.Hypothesis {
	list := pathHypotheses(lessDevice(still(s, p), good))
	besideGood(list, good, p)
	return list
}

// pathHypotheses lists what can be wrong with the signal path. Exactly one of them
// holds; noise on a picture that also moves is the weak sync's doing.
func pathHypotheses(s *analyse.Survey) []patterns.Hypothesis {
	of := func(name string) patterns.Hypothesis {
		k := patterns.KindOf(name)
		return patterns.Hypothesis{Fault: &patterns.Fault{Class: k.Class, Kind: k.Name}, Prior: math.Log(k.Prior)}
	}
	lost, moving, grainy := of("no-signal"), of("sync-weak"), of("noise")
	clean := patterns.Hypothesis{Prior: math.Log(cleanPath())}
	if list := byDevice(s, clean, lost, moving, grainy); list != nil {
		return list
	}
	if s.Sync.Picture == "blank" || EvenBlack(s) {
		return blackHypotheses(s, clean, lost, moving, grainy, of("blank-picture"))
	}
	if s.Sync.State == analyse.NoSignal {
		clean.Like, lost.Like, moving.Like, grainy.Like = math.Log(0.0001), math.Log(0.948), math.Log(0.01), math.Log(0.001)
		lost.Why = []string{instead(&s.Sync)}
		return []patterns.Hypothesis{clean, lost, moving, grainy}
	}
	syncClean, syncLost, syncWeak, syncNoise := syncLikelihoods(&s.Sync, s.Signal.SNRdB)
	var good, bad, either float64 // of the noise
	if snr := s.Signal.SNRdB; snr != nil && s.Sync.State == analyse.Locked {
		where := ""
		if c := s.Signal.ChromaSNRdB; c != nil && *c < *snr {
			snr, where = c, " in chroma"
		}
		good, bad = nats.Gauss(math.Min(*snr, cleanSNR), cleanSNR, cleanSNRSpread), nats.Gauss(math.Max(*snr, noisySNR), noisySNR, noisySNRSpread)
		either = nats.LogSum(good, bad) - math.Ln2
		grainy.Why = []string{fmt.Sprintf("signal to noise is %.0f dB%s; a good chain has 36 dB or more", *snr, where)}
	}
	clean.Like = syncClean + good + traitLike(s, "")
	lost.Like = syncLost + either + traitLike(s, "no-signal")
	moving.Like = syncWeak + either + traitLike(s, "sync-weak")
	grainy.Like = syncNoise + bad + traitLike(s, "noise")
	moving.Why = syncReasons(&s.Sync)
	list := []patterns.Hypothesis{clean, lost, moving, grainy}
	for _, name := range pathKinds {
		h := of(name)
		noise := good
		if part := noisy[name]; part > 0 {
			noise = nats.LogSum(good+math.Log1p(-part), bad+math.Log(part))
		}
		h.Like = syncClean + noise + traitLike(s, name) + colourLike(s, name)
		if movesEdges[name] { // what moves edges up and down moves them aside as well
			h.Like += nats.LogSum(syncClean, syncNoise) - math.Ln2 - syncClean
		}
		if name == "hum" && s.Signal.Hum != nil { // hum that moves the slicing level moves every line's start
			h.Like += nats.LogSum(0, syncWeak+math.Log(0.3)-syncClean)
		}
		if name == "ghost" && s.Straightened { // a copy of sync moves the slicing level, and does so by other parts in the vertical interval
			h.Like += nats.LogSum(0, syncWeak+math.Log(copyMoves)-syncClean)
		}
		switch name {
		case "colour-lost":
			if s.Sync.State == analyse.Locked {
				h.Like += killedColour(s)
			}
		case "ghost", "ringing", "low-bandwidth":
			h.Like += blurredColours(s, name)
			if takesColour(s, name) && s.Sync.State == analyse.Locked && s.Signal.ChromaDead { // the burst goes as the edges do
				h.Like += nats.LogSum(0, killedColour(s)) - math.Ln2
			}
		}
		particulars(s, &h)
		list = append(list, h)
	}
	return heard(&s.Sync, list)
}

// noisy is how often what a kind adds to the picture is counted as noise: what is taken off it is not all of it.
var noisy = map[string]float64{"interference": 0.4, "fixed-bars": 0.2, "hum": 0.05, "low-bandwidth": 0.02, "level-low": 0.05, "ringing": 0.02, "ghost": 0.02}

// movesEdges are the kinds that add to the picture what shifts its edges as noise does.
var movesEdges = map[string]bool{"hum": true, "fixed-bars": true, "interference": true, "ringing": true, "low-bandwidth": true, "ghost": true}

// copyMoves is how often a copy of the picture moves lines as well. Common practice, no source.
const copyMoves = 0.1

// cleanPath is the probability of a path where nothing is wrong.
func cleanPath() float64 {
	sum := patterns.KindOf("no-signal").Prior + patterns.KindOf("sync-weak").Prior + patterns.KindOf("noise").Prior
	for _, name := range pathKinds {
		sum += patterns.KindOf(name).Prior
	}
	return 1 - sum
}

// lessDevice is a survey of which what a good machine's capture shows as well speaks for no fault: edges as soft as these are the device's, and
// those much softer are not.
func lessDevice(s, good *analyse.Survey) *analyse.Survey {
	if good == nil {
		return s
	}
	out := *s
	out.Signal.Good = &good.Signal
	if s.Signal.SlowGain == nil {
		return &out
	}
	misread := misreadRise
	if g := s.Signal.Ghost; g != nil && g.Alone {
		misread = misreadAlone
	}
	gain := *s.Signal.SlowGain + slowerThan(s.Signal.Rise, good.Signal.Rise, misread)
	if own := good.Signal.SlowGain; own != nil && *own > 0 {
		gain -= *own
	}
	out.Signal.SlowGain = &gain
	return &out
}

// The rise of edges over that behind the good machine: how much two captures on one bench are read apart, and what one low-pass more makes of it; how
// often pixels that are misread make edges look softer, and how often where the picture's alone are known. Common practice, no source.
var sameRise, softerRise = figure{1, 0.15}, figure{2, 0.5}

const misreadRise, misreadAlone = 0.03, 0.3

// slowerThan is ln of the likelihood of a rise behind one more low-pass than a good machine's has, over that behind the same chain.
func slowerThan(rise, good *analyse.Estimate, misread float64) float64 {
	if rise == nil || good == nil || !(rise.Value > 0 && good.Value > 0) {
		return 0
	}
	ratio := &analyse.Estimate{Value: rise.Value / good.Value}
	ratio.Spread = ratio.Value * math.Hypot(rise.Spread/rise.Value, good.Spread/good.Value)
	softer := softerRise.badOf(ratio, 0.1)
	return softer - nats.LogSum(math.Log1p(-misread)+sameRise.goodOf(ratio, 0.1), math.Log(misread)+softer)
}

// particulars fills in what belongs to the kind, and the reason.
func particulars(s *analyse.Survey, h *patterns.Hypothesis) {
	f := h.Fault
	for i := range traits {
		if t := &traits[i]; t.kind == f.Kind && t.read(s) != nil && (t.kind != "fixed-bars" && t.kind != "interference" || firstTone(s, t.kind == "fixed-bars") != nil) {
			h.Why = []string{t.why(s)}
		}
	}
	switch f.Kind {
	case "hum":
		if u := s.Signal.Hum; u != nil && !math.IsNaN(u.Hz.Value) {
			f.FrequencyHz = &u.Hz.Value
		}
	case "fixed-bars":
		if t := firstTone(s, true); t != nil {
			f.PeriodPx = &t.PeriodPx
		}
	case "interference":
		if t := firstTone(s, false); t != nil {
			f.FrequencyHz = &t.Hz.Value
		}
	case "low-bandwidth":
		if e := s.Signal.Rise; e != nil {
			h.Why = []string{fmt.Sprintf("edges take %.0f ns from 10 to 90 %%, in the shape of one low-pass more than a good chain has; a good chain's take 70 to 150, some decoders' up to 230", e.Value)}
		}
	case "ringing":
		if r := s.Signal.Ringing; r != nil {
			f.FrequencyHz = &r.Hz.Value
			h.Why = []string{fmt.Sprintf("edges ring at %s, %.0f %% of the step at first", patterns.InHz(r.Hz.Value), r.Pct.Value)}
		}
	case "ghost":
		if g := s.Signal.Ghost; g != nil {
			h.Why = []string{fmt.Sprintf("a second copy of the picture lies %.0f ns to the right, at %.0f %%", g.Ns.Value, g.Pct.Value)}
		}
	case "hue-shift":
		if c := fitOf(s, f.Kind); c != nil {
			f.Degrees = &c.Amount.Value
			h.Why = []string{fmt.Sprintf("all colours are turned by about %.0f degrees from where they should be", c.Amount.Value)}
		}
	case "colour-lost":
		h.Why = []string{"brightness is that of colours, but no chroma is there"}
		if s.Signal.ChromaDead {
			h.Why = []string{"no chroma at all is in the capture, not even its noise: the device has switched colour off"}
		}
	case "level-high", "level-low":
		if c := fitOf(s, f.Kind); c != nil {
			h.Why = []string{fmt.Sprintf("the picture is %.0f %% of what it should be against sync", 100*c.Amount.Value)}
		}
	case "clipping":
		if c := fitOf(s, f.Kind); c != nil {
			h.Why = []string{fmt.Sprintf("all that is brighter than %.0f %% of white is cut off there", 100*c.Amount.Value)}
		}
	}
}

// EvenBlack: nothing but black is in the capture, up to its edges.
func EvenBlack(s *analyse.Survey) bool {
	f := s.Flat
	return f.Uniform && s.Sync.State == analyse.Locked && f.Y < 32 && math.Abs(f.Cb-128) < 6 && math.Abs(f.Cr-128) < 6
}

// blackHypotheses are for faint noise about black, or another even level, and nothing else: an input without signal, or a machine
// that draws black to the last sample. No picture tells them apart. How often each shows that is common practice, no source.
func blackHypotheses(s *analyse.Survey, clean, lost, moving, grainy, dark patterns.Hypothesis) []patterns.Hypothesis {
	lost.Like = math.Log(0.2) // other devices show a colour, bars, snow, or hold a picture
	dark.Like = math.Log(blackAlone)
	clean.Like = math.Log(0.003) // an empty black screen with a black border
	moving.Like, grainy.Like = math.Log(0.003), math.Log(0.003)
	lost.Why = []string{
		"the whole capture is an even black, without border or blanking: an input without signal and a machine that draws nothing but black look the same",
		"a machine whose border was made another colour, or sync at its video output on an oscilloscope, would settle it",
	}
	if s.Sync.Detects {
		lost.Like += math.Log(0.03) // sync reaches the device
		lost.Why = append(lost.Why, "the device detects a standard, so sync reaches it")
	}
	dark.Why = lost.Why
	list := []patterns.Hypothesis{clean, lost, moving, grainy}
	if s.Sync.State == analyse.NoSignal || !s.Registration.OK { // otherwise the logic's hypotheses hold the dead picture
		list = append(list, dark)
	}
	return list
}

// How often a dead picture leaves a capture black to its edges: where nothing is known of the border, where it should be black, and
// where it should be another colour, so that its latch died as well. Common practice, no source.
const (
	blackAlone  = 0.15
	blackBeside = 0.48
	blackBorder = 0.02
)

func syncReasons(s *analyse.Sync) []string {
	var why []string
	if s.RollLinesPerS != nil && math.Abs(*s.RollLinesPerS) > 1 {
		why = append(why, fmt.Sprintf("the picture rolls at %.0f lines a second", *s.RollLinesPerS))
	}
	if s.TearPx != nil && *s.TearPx > 1 {
		why = append(why, fmt.Sprintf("bands of lines are torn %.1f samples aside", *s.TearPx))
	}
	if s.JitterNs != nil && *s.JitterNs > 10 {
		why = append(why, fmt.Sprintf("lines jitter by %.0f ns rms", *s.JitterNs))
	}
	if len(why) == 0 {
		why = []string{"the lines do not hold their places"}
	}
	return why
}

// still is the survey without what was measured of the colours, where so many cells change that these are no display's.
func still(s *analyse.Survey, p *display.Profile) *analyse.Survey {
	if !s.Motion.Blends(p.Kind == display.Text) {
		return s
	}
	out := *s
	out.Signal.ColourFits = nil
	if f := fitOf(s, "colour-lost"); f != nil && s.Signal.ChromaDead && s.Signal.ChromaOff { // no mean of colours is without any
		out.Signal.ColourFits = []analyse.ColourFit{*f}
	} else {
		out.Signal.ChromaDead = false
	}
	return &out
}

// besideGood weighs a dead picture that is black to the edges by the border of the good machine, which a dead picture leaves as it is.
func besideGood(paths []patterns.Hypothesis, good *analyse.Survey, p *display.Profile) {
	if good == nil || !good.Border.Seen || good.Border.Sure < 2 || good.Border.Colour < 0 {
		return
	}
	for i := range paths {
		if f := paths[i].Fault; f == nil || f.Kind != "blank-picture" {
			continue
		}
		if p.Colours[good.Border.Colour].Y < 0.05 {
			paths[i].Like += math.Log(blackBeside / blackAlone)
			paths[i].Why = append([]string{"the good machine's border is black too, so that a dead picture would be black to the edges"}, paths[i].Why...)
		} else {
			paths[i].Like += math.Log(blackBorder / blackAlone)
		}
	}
}
