package signal

import (
	"math"
	"math/cmplx"

	"backporch/analyse"
	"backporch/video"
)

// How far chroma is sought from luma, ns; what part of chroma the colours must explain; and what is open of it besides scatter: luma's own delay over that of
// its edges, and the place of the picture. Common practice, no source.
const (
	mostLag     = 700.0
	explained   = 0.3
	lagOpen     = 10.0
	lagOther    = 25.0  // where as much of chroma is none of the colours', as luma's edges make it
	lagHz       = 700e3 // up to which chroma is alike in all decoders
	lagGroups   = 6
	lagLines    = 160
	leastLines  = 8    // of lines on which the colour changes
	lagColoured = 0.03 // rms of the expected chroma about its mean, parts of white
)

// chromaLag is how late chroma is against luma: where the correlation of chroma with that of the colours that stand there is greatest. What decoders and
// encoders do to chroma besides is even about its place. Turned hues turn all of the correlation and do not move it.
func (m *layout) chromaLag() *analyse.Estimate {
	s, p := m.in.Stack, m.in.Display
	if s.ChromaWidth < 64 || len(s.Cb) < s.ChromaWidth*s.Height || len(s.Cr) < s.ChromaWidth*s.Height {
		return nil
	}
	wide := float64(s.Width) / float64(s.ChromaWidth)                 // samples of luma to one of chroma
	step := m.sampleNs() * wide                                       // ns
	n := int(math.Ceil(lagHz * step * 1e-9 * float64(s.ChromaWidth))) // frequencies
	var groups [lagGroups][]complex128
	for i := range groups {
		groups[i] = make([]complex128, 2*n+1)
	}
	var power [2]float64
	lines := 0
	colours := make([]complex128, len(p.Colours))
	for i, c := range p.Colours {
		colours[i] = complex(c.U, c.V)
	}
	for _, line := range m.coloured(colours, wide) {
		from, to := line.from, line.from+len(line.chroma)
		seen := make([]complex128, to-from)
		for x := from; x < to; x++ {
			c := video.YUVOfCodes(0, float64(s.Cb[line.y*s.ChromaWidth+x]), float64(s.Cr[line.y*s.ChromaWidth+x]))
			seen[x-from] = complex(c.U, c.V)
		}
		seen, line.chroma = edgesIn(seen), edgesIn(line.chroma)
		group := groups[lines%lagGroups]
		lines++
		for k := -n; k <= n; k++ {
			if k == 0 {
				continue
			}
			turn := cmplx.Exp(complex(0, -2*math.Pi*float64(k)/float64(s.ChromaWidth)))
			at := complex(1, 0)
			var a, b complex128
			for i, v := range seen {
				a += v * at
				b += line.chroma[i] * at
				at *= turn
			}
			power[0] += square(cmplx.Abs(a)) / float64(s.ChromaWidth)
			power[1] += square(cmplx.Abs(b)) / float64(s.ChromaWidth)
			group[k+n] += a * cmplx.Conj(b) / complex(float64(s.ChromaWidth), 0)
		}
	}
	if lines < leastLines {
		return nil
	}
	all := make([]complex128, 2*n+1)
	for _, g := range groups {
		for k, v := range g {
			all[k] += v
		}
	}
	lag, most := latest(all, n, step*float64(s.ChromaWidth))
	part := most / math.Sqrt(power[0]*power[1])
	if part < explained || math.Abs(lag) > mostLag-2*lagOpen {
		return nil
	}
	scatter := 0.0
	for _, g := range groups {
		d, _ := latest(g, n, step*float64(s.ChromaWidth))
		scatter += square(d-lag) / (lagGroups * (lagGroups - 1))
	}
	return &analyse.Estimate{Value: lag, Spread: math.Hypot(math.Hypot(lagOpen, lagOther*math.Sqrt(1/(part*part)-1)), math.Sqrt(scatter)), Limit: "chroma"}
}

// latest is the delay at which a cross-spectrum adds up to most, ns; span is the time that its frequencies are of.
func latest(spectrum []complex128, n int, span float64) (lag, most float64) {
	sum := func(ns float64) float64 {
		var z complex128
		turn := cmplx.Exp(complex(0, 2*math.Pi*ns/span))
		at := cmplx.Pow(turn, complex(float64(-n), 0))
		for _, v := range spectrum {
			z += v * at
			at *= turn
		}
		return cmplx.Abs(z)
	}
	const coarse = 20.0
	for ns := -mostLag; ns <= mostLag; ns += coarse {
		if v := sum(ns); v > most {
			lag, most = ns, v
		}
	}
	a, b, c := sum(lag-coarse), most, sum(lag+coarse)
	if d := a - 2*b + c; d < 0 {
		lag += math.Max(-1, math.Min(1, (a-c)/(2*d))) * coarse
	}
	return lag, most
}

// A colouredLine is the chroma that a line should have, by samples of chroma.
type colouredLine struct {
	y, from int
	chroma  []complex128
}

// coloured gives lines on which the colour changes, all of whose pixels are known.
func (m *layout) coloured(colours []complex128, wide float64) []colouredLine {
	var out []colouredLine
	for i := 0; i < len(m.runs); {
		end := i + 1
		whole := true
		for end < len(m.runs) && m.runs[end].line == m.runs[i].line {
			whole = whole && math.Abs(m.runs[end].from-m.runs[end-1].to) < 1e-6
			end++
		}
		runs := m.runs[i:end]
		i = end
		from := max(0, int(math.Ceil(runs[0].from/wide)))
		to := min(m.in.Stack.ChromaWidth, int(runs[len(runs)-1].to/wide))
		if !whole || len(runs) < 2 || to-from < 64 {
			continue
		}
		line := colouredLine{y: runs[0].line, from: from, chroma: make([]complex128, to-from)}
		known := true
		for _, r := range runs {
			if int(r.colour) >= len(colours) {
				known = false
				break
			}
			// Each sample is the mean of what lies within half a sample of it.
			for x := max(from, int(r.from/wide-0.5)); x < min(to, int(r.to/wide+1.5)); x++ {
				part := math.Min(float64(x)+0.5, r.to/wide) - math.Max(float64(x)-0.5, r.from/wide)
				if part > 0 {
					line.chroma[x-from] += complex(part, 0) * colours[r.colour]
				}
			}
		}
		if !known {
			continue
		}
		var mean complex128
		squares := 0.0
		for _, v := range line.chroma {
			mean += v / complex(float64(len(line.chroma)), 0)
		}
		for _, v := range line.chroma {
			squares += square(cmplx.Abs(v-mean)) / float64(len(line.chroma))
		}
		if squares > square(lagColoured) {
			out = append(out, line)
		}
	}
	return thin(out, lagLines)
}

// edgesIn takes the difference of each sample from the next: a border that is even has none, so that where a line is cut off does not matter.
func edgesIn(line []complex128) []complex128 {
	for i := range len(line) - 1 {
		line[i] = line[i+1] - line[i]
	}
	return line[:len(line)-1]
}
