package main

import (
	"errors"
	"io"
	"math"
	"time"

	"backporch/analyse"
	"backporch/analyse/survey"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/video"
	"backporch/video/picture"
	"backporch/video/simulator"
)

// A run is one capture with what is true of it and what was said.
type run struct {
	Judgement
	truth    simulator.Truth
	verdict  *patterns.Verdict
	ablated  []Judgement // with each of the plan's sets of terms left out
	distance float64     // of the registration's corners, machine pixels; NaN when not registered
	state    analyse.SyncState
	reason   string // why it was not registered
	err      error
}

// lasting are kinds that show over time, with the fields that a capture of them needs: a flash's phase is 16 fields.
var lasting = map[string]int{"flash-dead": 72, "refresh-loss": 60, "cell-snow": 48, "data-bit-weak": 36, "supply-or-all-lanes": 36, "hum": 48}

// one simulates and examines a single capture.
func (p *plan) one(seed uint64) run {
	profile := p.profiles[seed%uint64(len(p.profiles))]
	out := run{distance: math.NaN()}
	out.Seed = seed
	scenario := simulator.Random(profile, seed, p.kinds[profile.Name]...)
	scenario.Fields = p.fields
	if p.least {
		for _, f := range scenario.Faults {
			scenario.Fields = max(scenario.Fields, lasting[f.Kind])
		}
	}
	if len(p.screens) > 0 {
		scenario.Screen = simulator.Screen(p.screens[seed/7%uint64(len(p.screens))])
	}
	quality := p.qualities[seed/5%uint64(len(p.qualities))]
	captured, truth, err := record(scenario, quality)
	if err != nil {
		out.err = err
		return out
	}
	info := video.Info{Kind: video.KindFile, Rate: profile.FieldHz() / 2, Standard: profile.Standard, Codec: "MJPG", Block: 8}
	if quality == 0 {
		info.Codec, info.Block = "", 0
	}
	options := judge.Options{}
	if float64(seed*0x9e3779b97f4a7c15>>40)/(1<<24) < p.references {
		good := scenario
		good.Faults = nil
		good.Chain = simulator.Chain{}
		good.Device = simulator.Device{}
		clean, _, err := record(good, quality)
		if err != nil {
			out.err = err
			return out
		}
		if options.Reference, _, out.err = survey.Run(clean, info, survey.Options{Display: profile}); out.err != nil {
			return out
		}
	}
	begin := time.Now()
	s, _, err := survey.Run(captured, info, survey.Options{
		Display: profile, Reference: options.Reference, Moved: func(r *analyse.Survey) { options.Reference = r },
	})
	if err != nil {
		out.err = err
		return out
	}
	out.truth, out.verdict = truth, judge.Classify(s, profile, options)
	seconds := time.Since(begin).Seconds()
	out.Judgement = heldTo(&truth, out.verdict)
	out.Varied, out.First = judge.Varied(s), stoodFirst(out.verdict)
	out.Seed, out.Display, out.Reference, out.Quality, out.Seconds = seed, profile.Name, options.Reference != nil, quality, seconds
	for _, terms := range p.ablate {
		less := options
		less.Without = terms
		out.ablated = append(out.ablated, heldTo(&truth, judge.Classify(s, profile, less)))
	}
	out.state, out.reason = s.Sync.State, s.Registration.Reason
	if reg := s.Registration; reg.OK {
		left := math.Hypot((reg.OriginX-truth.OriginX)/truth.PitchX, (reg.OriginY-truth.OriginY)/truth.PitchY)
		w := float64(profile.Width)
		right := math.Abs(reg.OriginX+w*reg.PitchX-truth.OriginX-w*truth.PitchX) / truth.PitchX
		out.distance = math.Max(left, right)
	}
	return out
}

// record gives the fields of a scenario as they come out of a recording.
func record(s simulator.Scenario, quality int) ([]*video.Field, simulator.Truth, error) {
	bench, err := simulator.New(s)
	if err != nil {
		return nil, simulator.Truth{}, err
	}
	var fields []*video.Field
	rate := s.Display.FieldHz() / 2
	for {
		f, err := bench.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, simulator.Truth{}, err
		}
		if quality > 0 {
			data, err := picture.EncodeJPEG(nil, f, picture.JPEGOptions{Quality: quality})
			if err != nil {
				return nil, simulator.Truth{}, err
			}
			index, at := f.Index, f.Time
			if f, _, err = picture.DecodeJPEG(data, f.Height); err != nil {
				return nil, simulator.Truth{}, err
			}
			f.Index, f.Time = index, at
		}
		fields = append(fields, f.Fields(s.Order, rate)...)
	}
	return fields, bench.Truth(), nil
}
