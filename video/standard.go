package video

// Standard is a television scanning standard.
type Standard int

const (
	// UnknownStandard: size and rate fit neither.
	UnknownStandard Standard = iota
	// Std625 is 625 lines, 50 fields a second (PAL B, G, I).
	Std625
	// Std525 is 525 lines, 59.94 fields a second (NTSC M).
	Std525
)

func (s Standard) String() string {
	switch s {
	case Std625:
		return "625/50"
	case Std525:
		return "525/60"
	}
	return "unknown"
}

// Scan holds one standard's figures.
type Scan struct {
	LineHz        float64 // lines a second; ITU-R BT.1700, SMPTE 170M
	FieldHz       float64 // fields a second
	LineSamples   int     // luma samples a line at 13.5 MHz; ITU-R BT.601 Table 1
	FieldLines    int     // active lines of a captured field: 576/2, 480/2
	FirstSample   float64 // 13.5 MHz periods from 0H to sample 0; ITU-R BT.601 Appendix 2
	SubcarrierHz  float64 // ITU-R BT.1700, SMPTE 170M
	BlankingMV    float64 // blanking level is the zero of all levels
	WhiteMV       float64 // peak white above blanking, mV
	SyncMV        float64 // sync tip below blanking, mV (positive)
	BurstMVPP     float64 // burst, mV peak to peak
	SetupFraction float64 // black above blanking, as a part of white; 0 in 625/50
}

// Scan gives the standard's figures; those of 625/50 when it is unknown.
func (s Standard) Scan() Scan {
	if s == Std525 {
		return Scan{
			LineHz: 2 * 5e6 * 63 / 88 / 455, FieldHz: 4 * 5e6 * 63 / 88 / 455 / 525,
			LineSamples: 858, FieldLines: 240, FirstSample: 122, SubcarrierHz: 5e6 * 63 / 88,
			WhiteMV: 5000.0 / 7, SyncMV: 2000.0 / 7, BurstMVPP: 2000.0 / 7, SetupFraction: 0.075,
		}
	}
	return Scan{
		LineHz: 15625, FieldHz: 50, LineSamples: 864, FieldLines: 288, FirstSample: 132,
		SubcarrierHz: 4433618.75, WhiteMV: 700, SyncMV: 300, BurstMVPP: 300,
	}
}

// StandardOf tells the standard from a frame's size and rate (frames a second,
// 0 when unknown). Size decides where it can: 576 or 288 lines are 625/50, 480, 486, 240
// or 243 are 525/60, unless the rate says otherwise, as with a scaled 640x480 picture.
func StandardOf(width, height int, rate float64) Standard {
	near := func(a float64) bool { return rate > a*0.97 && rate < a*1.03 }
	byRate := UnknownStandard
	switch {
	case near(25), near(50), near(12.5):
		byRate = Std625
	case near(29.97), near(59.94):
		byRate = Std525
	}
	switch height {
	case 576, 288, 572, 574:
		return Std625 // no 525/60 picture has as many lines
	case 486, 243:
		return Std525
	case 480, 240:
		if byRate != UnknownStandard {
			return byRate
		}
		return Std525
	}
	return byRate
}
