package signalpath

import (
	"fmt"
	"math"

	"backporch/analyse"
	"backporch/patterns"
)

const ownLimits = "common practice, no source"

// measures lists every measure in the order of the report. How takes the device's own part off: "power" for what adds as
// squares, "reciprocal" for bandwidths, whose rise times do, "difference" for what adds, "decibel" for noise.
var measures = []struct {
	name, title, unit, kind, how string
	scale                        *Scale
	read                         func(s *analyse.Survey) *analyse.Estimate
	note                         func(s *analyse.Survey) string
	// hides tells that a capture device takes some of it off before it is measured: at least so much is there.
	hides func(s *analyse.Survey) bool
	// lacks says why there is no figure, where that is known.
	lacks func(s *analyse.Survey) string
	// seldom: it is there only where something is wrong, and is left out otherwise.
	seldom bool
}{
	{name: "snr", title: "signal to noise", unit: "dB", kind: "noise", how: "decibel",
		scale: &Scale{[4]float64{44, 38, 30, 23}, true, "38 and 30 dB: 8 and 20 % peak to peak, BBC Research Report 1960/08; 23 dB: EBU Tech. 3209 app. 2; 44 dB: " + ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return unblended(s, s.Signal.SNR) },
		hides: func(s *analyse.Survey) bool { return s.Signal.SNRQuantised },
		note: func(s *analyse.Survey) string {
			if blends(s) {
				return "the device blends two pictures, and their noise with them: the machine's is up to 5 dB worse"
			}
			return ""
		},
		lacks: func(s *analyse.Survey) string {
			if s.Signal.SNRdB != nil {
				return "less noise than any device has: a codec hides it; record without one"
			}
			return ""
		}},
	{name: "snr-weighted", title: "weighted", unit: "dB", kind: "noise", how: "decibel",
		scale: &Scale{[4]float64{51, 45, 37, 30}, true, "the unweighted limits and 7.4 dB (ITU-R BT.1439, flat noise)"},
		read:  func(s *analyse.Survey) *analyse.Estimate { return unblended(s, s.Signal.WeightedDB) },
		hides: func(s *analyse.Survey) bool { return s.Signal.SNRQuantised }},
	{name: "rise", title: "edge rise time", unit: "ns", kind: "low-bandwidth", how: "power",
		scale: &Scale{[4]float64{160, 210, 290, 400}, false, ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			e := s.Signal.Rise
			if e == nil {
				return nil
			}
			out := *e
			if e.Value >= slowRise { // such an edge is not over where the pixel's own response is taken to be
				out.Spread = math.Max(out.Spread, 0.1*out.Value)
			}
			if trapped(s) {
				out.Limit = "device"
			}
			return &out
		},
		note: func(s *analyse.Survey) string {
			if s.Signal.Rise.Value > goodRise && trapped(s) {
				return "in the shape that a device's trap gives, not a low-pass"
			}
			return ""
		}},
	{name: "bandwidth", title: "bandwidth", unit: "MHz", how: "reciprocal",
		read:  func(s *analyse.Survey) *analyse.Estimate { return scaled(s.Signal.Bandwidth, 1e-6) },
		hides: func(s *analyse.Survey) bool { return s.Signal.Bandwidth.Limit == "device" },
		note: func(s *analyse.Survey) string {
			if s.Signal.Bandwidth.Limit == "device" {
				return "0.35 over the rise time, the device's own part in it"
			}
			return "of one low-pass beside what a device's own does"
		}},
	{name: "overshoot", title: "overshoot", unit: "%", kind: "ringing", how: "difference",
		scale: &Scale{[4]float64{12, 30, 45, 60}, false, "12 and 30 %: lobes at K = 3 and 7.5 %, ITU-R BT.1439, BBC Research Report 1960/08; else " + ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return s.Signal.Overshoot },
		hides: cutOff},
	{name: "ringing", title: "ringing after 600 ns", unit: "%", kind: "ringing", how: "difference",
		scale: &Scale{[4]float64{2, 4.5, 11, 20}, false, "4.5 and 11 %: the mask of K = 3 and 7.5 % between 400 and 800 ns, ITU-R BT.1439; else " + ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			r := s.Signal.Ringing
			if r == nil || r.Pct.Value <= 0 {
				return nil
			}
			e := &analyse.Estimate{Value: r.Late, Spread: r.LateSpread, Limit: r.Pct.Limit}
			if s.Signal.Ghost.Stands(r) {
				e.Limit = "device" // the ghost's doing, which has a line of its own
			}
			e.Spread = math.Hypot(e.Spread, responseOpen(r.Hz.Value)*e.Value)
			if e.Value > lateSure && e.Value < 2*e.Spread {
				e.Limit = "device" // it may be a decoder's own
			}
			return e
		},
		hides: func(s *analyse.Survey) bool {
			r := s.Signal.Ringing
			return cutOff(s) || r.Late < lateSure || responseOpen(r.Hz.Value) > trapOpen
		},
		note: func(s *analyse.Survey) string {
			if s.Signal.Ringing.Late < lateSure {
				return "what rings near the subcarrier a device's trap hides"
			}
			if s.Signal.Ghost.Stands(s.Signal.Ringing) {
				return "the ghost below explains it, and has the grade"
			}
			first, hz, decay := ringingOf(s.Signal.Ringing)
			return fmt.Sprintf("%.2f ± %.2f MHz, first swing %.0f ± %.0f %%, to 1/e in %.0f ± %.0f ns",
				hz.Value/1e6, hz.Spread/1e6, first.Value, first.Spread, decay.Value, decay.Spread)
		}},
	{name: "ghost", title: "ghost", unit: "%", kind: "ghost", how: "difference",
		scale: &Scale{[4]float64{3, 7.5, 15, 25}, false, "3 and 7.5 %: K ratings, BBC Research Report 1960/08; else " + ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			g := s.Signal.Ghost
			if g == nil {
				return nil
			}
			e := g.Pct
			e.Value = math.Abs(e.Value)
			if e.Value > 3 && !g.Stands(s.Signal.Ringing) {
				e.Limit = "device" // or ringing, which has a line of its own
			}
			open := responseOpen(0)
			if g.Alone {
				open = strokesOpen
			}
			e.Spread = math.Hypot(e.Spread, open*e.Value)
			return &e
		},
		hides: cutOff, // what goes beyond the end of the codes is cut off
		note: func(s *analyse.Survey) string {
			if g := s.Signal.Ghost; g.Stands(s.Signal.Ringing) {
				return fmt.Sprintf("%.0f ns late", g.Ns.Value)
			} else if math.Abs(g.Pct.Value) > 3 {
				return "the ringing above explains it, and has the grade"
			}
			return ""
		}},
	{name: "fixed-bars", title: "fixed bars", unit: "%", kind: "fixed-bars", how: "difference",
		scale: &Scale{[4]float64{0.5, 1, 3, 8}, false, "1 %: 40 dB, Fowler 1951; else " + ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return openTone(s, true) },
		lacks: buried,
		hides: func(s *analyse.Survey) bool { return s.Signal.Cut },
		note: func(s *analyse.Survey) string {
			t := firstTone(s, true)
			if t == nil {
				return "none found"
			}
			folded := ""
			if t.Folded {
				folded = fmt.Sprintf("; folded, really %s", patterns.InHz(t.AliasHz))
			}
			return fmt.Sprintf("period %.2f px, %s%s", t.PeriodPx, patterns.InHz(t.Hz.Value), folded)
		}},
	{name: "interference", title: "single frequency", unit: "%", kind: "interference", how: "difference",
		scale: &Scale{[4]float64{0.5, 1, 3, 8}, false, "1 %: 40 dB, Fowler 1951; else " + ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return openTone(s, false) },
		lacks: buried,
		hides: func(s *analyse.Survey) bool { return blends(s) || s.Signal.Cut },
		note: func(s *analyse.Survey) string {
			t := firstTone(s, false)
			if t == nil {
				return "none found"
			}
			return fmt.Sprintf("%s, or folded from %s", patterns.InHz(t.Hz.Value), patterns.InHz(t.AliasHz))
		}},
	{name: "hum", title: "hum", unit: "%", kind: "hum", how: "difference",
		scale: &Scale{[4]float64{1, 3, 7, 15}, false, "1 %: 40 dB, Fowler 1951; 3 %: 47 CFR 76.605 as quoted; else " + ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			if s.Signal.Hum == nil {
				return nil
			}
			return ofWhiteCodes(s, &s.Signal.Hum.Pct)
		},
		hides: func(s *analyse.Survey) bool { return s.Signal.Hum.Pct.Value > 0.5 },
		note: func(s *analyse.Survey) string {
			if h := s.Signal.Hum; h.Pct.Value > 0.5 && h.Share > 0.5 && !math.IsNaN(h.Hz.Value) {
				return fmt.Sprintf("%.1f Hz; a device's clamp hides two thirds and more of it: backporch waveform tells all", h.Hz.Value)
			}
			return ""
		}},
	{name: "jitter", title: "line jitter", unit: "ns", kind: "sync-weak", how: "power",
		scale: &Scale{[4]float64{8, 20, 40, 80}, false, ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			if s.Sync.JitterNs == nil {
				return nil
			}
			e := &analyse.Estimate{Value: *s.Sync.JitterNs, Spread: math.Max(1, 0.1**s.Sync.JitterNs), Limit: "lines"}
			// Subcarrier that a decoder leaves at an edge moves its middle by so much of its rise, and is another on each line.
			if c, r := s.Signal.Crawl, s.Signal.Rise; c != nil && r != nil {
				if crawls := c.Value / 100 * r.Value; crawls > e.Spread {
					e.Spread = math.Hypot(e.Spread, crawls)
					if e.Value < 2*e.Spread {
						e.Limit = "device"
					}
				}
			}
			return e
		},
		hides: func(s *analyse.Survey) bool { return *s.Sync.JitterNs > 8 },
		note: func(s *analyse.Survey) string {
			if *s.Sync.JitterNs > 8 {
				return "of the picture; a device evens out half of sync's and more"
			}
			return ""
		}},
	{name: "sync-jitter", title: "jitter of sync", unit: "ns", kind: "sync-weak", how: "power", seldom: true,
		read: func(s *analyse.Survey) *analyse.Estimate { return s.Sync.EdgesNs },
		note: func(*analyse.Survey) string {
			return "that a device's flywheel has evened out, if each line errs by itself"
		}},
	{name: "level", title: "picture against sync", unit: "%", kind: "level", how: "ratio",
		scale: nil, // two-sided: aside
		read:  levelOf,
		note: func(s *analyse.Survey) string {
			if cutOff(s) {
				return "white lies at the end of the codes"
			}
			return ""
		}},
	{name: "clipped", title: "white at the codes' end", unit: "%", kind: "level-high", how: "difference",
		scale: &Scale{[4]float64{noneCut, 3, 10, 30}, false, ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			e := s.Signal.ClippedPct
			if l := levelOf(s); e == nil || e.Value < noneCut || l == nil || l.Limit != "device" {
				return e
			}
			out := *e
			out.Limit = "device" // the level may be right: the device's codes end there
			return &out
		}},
	{name: "white-cut", title: "bright parts cut at", unit: "%", kind: "clipping", how: "difference", seldom: true,
		read: func(s *analyse.Survey) *analyse.Estimate {
			f := fitOf(s, "clipping")
			if f == nil || f.Gain < surelyCut || bestFit(s) != "clipping" {
				return nil
			}
			full, open := codeRange(s)
			e := scaled(&f.Amount, 100*219/full)
			e.Spread = math.Hypot(e.Spread, (levelGain+open)*e.Value)
			return e
		},
		note: func(*analyse.Survey) string { return "of white" }},
	{name: "hue", title: "hue error", unit: "deg", kind: "hue-shift", how: "difference",
		scale: &Scale{[4]float64{5, 10, 20, 40}, false, "10 degrees: 47 CFR 76.605, differential phase; else " + ownLimits},
		read: func(s *analyse.Survey) *analyse.Estimate {
			g := &s.Signal
			if v := g.Hue(); v != nil {
				return &analyse.Estimate{Value: *v, Spread: math.Hypot(deviceHue, g.HueSpread), Limit: "chroma"}
			}
			if g.HueLeast >= surelyTurned {
				return &analyse.Estimate{Value: g.HueLeast, Spread: deviceHue, Limit: "chroma"}
			}
			return nil
		},
		hides: func(s *analyse.Survey) bool { return !s.Signal.HueTold },
		note: func(s *analyse.Survey) string {
			if !s.Signal.HueTold && turnsOf(s) != "" {
				return "one way or the other: the colours seen fit " + turnsOf(s)
			}
			return ""
		},
		lacks: func(s *analyse.Survey) string {
			if turnsOf(s) != "" {
				return "the colours seen fit " + turnsOf(s) + ": show all colours"
			}
			return ""
		}},
	{name: "saturation", title: "saturation", unit: "%", kind: "saturation", how: "ratio",
		read: func(s *analyse.Survey) *analyse.Estimate {
			return beyondDevice(s.Signal.SaturationSeen, deviceColour)
		}},
	{name: "chroma-delay", title: "chroma late by", unit: "ns", kind: "low-bandwidth", how: "difference",
		scale: &Scale{[4]float64{60, 170, 300, 450}, false, "50 ns: ITU-R BT.470; 170 ns: 47 CFR 76.605 (from memory); else " + ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return s.Signal.ChromaDelay }},
	{name: "dot-crawl", title: "dot crawl at edges", unit: "%", kind: "", how: "power",
		scale: &Scale{[4]float64{2, 5, 10, 20}, false, ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return ofWhiteCodes(s, s.Signal.Crawl) },
		hides: func(s *analyse.Survey) bool { return s.Signal.Crawl.Limit == "codec" },
		note: func(s *analyse.Survey) string {
			if s.Signal.Crawl.Limit == "codec" {
				return "what goes to and fro from field to field may be the codec's, and is left out"
			}
			return ""
		}},
	{name: "cross-colour", title: "cross-colour at edges", unit: "%", kind: "", how: "power",
		scale: &Scale{[4]float64{3, 7, 14, 25}, false, ownLimits},
		read:  func(s *analyse.Survey) *analyse.Estimate { return ofWhiteCodes(s, s.Signal.CrossColour) }},
}
