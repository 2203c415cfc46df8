package waveform

import (
	"fmt"
	"math"
	"slices"

	"backporch/video"
)

// combine adds the stretches up.
func (m *Meter) combine() *Result {
	first := m.parts[0]
	r := &Result{
		Polarity: "normal", Absolute: m.o.Absolute, Samples: m.samples, Seconds: float64(m.samples) / m.o.Rate,
		Limits: []Limit{}, Spread: map[string]float64{}, Missing: []Missing{}, Notes: []string{},
		TestLine: first.test,
	}
	if first.inverted {
		r.Polarity = "inverted"
		r.Notes = append(r.Notes, "sync points up: the signal is inverted, or the probe's two ends are exchanged; it was turned to be measured")
	}
	standard := m.standard(r)
	scan := standard.Scan()
	scale := 1.0
	if sync := m.value(rSync); !m.o.Absolute && sync != nil && sync.v > 0 {
		scale = scan.SyncMV / sync.v
	}
	take := func(name string, by float64) *float64 {
		v := m.value(name)
		if v == nil {
			return nil
		}
		x := v.v * by
		r.Spread[name] = v.spread * math.Abs(by)
		return &x
	}
	r.LineUS, r.Lines = take(rLine, 1), take(rLines, 1)
	delete(r.Spread, rLines)
	if r.Lines != nil {
		*r.Lines = snapHalf(*r.Lines)
	}
	if r.LineUS != nil && r.Lines != nil {
		hz := 1e6 / (*r.LineUS * *r.Lines)
		r.FieldHz = &hz
		r.Spread["field_hz"] = hz * r.Spread[rLine] / *r.LineUS
	}
	r.SyncMV, r.WhiteMV, r.PeakToPeak = take(rSync, scale), take(rWhite, scale), take(rPeak, scale)
	r.BurstMVPP, r.NoiseMV = take(rBurst, scale), take(rNoise, scale)
	if m.o.Absolute {
		r.BlankingMV = take(rBlank, 1)
	}
	m.highest(r, scale)
	r.SyncUS, r.FrontPorch = take(rSyncUS, 1), take(rFront, 1)
	r.SyncRise, r.SyncFall, r.BlankingRise = take(rRise, 1), take(rFall, 1), take(rActive, 1)
	if from := take(rFrom, 1); from != nil && r.SyncUS != nil {
		back := *from - *r.SyncUS
		r.BackPorch = &back
		r.Spread["back_porch_us"] = r.Spread[rFrom]
		if r.FrontPorch != nil {
			blanking := *from + *r.FrontPorch
			r.BlankingUS = &blanking
		}
	}
	delete(r.Spread, rFrom)
	r.BurstAt, r.BurstUS = take(rBurstAt, 1), take(rBurstUS, 1)
	delete(r.Spread, rBurstAt)
	delete(r.Spread, rBurstUS)
	if r.BurstHz = take(rBurstHz, 1); r.BurstHz != nil {
		nominal := video.Std625.Scan().SubcarrierHz
		if other := video.Std525.Scan().SubcarrierHz; math.Abs(*r.BurstHz-other) < math.Abs(*r.BurstHz-nominal) {
			nominal = other
		}
		ppm := (*r.BurstHz/nominal - 1) * 1e6
		r.BurstPPM = &ppm
		r.Spread["burst_ppm"] = r.Spread[rBurstHz] / nominal * 1e6
		if r.BurstUS != nil {
			cycles := *r.BurstUS * 1e-6 * *r.BurstHz
			r.BurstCycles = &cycles
		}
	}
	r.Equalising, r.Broad, r.Serration = take(rEqual, 1), take(rBroad, 1), take(rGap, 1)
	m.jitter(r)
	if mv, spread, hz, ok := humOf(m.parts); ok {
		mv, spread = mv*scale, spread*scale
		r.HumMV, r.Spread["hum_mv"] = &mv, spread
		if hz > 0 {
			r.HumHz = &hz
		}
	} else {
		r.Missing = append(r.Missing, Missing{"hum_mv", "it takes 30 ms"})
	}
	for _, p := range m.parts {
		r.MeasuredLines += p.lines
		r.Pulses.Line += p.census.Line
		r.Pulses.Equalising += p.census.Equalising
		r.Pulses.Broad += p.census.Broad
		r.Pulses.Long += p.census.Long
		r.Pulses.Other += p.census.Other
		if r.Swings == nil {
			r.Swings = p.swings
		}
		if r.TestLine == nil {
			r.TestLine = p.test
		}
	}
	m.lacking(r)
	m.notes(r, standard)
	r.judge(standard)
	r.terminate(standard)
	if first.mean != nil {
		r.Mean = &MeanLine{From: first.mean.from, Step: first.mean.step, Value: first.mean.value, Low: first.mean.low, High: first.mean.high, Lines: first.mean.lines}
		for k := range r.Mean.Value {
			r.Mean.Value[k] *= scale
			r.Mean.Low[k] *= float32(scale)
			r.Mean.High[k] *= float32(scale)
		}
	}
	return r
}

// value is a reading of all stretches, each weighed by what it holds.
func (m *Meter) value(name string) *reading {
	var sum, weights, spread float64
	n := 0
	for _, p := range m.parts {
		v, ok := p.values[name]
		if !ok {
			continue
		}
		w := float64(max(v.n, 1))
		if name == rBurstHz {
			w = 1 / (v.spread * v.spread)
		}
		sum += w * v.v
		weights += w
		spread += w * w * v.spread * v.spread
		n += v.n
	}
	if weights == 0 {
		return nil
	}
	return &reading{sum / weights, math.Sqrt(spread) / weights, n}
}

// highest takes what is highest anywhere, and how far blanking wandered.
func (m *Meter) highest(r *Result, scale float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range m.parts {
		if v, ok := p.values[rWhite]; ok && r.WhiteMV != nil && v.v*scale > *r.WhiteMV {
			*r.WhiteMV = v.v * scale
		}
		if v, ok := p.values[rPeak]; ok && r.PeakToPeak != nil && v.v*scale > *r.PeakToPeak {
			*r.PeakToPeak = v.v * scale
		}
		low, high = math.Min(low, p.values[rBlankLow].v), math.Max(high, p.values[rBlankHigh].v)
	}
	if high >= low {
		drift := (high - low) * scale
		r.DriftMV = &drift
	}
}

// leastJitterLines is how many lines say something of jitter.
const leastJitterLines = 20

func (m *Meter) jitter(r *Result) {
	var square, noise float64
	degrees := 0
	for _, p := range m.parts {
		square += p.square
		noise += p.noise * float64(p.degrees)
		degrees += p.degrees
	}
	if degrees < leastJitterLines {
		r.Missing = append(r.Missing, Missing{"jitter_ns", fmt.Sprintf("it takes %d lines", leastJitterLines)})
		return
	}
	square, noise = square/float64(degrees), noise/float64(degrees)
	ns := 1e9 / m.o.Rate
	j := math.Sqrt(math.Max(square-noise, 0)) * ns
	r.JitterNS = &j
	// Of the scatter as a whole, and of the noise that was taken off it: where noise moves 0H by
	// a good part of the edge, it moves it by more than the edge's slope tells, as tried by
	// 20 times the square of that part.
	rise := 200.0
	if r.SyncRise != nil {
		rise = *r.SyncRise
	}
	noise *= ns * ns
	total := math.Hypot(math.Sqrt(2/float64(degrees))*square*ns*ns, 20*noise*noise/(rise*rise))
	r.Spread["jitter_ns"] = math.Min(total/math.Max(2*j, 1e-9), math.Sqrt(total))
}

// standard tells the scanning, by most stretches.
func (m *Meter) standard(r *Result) video.Standard {
	votes := map[video.Standard]int{}
	for _, p := range m.parts {
		votes[p.standard] += p.lines
		if r.Interlaced == nil {
			r.Interlaced = p.interlaced
		}
	}
	s := video.UnknownStandard
	for _, k := range []video.Standard{video.Std625, video.Std525} {
		if votes[k] > votes[s] {
			s = k
		}
	}
	if votes[s] == 0 || s == video.UnknownStandard {
		r.Scanning = "too short to tell the standard"
		return video.Std625
	}
	name := map[video.Standard]string{video.Std625: "625/50", video.Std525: "525/60"}[s]
	r.Standard = &name
	r.Scanning = name
	lines := m.value(rLines)
	switch {
	case lines == nil:
		r.Scanning += " by its line period; the record holds no whole field"
		if m.value(rLine) == nil {
			r.Scanning = name + " by its burst; the record is shorter than two lines"
		}
	case r.Interlaced != nil && *r.Interlaced:
		r.Scanning += fmt.Sprintf(", interlaced, %g lines a field", snapHalf(lines.v))
	default:
		r.Scanning += fmt.Sprintf(", non-interlaced variant, %.4g lines", snapHalf(lines.v))
	}
	return s
}

// lacking lists what no stretch had, once each.
func (m *Meter) lacking(r *Result) {
	rename := map[string]string{rFrom: "back_porch_us"}
	for _, p := range m.parts {
		for _, x := range p.missing {
			if m.value(x.Name) != nil {
				continue
			}
			if n := rename[x.Name]; n != "" {
				x.Name = n
			}
			if !slices.ContainsFunc(r.Missing, func(y Missing) bool { return y.Name == x.Name }) {
				r.Missing = append(r.Missing, x)
			}
		}
	}
}

func (m *Meter) notes(r *Result, s video.Standard) {
	add := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	if !m.o.Absolute {
		add("the file has no volts: levels take sync as %.4g mV; --full-scale VOLTS gives them", s.Scan().SyncMV)
	}
	if m.missing > 0 {
		add("%d samples are missing; lines that lack some were left out", m.missing)
	}
	if m.empty > 0 {
		add("in %d stretches of %.2g s there was no sync", m.empty, float64(m.length)/m.o.Rate)
	}
	if m.o.Rate < 8e6 {
		add("%.3g million samples a second: lines, fields and levels can be measured, edges, burst and jitter below about %.0f ns cannot", m.o.Rate/1e6, 0.02e9/m.o.Rate)
	}
	scan := s.Scan()
	if r.SyncMV != nil && r.BurstMVPP != nil && r.WhiteMV != nil {
		part := *r.SyncMV / scan.SyncMV
		burst, white := *r.BurstMVPP/scan.BurstMVPP, *r.WhiteMV/scan.WhiteMV
		if part < 0.85*burst && part < 0.85*white {
			add("sync is %.0f %% of what burst and white ask for: its tips are cut, as by an output stage that runs out of current, or by the sampler's range", 100*part/burst)
		}
	}
	if r.DriftMV != nil && r.SyncMV != nil && *r.DriftMV > 0.2**r.SyncMV {
		of := "hum, or a coupling capacitor that is too small"
		switch {
		case r.HumHz != nil && *r.HumMV > 0.7**r.DriftMV:
			of = fmt.Sprintf("hum of %.0f Hz", *r.HumHz)
		case r.HumMV != nil && *r.HumMV < 0.2**r.DriftMV:
			of = "a coupling capacitor that is too small; hardly any of it is hum"
		}
		add("blanking wanders by %.0f mV: %s; levels are taken line by line", *r.DriftMV, of)
	}
	if r.Standard != nil && r.BurstHz != nil && (*r.Standard == "625/50") != (*r.BurstHz > 4e6) {
		add("the subcarrier is that of the other standard")
	}
}

// terminate tells the load by the level.
func (r *Result) terminate(s video.Standard) {
	scan := s.Scan()
	if !r.Absolute || r.SyncMV == nil {
		return
	}
	// White only counts where it stands to sync as white does.
	factors := []float64{*r.SyncMV / scan.SyncMV}
	if r.BurstMVPP != nil {
		factors = append(factors, *r.BurstMVPP/scan.BurstMVPP)
	}
	if r.WhiteMV != nil {
		white := *r.WhiteMV / scan.WhiteMV
		if others := mean(factors); white > 0.8*others {
			factors = append(factors, white)
		} else {
			r.Missing = append(r.Missing, Missing{"white against its limits", fmt.Sprintf("the brightest steady level is %.0f %% of white: show a white screen", 100*white/others)})
			r.Limits = slices.DeleteFunc(r.Limits, func(l Limit) bool { return l.Name == "white" })
		}
	}
	slices.Sort(factors)
	f := factors[len(factors)/2]
	if len(factors) == 2 {
		f = mean(factors)
	}
	for _, t := range []struct {
		factor float64
		word   string
	}{{1, "one load"}, {2, "none"}, {2. / 3, "two loads"}} {
		if math.Abs(math.Log(f/t.factor)) < 0.16 {
			word := t.word
			r.Termination = &word
			switch t.word {
			case "none":
				r.Notes = append(r.Notes, "twice the level: the signal is not terminated; put 75 ohm across the input and measure again")
			case "two loads":
				r.Notes = append(r.Notes, "two thirds of the level: it is terminated twice; take one of the two 75 ohm loads away")
			}
			return
		}
	}
	note := fmt.Sprintf("level %.2f times what it should be: no termination explains that", f)
	if f > 1 && f < 2 {
		// 2 V behind R into 75 ohm.
		note += fmt.Sprintf("; with one load, about %.0f ohm in series in place of 75", 150/f-75)
	}
	r.Notes = append(r.Notes, note)
}
