package waveform

import (
	"fmt"
	"math"

	"backporch/video"
)

// A Limit is one check against a standard.
type Limit struct {
	Name   string  `json:"name"`
	Value  float64 `json:"value"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Unit   string  `json:"unit"`
	Clause string  `json:"clause"`
	Pass   bool    `json:"pass"`
	Trait  bool    `json:"trait"` // home computers depart from it by design: no fault of this one
}

// A rule is a row of a standard's table.
type rule struct {
	name      string
	value     func(*Result) *float64
	low, high float64
	unit      string
	clause    string
	trait     bool
	level     bool // means nothing without volts
}

// rules are the figures of BT.1700 (2005) Tables 1 and 2 and, where it is silent, of BT.470-6
// (1998) Table 1-1; of SMPTE 170M-2004. BT.1700 gives levels without tolerance: 10 % is
// common practice, no source.
func rules(s video.Standard) []rule {
	const practice = ", nominal; 10 % is common practice, no source"
	if s == video.Std525 {
		const ire = 100.0 / 14 // mV: 714.3 mV are 100 IRE
		const cycle = 63.0 * 5e6 / 88
		return []rule{
			{"line period", lineUS, 1e6 / (15734.264 + 0.044), 1e6 / (15734.264 - 0.044), "us", "47 CFR 73.682(a)(5)", true, false},
			{"field rate", fieldHz, 59.94006 * (1 - 2.8e-6), 59.94006 * (1 + 2.8e-6), "Hz", "SMPTE 170M, 2 fH/525", true, false},
			{"lines a field", lines, 262.5, 262.5, "lines", "SMPTE 170M", true, false},
			{"sync", syncMV, 39 * ire, 41 * ire, "mV", "SMPTE 170M, 40 IRE +-1", false, true},
			{"white", whiteMV, 99 * ire, 101 * ire, "mV", "SMPTE 170M, 100 IRE +-1", false, false},
			{"burst", burstMVPP, 39 * ire, 41 * ire, "mV", "SMPTE 170M, 40 IRE +-1", false, false},
			{"subcarrier", burstHz, cycle - 10, cycle + 10, "Hz", "SMPTE 170M, +-10 Hz", true, false},
			{"sync width", syncUS, 4.6, 4.8, "us", "SMPTE 170M Table 1", false, false},
			{"sync edge", syncRise, 120, 160, "ns", "SMPTE 170M Table 1", true, false},
			{"front porch", frontPorch, 1.4, 1.6, "us", "SMPTE 170M Table 1", true, false},
			{"0H to end of blanking", endOfBlanking, 9.1, 9.4, "us", "SMPTE 170M Table 1", true, false},
			{"burst start", burstAt, 19/cycle*1e6 - 0.1, 19/cycle*1e6 + 0.1, "us", "SMPTE 170M, 19 cycles after 0H; +-0.1 us as in BT.1700", true, false},
			{"burst length", burstCycles, 8, 10, "cycles", "SMPTE 170M Table 1", true, false},
			{"equalising pulse", equalising, 2.2, 2.4, "us", "SMPTE 170M Table 1", true, false},
			{"serration", serration, 4.6, 4.8, "us", "SMPTE 170M Table 1", true, false},
		}
	}
	return []rule{
		{"line period", lineUS, 64 * (1 - 2e-4), 64 * (1 + 2e-4), "us", "ITU-R BT.470-6 Table 1-1", true, false},
		{"field rate", fieldHz, 50 * (1 - 2e-4), 50 * (1 + 2e-4), "Hz", "ITU-R BT.470-6 Table 1-1", true, false},
		{"lines a field", lines, 312.5, 312.5, "lines", "ITU-R BT.1700 Table 1", true, false},
		{"sync", syncMV, 270, 330, "mV", "ITU-R BT.1700 Table 1" + practice, false, true},
		{"white", whiteMV, 630, 770, "mV", "ITU-R BT.1700 Table 1" + practice, false, false},
		{"burst", burstMVPP, 270, 330, "mV", "ITU-R BT.1700 Table 1", false, false},
		{"subcarrier", burstHz, 4433618.75 - 5, 4433618.75 + 5, "Hz", "ITU-R BT.470-6 Table 2 (B, G)", true, false},
		{"sync width", syncUS, 4.5, 4.9, "us", "ITU-R BT.1700 Table 2", false, false},
		{"sync edge", syncRise, 100, 300, "ns", "ITU-R BT.1700 Table 2", true, false},
		{"front porch", frontPorch, 1.5, 1.8, "us", "ITU-R BT.470-6 Table 1-1", true, false},
		{"line blanking", blankingUS, 11.7, 12, "us", "ITU-R BT.1700 Table 2", true, false},
		{"burst start", burstAt, 5.5, 5.7, "us", "ITU-R BT.1700 Table 2", true, false},
		{"burst length", burstCycles, 9, 11, "cycles", "ITU-R BT.1700 Table 2", true, false},
		{"equalising pulse", equalising, 2.25, 2.45, "us", "ITU-R BT.1700 Table 2", true, false},
		{"broad pulse", broad, 27.2, 27.4, "us", "ITU-R BT.1700 Table 2", true, false},
		{"serration", serration, 4.6, 4.8, "us", "ITU-R BT.1700 Table 2", true, false},
	}
}

// spreadOf names the uncertainty that a rule's value has in the result.
var spreadOf = map[string]string{
	"line period": "line_us", "field rate": "field_hz", "sync": "sync_mv", "white": "white_mv", "burst": "burst_mvpp", "subcarrier": "burst_hz",
	"sync width": "sync_us", "sync edge": "sync_rise_ns", "front porch": "front_porch_us", "line blanking": "back_porch_us",
	"0H to end of blanking": "back_porch_us", "equalising pulse": "equalising_us", "broad pulse": "broad_us", "serration": "serration_us",
}

func lineUS(r *Result) *float64      { return r.LineUS }
func fieldHz(r *Result) *float64     { return r.FieldHz }
func lines(r *Result) *float64       { return r.Lines }
func syncMV(r *Result) *float64      { return r.SyncMV }
func whiteMV(r *Result) *float64     { return r.WhiteMV }
func burstMVPP(r *Result) *float64   { return r.BurstMVPP }
func burstHz(r *Result) *float64     { return r.BurstHz }
func syncUS(r *Result) *float64      { return r.SyncUS }
func syncRise(r *Result) *float64    { return r.SyncRise }
func frontPorch(r *Result) *float64  { return r.FrontPorch }
func blankingUS(r *Result) *float64  { return r.BlankingUS }
func burstAt(r *Result) *float64     { return r.BurstAt }
func burstCycles(r *Result) *float64 { return r.BurstCycles }
func equalising(r *Result) *float64  { return r.Equalising }
func broad(r *Result) *float64       { return r.Broad }
func serration(r *Result) *float64   { return r.Serration }

func endOfBlanking(r *Result) *float64 {
	if r.SyncUS == nil || r.BackPorch == nil {
		return nil
	}
	v := *r.SyncUS + *r.BackPorch
	return &v
}

// sized tells whether the burst, or sync where none is measured, is within its limits: the level is then right, and what is brightest
// is what the screen shows.
func (r *Result) sized(s video.Standard) bool {
	name := "burst"
	if r.BurstMVPP == nil {
		name = "sync"
	}
	for _, u := range rules(s) {
		if v := u.value(r); u.name == name && v != nil && (name == "burst" || r.Absolute) {
			open := 2 * r.Spread[spreadOf[u.name]]
			return *v >= u.low-open && *v <= u.high+open
		}
	}
	return false
}

// judge fills in the table.
func (r *Result) judge(s video.Standard) {
	for _, u := range rules(s) {
		v := u.value(r)
		if v == nil || u.level && !r.Absolute {
			continue
		}
		// A value on its limit passes: what the measurement itself leaves open.
		slack := 1e-9 * u.high
		if u.unit == "us" && u.name != "line period" {
			slack = 0.002
		}
		open := 2 * r.Spread[spreadOf[u.name]]
		if u.high > u.low && open > u.high-u.low {
			r.Missing = append(r.Missing, Missing{u.name + " against its limits", fmt.Sprintf("what the record leaves open, %.2g %s either way, is more than its limits", open, u.unit)})
			continue
		}
		slack = math.Max(slack, open)
		if u.name == "white" && *v < u.low-slack && r.sized(s) {
			r.Missing = append(r.Missing, Missing{u.name + " against its limits",
				fmt.Sprintf("nothing brighter than %.0f mV is in the record, while sync and burst are of their right size: show white", *v)})
			continue
		}
		r.Limits = append(r.Limits, Limit{
			Name: u.name, Value: *v, Low: u.low, High: u.high, Unit: u.unit, Clause: u.clause, Trait: u.trait,
			Pass: *v >= u.low-slack && *v <= u.high+slack,
		})
	}
}
