package signal

import (
	"math"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// Input is what Measure looks at.
type Input struct {
	Display      *display.Profile
	Stack        *analyse.Stack             // fields of one flash phase added up
	Fields       []*video.Field             // some of these, neighbours side by side
	Registration analyse.Registration       //
	Levels       analyse.Levels             // codes of white and black, hue, saturation
	Pixels       []uint8                    // [line*Width+pixel]: palette index of the picture
	Border       int                        // palette index, -1 when not known
	Skip         func(row, column int) bool // cells to leave out, such as flashing ones; nil: none
	Path         *Path                      // what the border says; nil: not looked at
	Fits         []analyse.ColourFit        // of the colours seen
	Spots        []analyse.Spot             // the colours
	Good         *analyse.Signal            // of a good machine's capture; nil: none
}

// Measure gives what can be measured.
func Measure(in Input) analyse.Signal {
	var out analyse.Signal
	p, s := in.Display, in.Stack
	out.ColourFits, out.Spots = in.Fits, in.Spots
	in.Path.Into(&out, nominal)
	if p == nil || s == nil || !in.Registration.OK || in.Registration.PitchX <= 0 || in.Registration.PitchY <= 0 ||
		len(in.Pixels) != p.Width*p.Height || len(s.Y) < s.Width*s.Height {
		return out
	}
	if v := in.Levels.Saturation; v > 0 && !math.IsInf(v, 0) && coloured(in.Spots, p) { // false for NaN: no colour shows
		percent, degrees := 100*v, in.Levels.HueDeg
		out.SaturationPct = &percent
		if !math.IsNaN(degrees) {
			out.HueErrorDeg = &degrees
		}
	}
	white := in.Levels.White - in.Levels.Black
	if !(white > 20 && white < 400) { // NaN as well
		return out
	}
	m := newLayout(&in)
	out.SNRdB, out.SNRQuantised = m.noise(white)
	if out.SNRdB == nil && in.Path != nil {
		out.SNRdB, out.SNRQuantised = in.Path.snr(white)
	}
	out.ChromaSNRdB = m.chromaNoise(white)
	out.RiseNs, out.OvershootPct = m.edges(white)
	out.FixedBarsPct = m.bars(white)
	if in.Path != nil {
		out.Tones, out.Curves = nil, analyse.Curves{}
		in.Path.Into(&out, white)
	} else {
		out.HumPct = m.hum(white)
	}
	m.snr(&out, white)
	out.ClippedPct, out.Crawl, out.CrossColour = m.clippedShare(), m.crawl(white), m.crossColour(white, out.Steps)
	if coloured(in.Spots, p) {
		out.ChromaDelay = m.chromaLag()
	}
	edgesOf(&out, in.Stack, p, m.respond(white), m.offset(1e9/p.PixelClockHz), in.Good)
	return out
}

// reachedNs, 10 to 90 %: a pole of as slow an edge has 3 % left a microsecond after it.
const reachedNs = 300.0

// Edges reads the path's response off the border's left end alone, for a picture that could not be placed.
func Edges(out *analyse.Signal, s *analyse.Stack, p *display.Profile) {
	if p != nil && s != nil && s.Width >= 64 && len(s.Y) >= s.Width*s.Height {
		edgesOf(out, s, p, nil, nil, nil)
	}
}

// edgesOf fills in what follows an edge; picture is the response as the picture shows it and offset as its right end does, nil where they tell nothing.
func edgesOf(out *analyse.Signal, s *analyse.Stack, p *display.Profile, picture, offset *response, good *analyse.Signal) {
	onset := newFrame(p, s.Width, s.Height).onset(s, 1e9/p.PixelClockHz)
	if onset == nil || offset != nil && offset.size > 2*onset.size {
		onset = offset // a border that is hardly brighter than blanking has no edge of its own
	}
	hz := p.Standard.Scan().SubcarrierHz
	slow, both := 0.0, picture != nil && onset != nil
	if both {
		inside, outside := picture.softness(hz), onset.softness(hz)
		slow = softer(inside, outside)
		if inside < 0 && outside > 0 { // what the path lets through in the picture it would let through there
			onset = nil
		}
	}
	t, r := newTail(picture, onset, hz, good)
	if t == nil {
		return
	}
	out.Tail, out.TailSigma = t.v, t.sigma
	out.Ghost, out.Ringing = t.ghost(), t.ringing()
	if !both {
		slow = r.softness(hz)
	}
	out.SlowGain = &slow
	var real *analyse.Ghost
	if out.Ghost.Stands(out.Ringing) {
		real = out.Ghost
	}
	out.Rise, out.Overshoot = r.edge(real)
	// Edges themselves are drawn finer than half pixels, where there are enough of them.
	if out.RiseNs != nil {
		out.Rise = &analyse.Estimate{Value: *out.RiseNs, Spread: math.Max(4, 0.03**out.RiseNs), Limit: "edges"}
	}
	if out.OvershootPct != nil {
		out.Overshoot = &analyse.Estimate{Value: *out.OvershootPct, Spread: 1, Limit: "edges"}
	}
	if out.Rise != nil && out.RiseNs == nil {
		out.RiseNs, out.OvershootPct = &out.Rise.Value, &out.Overshoot.Value
	}
	if out.Rise != nil {
		hz := 0.3497e9 / out.Rise.Value
		out.Bandwidth = &analyse.Estimate{Value: hz, Spread: hz * out.Rise.Spread / out.Rise.Value, Limit: "device"} // the device's own has its part in it
	}
	if slow > leastSlow {
		if pole, rise := r.pole(hz); pole != nil {
			out.Bandwidth = pole
			if out.Rise == nil || rise.Value > reachedNs { // such an edge is not over where the one drawn ends
				out.Rise, out.RiseNs = rise, &rise.Value
			}
		}
	}
	out.Curves.Edge = r.curve()
}

// coloured tells whether any colour that is none of the greys shows in areas; where nobody looked it may.
func coloured(spots []analyse.Spot, p *display.Profile) bool {
	for _, s := range spots {
		if s.Index >= 0 && s.Index < len(p.Colours) && p.Colours[s.Index].Saturation() > 0.02 && s.Chroma > 1 {
			return true
		}
	}
	return spots == nil
}

// A run is pixels of one colour on a line: from, to in samples, to exclusive.
type run struct {
	line     int // field line
	colour   uint8
	from, to float64
	pixels   int
	border   bool // nothing but border
	first    int  // machine pixel of its left edge; below 0 in the border
}

// layout is where the runs of every line lie.
type layout struct {
	in   *Input
	runs []run // line by line, left to right
}

// Colours that are none of the palette's.
const (
	unknown = 255 // pixels that are to be left out
	unnamed = 254 // a border whose colour is not known; it is one colour all the same
)

// newLayout cuts the lines into runs. The border's outer ends are left out by a margin, as the
// blanking edge may come early.
func newLayout(in *Input) *layout {
	p, reg := in.Display, in.Registration
	m := &layout{in: in}
	left, right := p.BorderLeft-blankingPixels, p.BorderRight-blankingPixels
	line := make([]uint8, left+p.Width+right)
	border := uint8(unnamed)
	if in.Border >= 0 && in.Border < len(p.Colours) {
		border = uint8(in.Border)
	}
	for y := range in.Stack.Height {
		k := (float64(y) - reg.OriginY) / reg.PitchY
		row := int(math.Round(k))
		if math.Abs(k-float64(row)) > 0.25 || row < -p.BorderTop+blankingLines || row >= p.Height+p.BorderBottom-blankingLines {
			continue // between two machine lines of a scaled picture, or blanking
		}
		for i := range line {
			x := i - left
			line[i] = border
			if row >= 0 && row < p.Height && x >= 0 && x < p.Width {
				line[i] = in.Pixels[row*p.Width+x]
				if int(line[i]) >= len(p.Colours) || in.Skip != nil && in.Skip(row/display.CellSize, x/display.CellSize) {
					line[i] = unknown
				}
			}
		}
		start := 0
		for i := 1; i <= len(line); i++ {
			if i < len(line) && line[i] == line[start] {
				continue
			}
			at := func(pixel int) float64 { return reg.OriginX + float64(pixel-left)*reg.PitchX }
			if line[start] != unknown {
				m.runs = append(m.runs, run{
					line: y, colour: line[start], from: at(start), to: at(i), pixels: i - start, first: start - left,
					border: i <= left || start >= left+p.Width || row < 0 || row >= p.Height,
				})
			}
			start = i
		}
	}
	return m
}

// How much of the border is left out beside its blanking edges.
const (
	blankingPixels = 12
	blankingLines  = 4
)

// inside gives the whole samples of a run that are margin samples off its ends.
func (m *layout) inside(r *run, margin float64) (from, to int) {
	from = max(0, int(math.Ceil(r.from+margin)))
	to = min(m.in.Stack.Width, int(math.Floor(r.to-margin)))
	return from, max(from, to)
}

// mean is the stack's mean luma over samples of a line.
func (m *layout) mean(line, from, to int) float64 {
	sum := 0.0
	for _, v := range m.in.Stack.Y[line*m.in.Stack.Width+from : line*m.in.Stack.Width+to] {
		sum += float64(v)
	}
	return sum / float64(to-from)
}
