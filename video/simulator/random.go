package simulator

import (
	"math/rand/v2"

	"backporch/video"
	"backporch/video/display"
)

// Random draws a scenario by its seed: a fault of one of the kinds (of the common ones
// when none are given; a kind may be a pair, "noise+data-bit-stuck"), any screen, border, chain and device.
// New refuses a kind that does not exist.
func Random(p *display.Profile, seed uint64, names ...string) Scenario {
	rng := rand.New(rand.NewPCG(seed, 0x72616e646f6d))
	if len(names) == 0 {
		names = commonKinds()
	}
	s := Scenario{Display: p, Seed: seed, Order: video.TopFirst}
	if p.Standard == video.Std525 {
		s.Order = video.BottomFirst
	}
	for _, name := range split(names[rng.IntN(len(names))]) {
		f := Fault{}
		if k, err := findKind(name); err == nil && k.random == nil {
			f = k.usual
		} else if err == nil {
			f = k.random(p, rng)
		}
		f.Kind = name
		if name == "border-latch" { // one that shows
			border := rng.IntN(8)
			s.Border, f.Level = &border, 1-border>>f.Bit&1
		}
		s.Faults = append(s.Faults, f)
	}
	s.Chain = Chain{
		Level:   0.9 + 0.2*rng.Float64(),
		NoiseMV: 0.8 + 2.7*rng.Float64(),
		HumMV:   6 * rng.Float64() * rng.Float64(),
	}
	if p.Standard == video.Std525 {
		s.Chain.HumHz = 60
	}
	if rng.IntN(2) == 0 {
		s.Chain.RingHz = 3e6 + 2.5e6*rng.Float64()
		s.Chain.RingPart = 0.08 * rng.Float64()
	}
	if rng.IntN(4) == 0 {
		s.Chain.GhostNs, s.Chain.GhostPart = 80+200*rng.Float64(), 0.03*rng.Float64()
	}
	return s
}

// split takes a pair apart.
func split(name string) []string {
	var out []string
	start := 0
	for i := range len(name) + 1 {
		if i == len(name) || name[i] == '+' {
			out = append(out, name[start:i])
			start = i + 1
		}
	}
	return out
}
