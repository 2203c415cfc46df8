package fingerprint

import (
	"math"
	"time"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A Value is something measured and its standard deviation.
type Value struct {
	Value float64 `json:"value"`
	SD    float64 `json:"sd"`
}

// A Print is what a machine looks like on one capture device. What was not measured is nil.
type Print struct {
	Display string  `json:"display"`
	Seconds float64 `json:"seconds"` // of capture
	// Ratio is subcarrier over line frequency, ppm from the display's nominal: the values it may
	// have, the likeliest first. No clock but the machine's own two comes into it.
	Ratio []Ratio `json:"ratio"`
	// FieldRate is ppm from the display's nominal by the computer's clock; of a device only.
	FieldRate  *Value `json:"field_rate_ppm"`
	Pitch      *Value `json:"pitch_ppm"` // of a pixel, from line-locked sampling
	Left       *Value `json:"left_px"`   // of the picture, machine pixels
	Top        *Value `json:"top_lines"`
	Black      *Value `json:"black_code"`
	White      *Value `json:"white_code"`
	SNR        *Value `json:"snr_db"`
	Hue        *Value `json:"hue_deg"`
	Saturation *Value `json:"saturation_pct"`
	// Bars is the pattern of fixed bars in the border, % of white: cosine and sine from the
	// picture's left edge on, for periods of 2, 4, 8 and 16 pixels.
	Bars []Value `json:"bars_pct"`
}

// barPeriods are the pixel clock over 2 to 16: what the machine's own dividers couple in.
var barPeriods = [...]int{2, 4, 8, 16}

// enough fields for the crawl: five seconds, far beyond what crystals keep.
const enough = 250

// Take takes the fingerprint of a capture that was surveyed. Spreads of what a survey gives without
// one are common practice, no source: what the same machine differs by from take to take.
func Take(fields []*video.Field, info video.Info, s *analyse.Survey, p *display.Profile) *Print {
	out := &Print{Display: p.Name, Seconds: s.Seconds}
	if s.Sync.State != analyse.Locked {
		return out
	}
	if c := MeasureCrawl(fields[:min(len(fields), enough)], p.Standard); c != nil {
		out.Ratio = c.Ratios(p)
	}
	if info.Kind == video.KindDevice {
		out.FieldRate = rateOf(fields, p)
	}
	r := &s.Registration
	if !r.OK {
		return out
	}
	place := r.ResidualPx / math.Sqrt(math.Max(float64(r.Edges), 1)/20)
	out.Pitch = &Value{(r.PitchX/p.PitchX(s.Stack.Width) - 1) * 1e6, 1e6 * math.Max(place, 0.01) / float64(p.Width)}
	if len(r.Shifts) == 0 || r.Shifts[0].Probability > 0.9 {
		out.Left = &Value{r.OriginX / r.PitchX, math.Max(place, 0.02)}
		out.Top = &Value{r.OriginY, 0.1}
	}
	if l := &s.Levels; l.White > l.Black {
		out.Black, out.White = &Value{l.Black, 0.7}, &Value{l.White, 1}
	}
	take := func(v *float64, sd float64) *Value {
		if v == nil {
			return nil
		}
		return &Value{*v, sd}
	}
	if !s.Signal.SNRQuantised {
		out.SNR = take(s.Signal.SNRdB, 0.5)
	}
	out.Hue, out.Saturation = take(s.Signal.HueErrorDeg, 1), take(s.Signal.SaturationPct, 1.5)
	out.Bars = bars(s)
	return out
}

// rateOf is the field rate of a device's fields; frames carry one time, that of the older field.
func rateOf(fields []*video.Field, p *display.Profile) *Value {
	when := times(fields)
	if when == nil {
		return nil
	}
	x, y := when[:0:0], fields[0].Time
	stamps := make([]time.Duration, 0, len(fields))
	for i, f := range fields {
		if i == 0 || f.Frame != fields[i-1].Frame {
			x = append(x, when[i])
			stamps = append(stamps, f.Time-y)
		}
	}
	rate := FieldRate(x, stamps)
	if rate == nil || rate.SD > 2000 {
		return nil
	}
	return &Value{(rate.Hz/p.FieldHz() - 1) * 1e6, rate.SD}
}

// bars measures the fixed pattern in the border above and below the picture, line by line, for its
// spread.
func bars(s *analyse.Survey) []Value {
	st, r := s.Stack, &s.Registration
	span := s.Levels.White - s.Levels.Black
	if !s.Border.Seen || !s.Border.Uniform || span <= 0 {
		return nil
	}
	lines := make([]int, 0, st.Height)
	for y := range st.Height {
		// Six lines clear of the picture and of the field's ends, where borders begin.
		if py := (float64(y) - r.OriginY) / r.PitchY; y >= 6 && y < st.Height-6 && (py < -6 && py > -28 || py > 198 && py < 220) {
			lines = append(lines, y)
		}
	}
	if len(lines) < 8 {
		return nil
	}
	var sum, squares [2 * len(barPeriods)]float64
	used := 0.0
	for _, y := range lines {
		row := st.Y[y*st.Width : (y+1)*st.Width]
		first := max(int(r.OriginX), 0)
		last := min(int(r.OriginX+r.PitchX*256), st.Width)
		mean, low, high := 0.0, math.Inf(1), math.Inf(-1)
		for x := first; x < last; x++ {
			v := float64(row[x])
			mean += v / float64(last-first)
			low, high = math.Min(low, v), math.Max(high, v)
		}
		if high-low > span/4 { // no border here
			continue
		}
		used++
		for k, period := range barPeriods {
			var c, q float64
			for x := first; x < last; x++ {
				sin, cos := math.Sincos(2 * math.Pi * (float64(x) - r.OriginX) / r.PitchX / float64(period))
				c += (float64(row[x]) - mean) * cos
				q += (float64(row[x]) - mean) * sin
			}
			for i, v := range [2]float64{c, q} {
				v *= 2 / float64(last-first) * 100 / span
				sum[2*k+i] += v
				squares[2*k+i] += v * v
			}
		}
	}
	if used < 8 {
		return nil
	}
	out := make([]Value, len(sum))
	for i := range sum {
		mean := sum[i] / used
		out[i] = Value{mean, math.Sqrt(math.Max(squares[i]/used-mean*mean, 1e-6) / used)}
	}
	return out
}
