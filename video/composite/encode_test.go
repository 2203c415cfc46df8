package composite

import (
	"math"
	"testing"

	"backporch/video"
)

// The bars on the waveform: luma, chroma and phase against the burst.
func TestBarsOnTheWaveform(t *testing.T) {
	type bar struct{ luma, chroma, phase float64 } // mV, mV peak to peak, degrees
	const ire = 1000.0 / 140                       // mV; SMPTE 170M
	tests := []struct {
		name   string
		raster Raster
		part   float64
		want   []bar // yellow to blue
		tol    float64
	}{
		// ITU-R BT.1700: Y = 0.299R + 0.587G + 0.114B, U = 0.493(B-Y), V = 0.877(R-Y) at
		// 700 mV, worked out for each bar.
		{"625 100/0/100/0", broadcast(video.Std625), 1, []bar{
			{620.2, 627.3, 167.11}, {490.7, 885.1, 283.48}, {410.9, 826.8, 240.66},
			{289.1, 826.8, 60.66}, {209.3, 885.1, 103.48}, {79.8, 627.3, 347.11}}, 1},
		{"625 100/0/75/0", broadcast(video.Std625), 0.75, []bar{
			{465.1, 470.5, 167.11}, {368.0, 663.8, 283.48}, {308.2, 620.1, 240.66},
			{216.8, 620.1, 60.66}, {157.0, 663.8, 103.48}, {59.9, 470.5, 347.11}}, 1},
		// SMPTE 170M-2004 Tables A.1 and A.3; its U and V factors differ from BT.1700's in the
		// fourth figure, which is 1.6 mV in 840.
		{"525 100/7.5/100/7.5", setup(broadcast(video.Std525)), 1, []bar{
			{89.4550 * ire, 82.7567 * ire, 167.0812}, {72.3425 * ire, 116.9817 * ire, 283.4558}, {61.7975 * ire, 109.2338 * ire, 240.7098},
			{45.7025 * ire, 109.2338 * ire, 60.7098}, {35.1575 * ire, 116.9817 * ire, 103.4558}, {18.0450 * ire, 82.7567 * ire, 347.0812}}, 2},
		{"525 75/7.5/75/7.5", setup(broadcast(video.Std525)), 0.75, []bar{
			{68.9663 * ire, 62.0675 * ire, 167.0812}, {56.1319 * ire, 87.7363 * ire, 283.4558}, {48.2231 * ire, 81.9253 * ire, 240.7098},
			{36.1519 * ire, 81.9253 * ire, 60.7098}, {28.2431 * ire, 87.7363 * ire, 103.4558}, {15.4088 * ire, 62.0675 * ire, 347.0812}}, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			e := newEncoder(t, tt.raster)
			drawBars(e, tt.raster, bars(tt.part))
			x := e.Encode(nil)
			scan := tt.raster.Standard.Scan()
			w := 2 * math.Pi * scan.SubcarrierHz / e.Rate()
			us := e.Rate() * 1e-6
			for n := 60; n < 64; n++ {
				zero := e.ZeroH(n)
				from := int(zero + 6.2*us)
				_, burst, ref := fit(x[from:from+int(1.2*us)], from, w)
				if got := 2 * burst; math.Abs(got-scan.BurstMVPP) > 1.5 { // BT.1700: 300 mV; SMPTE 170M: 40 IRE
					t.Errorf("line %d: burst %.1f mV p-p, want %.1f", n, got, scan.BurstMVPP)
				}
				inverted := tt.raster.Standard == video.Std625 && n%2 == 1
				axis := ref - 180 // where +U is
				if tt.raster.Standard == video.Std625 {
					axis = ref - 135
					if inverted {
						axis = ref + 135
					}
				}
				for i, want := range tt.want {
					mid := zero + (firstBar(tt.raster.Standard)+(float64(i)+1.5)*barWidth)/13.5*us
					from := int(mid - 2*us)
					dc, amplitude, phase := fit(x[from:from+int(4*us)], from, w)
					hue := turn(phase - axis)
					if inverted {
						hue = -hue
					}
					if math.Abs(dc-want.luma) > tt.tol || math.Abs(2*amplitude-want.chroma) > tt.tol {
						t.Errorf("line %d, bar %d: %.1f mV, chroma %.1f mV p-p; want %.1f, %.1f", n, i+1, dc, 2*amplitude, want.luma, want.chroma)
					}
					if d := math.Abs(turn(hue - want.phase)); d > 0.2 {
						t.Errorf("line %d, bar %d: hue %.2f, want %.2f", n, i+1, hue, want.phase)
					}
				}
			}
		})
	}
}

func setup(r Raster) Raster { r.Setup = true; return r }

// Times on the waveform: ITU-R BT.1700 Table 2 and SMPTE 170M clauses on line and
// field timing; tolerances are the standards' own.
func TestTiming(t *testing.T) {
	tests := []struct {
		standard                             video.Standard
		h, sync, syncTol, rise, riseTol      float64 // us
		burst, burstTol, burstLen, lenTol    float64
		blanking, equalising, broad, porchIn float64
		tip, tipTol                          float64 // mV
	}{
		{video.Std625, 64, 4.7, 0.2, 0.2, 0.1, 5.6, 0.1, 2.25, 0.23, 10.5, 2.35, 27.3, 1.5, -300, 1},
		{video.Std525, 63.5556, 4.7, 0.1, 0.14, 0.02, 5.308, 0.07, 2.514, 0.28, 9.2, 2.30, 27.078, 1.5, -285.7, 1},
	}
	for _, tt := range tests {
		t.Run(tt.standard.String(), func(t *testing.T) {
			r := broadcast(tt.standard)
			e := newEncoder(t, r)
			// A white line from end to end of the active part.
			active0, active1 := r.Active()
			pixels := make([]uint8, int(math.Round((active1-active0)*r.PixelHz)))
			for n := 30; n < 40; n++ {
				e.SetLine(n, active0*r.PixelHz, pixels, []video.YUV{{Y: 1}})
			}
			x := e.Encode(nil)
			us := e.Rate() * 1e-6
			near := func(what string, got, want, tol float64) {
				t.Helper()
				if math.Abs(got-want) > tol {
					t.Errorf("%s: %.4f, want %.4f within %.4f", what, got, want, tol)
				}
			}
			half := tt.tip / 2
			zero := cross(t, x, half, int(e.ZeroH(32)-us), false)
			near("0H", zero/us, e.ZeroH(32)/us, 0.005)
			near("line", (cross(t, x, half, int(e.ZeroH(33)-us), false)-zero)/us, tt.h, 0.002)
			end := cross(t, x, half, int(zero+2*us), true)
			near("sync width", (end-zero)/us, tt.sync, tt.syncTol)
			a := cross(t, x, tt.tip*0.1, int(zero-us), false)
			b := cross(t, x, tt.tip*0.9, int(zero-us), false)
			near("sync edge 10 to 90 %", (b-a)/us, tt.rise, tt.riseTol)
			near("sync tip", float64(x[int(zero+2.5*us)]), tt.tip, tt.tipTol)
			white := tt.standard.Scan().WhiteMV
			near("white", float64(x[int(zero+30*us)]), white, 2) // BT.1700 700 mV; SMPTE 170M 100 IRE
			near("end of blanking", (cross(t, x, white/2, int(zero+9*us), true)-zero)/us, tt.blanking, 0.05)
			last := cross(t, x, white/2, int(zero+40*us), false)
			near("front porch", tt.h-(last-zero)/us, tt.porchIn, 0.1)

			// The burst's envelope by demodulation over one cycle.
			w := 2 * math.Pi * tt.standard.Scan().SubcarrierHz / e.Rate()
			envelope := func(at float64) float64 {
				from := int(math.Round(at - 1.5)) // one cycle about at
				_, amplitude, _ := fit(x[from:from+4], from, w)
				return amplitude
			}
			var on, off float64
			for at := zero + 4.9*us; at < zero+9.1*us; at += 0.25 {
				if v := envelope(at) > tt.standard.Scan().BurstMVPP/4; v && on == 0 {
					on = at
				} else if !v && on > 0 && off == 0 {
					off = at
				}
			}
			near("burst start", (on-zero)/us, tt.burst, tt.burstTol)
			near("burst length", (off-on)/us, tt.burstLen, tt.lenTol)

			// Field sync begins at 0H of line 0.
			lines := e.line
			broad := cross(t, x, half, 0, false)
			near("field sync starts", broad/us, e.ZeroH(0)/us, 0.005)
			near("broad pulse", (cross(t, x, half, int(broad+5), true)-broad)/us, tt.broad, 0.1)
			pulses := float64(e.timing.equalisingPulses)
			eq := cross(t, x, half, int(broad+pulses/2*lines-us), false)
			near("first equalising pulse", (eq-broad)/us, pulses/2*tt.h, 0.01)
			near("equalising pulse", (cross(t, x, half, int(eq+5), true)-eq)/us, tt.equalising, 0.1)
			// The second field begins in the middle of a line: 312.5 or 262.5 lines on.
			second := cross(t, x, half, int(broad+float64(r.Lines)/2*lines-us), false)
			near("second field", (second-broad)/lines, float64(r.Lines)/2, 0.001)
		})
	}
}

// A machine with its own line length and a free subcarrier keeps both.
func TestMachineRaster(t *testing.T) {
	r := Raster{Standard: video.Std625, PixelHz: 7.881988e6, LinePixels: 504, Lines: 312, SubcarrierHz: 7.881988e6 * 9 / 16}
	e := newEncoder(t, r)
	var x []float32
	for range 2 {
		x = append(x, e.Encode(nil)...)
	}
	// 283.5 cycles a line, a whole number a field: the second field is the first again.
	n := e.Samples()
	for i := range n {
		if d := math.Abs(float64(x[i] - x[i+n])); d > 0.5 {
			t.Fatalf("sample %d differs by %.2f mV from that a field later", i, d)
		}
	}
	us := e.Rate() * 1e-6
	a := cross(t, x, -150, int(e.ZeroH(20)-us), false)
	b := cross(t, x, -150, int(e.ZeroH(300)-us), false)
	// fH = fp/N = 15638.865 Hz.
	if got := 280 * e.Rate() / (b - a); math.Abs(got-7.881988e6/504) > 0.05 {
		t.Errorf("line frequency %.3f Hz, want 15638.865", got)
	}
	// One long pulse of four lines, run together with the line sync behind it.
	if got := (cross(t, x, -150, 100, true) - cross(t, x, -150, 0, false)) / e.line; math.Abs(got-4-4.7/64) > 0.01 {
		t.Errorf("field pulse of %.3f lines, want 4.07", got)
	}
}

// A step drawn at any place has its half-amplitude point there.
func TestEdgePlace(t *testing.T) {
	for _, table := range []*edgeTable{gaussEdge(0.34), gaussEdge(0.08), sineSquaredEdge(3.5)} {
		for i := range 50 {
			at := 100 + float64(i)*0.0371
			d := make([]float32, 200)
			table.add(d, at, 700)
			sum := float32(0)
			for i := range d {
				sum += d[i]
				d[i] = sum
			}
			if math.Abs(float64(sum)-700) > 0.01 {
				t.Fatalf("step of %v", sum)
			}
			// Straight lines between samples of so sharp an edge cost up to 3 ns.
			if got := cross(t, d, 350, 50, true); math.Abs(got-at) > 0.05 {
				t.Errorf("edge at %.3f, want %.3f", got, at)
			}
		}
	}
}

func TestRefusesWhatCannotBeMade(t *testing.T) {
	good := broadcast(video.Std625)
	for name, spoil := range map[string]func(*Raster){
		"no standard":     func(r *Raster) { r.Standard = video.UnknownStandard },
		"no clock":        func(r *Raster) { r.PixelHz = 0 },
		"no lines":        func(r *Raster) { r.Lines = 0 },
		"line too long":   func(r *Raster) { r.LinePixels = 2000 },
		"even interlaced": func(r *Raster) { r.Lines = 624 },
	} {
		r := good
		spoil(&r)
		if _, err := NewEncoder(r, 0); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := NewEncoder(good, 1e6); err == nil {
		t.Error("1 MHz: no error")
	}
	if _, err := NewDecoder(Options{Standard: video.Std625, Rate: 1e6}); err == nil {
		t.Error("decoder at 1 MHz: no error")
	}
}
