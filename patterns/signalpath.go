package patterns

import (
	"fmt"
	"math"

	"backporch/analyse"
)

// The signal-to-noise ratio of a capture, dB, on a good chain and on a noisy
// one, as Gaussians: grabbers reach 36 to 50 dB, grain shows below some 34 and annoys below 30
// (the 8 % and 20 % peak-to-peak steps of BBC Research Report 1960/08 are 38 and 30 dB at
// peak-to-peak of six standard deviations). Centres and widths are common practice, no source.
const (
	cleanSNR, cleanSNRSpread = 44.5, 4.0
	noisySNR, noisySNRSpread = 27.0, 4.5
)

// pathHypotheses lists what can be wrong with the signal path. Exactly one of them
// holds; noise on a picture that also moves is the weak sync's doing.
func pathHypotheses(s *analyse.Survey) []hypothesis {
	clean := hypothesis{prior: math.Log(0.84)}
	noSignal, weak, noise := kindOf("no-signal"), kindOf("sync-weak"), kindOf("noise")
	of := func(k *Kind) hypothesis {
		return hypothesis{fault: &Fault{Class: k.Class, Kind: k.Name}, prior: math.Log(k.Prior)}
	}
	lost, moving, grainy := of(noSignal), of(weak), of(noise)
	// How probable each state of sync is on each path: a good path is hardly ever
	// seen unlocked, a weak one is now and then seen locked.
	states := map[analyse.SyncState][4]float64{ // clean, no signal, weak sync, noise
		analyse.Locked:   {0.999, 0.001, 0.05, 0.97},
		analyse.Unstable: {0.0008, 0.001, 0.60, 0.02},
		analyse.NoLock:   {0.0001, 0.05, 0.34, 0.009},
		analyse.NoSignal: {0.0001, 0.948, 0.01, 0.001},
	}
	odds := states[s.Sync.State]
	for i, h := range []*hypothesis{&clean, &lost, &moving, &grainy} {
		h.like = math.Log(odds[i])
	}
	if snr := s.Signal.SNRdB; snr != nil && s.Sync.State == analyse.Locked {
		good, bad := gauss(math.Min(*snr, cleanSNR), cleanSNR, cleanSNRSpread), gauss(math.Max(*snr, noisySNR), noisySNR, noisySNRSpread)
		clean.like += good
		moving.like += logSum(good, bad) - math.Ln2
		grainy.like += bad
		grainy.why = []string{fmt.Sprintf("signal to noise is %.0f dB; a good chain has 36 dB or more", *snr)}
	}
	// An even black may be a black screen, or a device that has lost its signal: more often
	// that, for few machines show neither border nor picture. Common practice, no source.
	if f := s.Flat; f.Uniform && s.Sync.State == analyse.Locked && f.Y < 32 && math.Abs(f.Cb-128) < 6 && math.Abs(f.Cr-128) < 6 {
		lost.like = math.Log(0.2)
		lost.why = []string{"the whole capture is an even black, without border or blanking"}
		for _, h := range []*hypothesis{&clean, &moving, &grainy} {
			h.like += math.Log(0.012)
		}
	}
	switch s.Sync.State {
	case analyse.NoSignal:
		lost.why = []string{map[string]string{
			"fill": "the device shows one colour of its own, without any analogue noise",
			"bars": "the device shows bars of its own, without any analogue noise",
			"snow": "the capture is noise all over: no two fields share anything",
			"":     "no picture of a machine is in the capture",
		}[s.Sync.Picture]}
		if s.Sync.Picture == "frozen" {
			lost.why[0] = "every frame is the same to the last bit: the device holds an old picture"
		}
	case analyse.Unstable, analyse.NoLock:
		moving.why = syncReasons(&s.Sync)
	}
	return []hypothesis{clean, lost, moving, grainy}
}

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

// gauss is the log-density of a normal distribution.
func gauss(x, mean, sd float64) float64 {
	z := (x - mean) / sd
	return -z*z/2 - math.Log(sd*math.Sqrt(2*math.Pi))
}
