package composite

import (
	"errors"
	"fmt"
	"math"

	"backporch/video"
)

// FieldSync is the shape of the field synchronising signal.
type FieldSync int

const (
	// LongPulse is one long pulse with no serration, as home computers make it, or-ed
	// with the line sync behind it (common practice, no source).
	LongPulse FieldSync = iota
	// SerratedPulse is one long pulse, interrupted by 4.7 us before each line.
	SerratedPulse
	// Equalised has equalising and broad pulses (ITU-R BT.1700, SMPTE 170M).
	Equalised
)

// A Raster is a source's scanning, as it is and not as a standard wants it.
type Raster struct {
	Standard     video.Standard
	PixelHz      float64 // pixel clock
	LinePixels   int     // pixel periods a line
	Lines        int     // lines a field; a frame's when Interlaced (625 or 525)
	Interlaced   bool
	FieldSync    FieldSync
	SyncLines    int     // length of a long pulse, lines; 0 means 4
	SubcarrierHz float64 // 0: the standard's own
	NoBurst      bool    // nothing on the back porch
	Setup        bool    // 525/60: black stands 7.5 IRE above blanking
	LumaHz       float64 // luma bandwidth, -3 dB; 0 means 6 MHz
	ChromaDelay  float64 // s, that chroma is late against luma
	ChromaHz     float64 // chroma bandwidth, -3 dB; 0 means 1.3 MHz (ITU-R BT.470, SMPTE 170M)
}

// Timing of one line, in seconds after 0H (ITU-R BT.1700 Table 2; SMPTE 170M).
type lineTiming struct {
	sync, equalising, rise     float64
	burstStart                 float64
	burstCycles                float64
	blankingEnd, frontPorch    float64
	equalisingPulses, noBurst0 int // pulses of each sort; half-lines after the broad pulses without burst
}

func timingOf(s video.Standard) lineTiming {
	if s == video.Std525 {
		fsc := s.Scan().SubcarrierHz
		return lineTiming{
			sync: 4.7e-6, equalising: 2.3e-6, rise: 140e-9, burstStart: 19 / fsc, burstCycles: 9,
			blankingEnd: 9.2e-6, frontPorch: 1.5e-6, equalisingPulses: 6, noBurst0: 12,
		}
	}
	return lineTiming{
		sync: 4.7e-6, equalising: 2.35e-6, rise: 200e-9, burstStart: 5.6e-6, burstCycles: 10,
		blankingEnd: 10.5e-6, frontPorch: 1.5e-6, equalisingPulses: 5, noBurst0: 12,
	}
}

// Active says where picture and border may stand in a line: from and to in
// seconds after 0H.
func (r *Raster) Active() (from, to float64) {
	t := timingOf(r.Standard)
	return t.blankingEnd, float64(r.LinePixels)/r.PixelHz - t.frontPorch
}

func (r *Raster) check(rate float64) error {
	var problems []error
	if r.Standard != video.Std525 && r.Standard != video.Std625 {
		problems = append(problems, errors.New("composite: no television standard given"))
	}
	if !(r.PixelHz > 0) || r.LinePixels <= 0 || r.Lines < 100 || r.Lines > 1000 {
		problems = append(problems, fmt.Errorf("composite: a raster of %d lines of %d pixels at %v Hz cannot be made", r.Lines, r.LinePixels, r.PixelHz))
		return errors.Join(problems...)
	}
	if off := r.LineHz()/r.Standard.Scan().LineHz - 1; math.Abs(off) > 0.05 {
		problems = append(problems, fmt.Errorf("composite: %.0f lines a second is more than 5 %% from the standard's", r.LineHz()))
	}
	if r.Interlaced && r.Lines%2 == 0 {
		problems = append(problems, fmt.Errorf("composite: %d lines cannot be interlaced, an odd number can", r.Lines))
	}
	if s := r.subcarrier(); rate < 2.5*s || rate > 20*s {
		problems = append(problems, fmt.Errorf("composite: %.0f samples a second: use 2.5 to 20 times the subcarrier (%.0f Hz)", rate, s))
	}
	return errors.Join(problems...)
}

// LineHz is the line frequency.
func (r *Raster) LineHz() float64 { return r.PixelHz / float64(r.LinePixels) }

func (r *Raster) subcarrier() float64 {
	if r.SubcarrierHz > 0 {
		return r.SubcarrierHz
	}
	return r.Standard.Scan().SubcarrierHz
}

// A pulse is one sync pulse: it begins at from and ends at to, seconds after 0H of line 0.
type pulse struct{ from, to float64 }

// pulses lists all sync pulses of a field, or of a frame when interlaced. Field
// sync begins at 0H of line 0 and, interlaced, half-way down the frame.
func (r *Raster) pulses() []pulse {
	t := timingOf(r.Standard)
	h := 1 / r.LineHz()
	var out []pulse
	if r.FieldSync == Equalised {
		for i := range 2 * r.Lines {
			at := float64(i) * h / 2
			switch place, n := r.halfLine(i), t.equalisingPulses; {
			case place >= 0 && place < n:
				out = append(out, pulse{at, at + h/2 - 4.7e-6})
			case place >= -n && place < 2*n:
				out = append(out, pulse{at, at + t.equalising})
			case i%2 == 0:
				out = append(out, pulse{at, at + t.sync})
			}
		}
		return out
	}
	long := r.longLines()
	if r.FieldSync == LongPulse {
		out = append(out, pulse{0, float64(long) * h})
	} else {
		for i := range long {
			out = append(out, pulse{float64(i) * h, float64(i+1)*h - 4.7e-6})
		}
	}
	for i := long; i < r.Lines; i++ {
		out = append(out, pulse{float64(i) * h, float64(i)*h + t.sync})
	}
	return out
}

func (r *Raster) longLines() int {
	if r.SyncLines > 0 {
		return r.SyncLines
	}
	return 4
}

// halfLine is the distance in half-lines from the nearest field sync's start.
func (r *Raster) halfLine(i int) int {
	period := 2 * r.Lines
	if r.Interlaced {
		period = r.Lines
	}
	i %= period
	if i > period/2 {
		i -= period
	}
	return i
}

// hasBurst says whether line n carries a burst.
func (r *Raster) hasBurst(n int) bool {
	if r.NoBurst {
		return false
	}
	if r.FieldSync != Equalised {
		return n >= r.longLines()
	}
	t := timingOf(r.Standard)
	a, b := r.halfLine(2*n), r.halfLine(2*n+1)
	in := func(i int) bool { return i >= -t.equalisingPulses && i < t.noBurst0 }
	return !in(a) && !in(b)
}
