package signalpath

import (
	"math"
	"testing"

	"backporch/video"
	"backporch/video/display"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
)

// quietly fills in what a capture without noise and without a codec shows of what devices do, by where the picture really lies.
func quietly(t *testing.T, p *display.Profile, seed uint64, truth simulator.Truth, d dose, k int) {
	t.Helper()
	_, crawls := d.truth["dot-crawl"]
	_, clips := d.truth["clipped"]
	if !crawls && !clips {
		return
	}
	sc := scenario(p, seed, d, k)
	sc.Chain.NoiseMV, sc.Device = 1e-3, truth.Device
	sc.Device.NoiseMV = 1e-3
	var fields []*video.Field
	for _, f := range simulatortest.Frames(t, sc, d.words()...) {
		fields = append(fields, f.Fields(sc.Order, p.FieldHz()/2)...)
	}
	if clips {
		d.truth["clipped"] = endShare(fields, p, truth)
	}
	if crawls {
		crawl, cross := crosstalk(fields, p, truth)
		d.truth["dot-crawl"], d.truth["cross-colour"] = crawl, cross
		if math.IsNaN(cross) {
			delete(d.truth, "cross-colour")
		}
	}
}

// endShare is the part of the screen's samples, %, whose mean is at the end of the codes.
func endShare(fields []*video.Field, p *display.Profile, truth simulator.Truth) float64 {
	n, all := 0, 0
	for y := int(truth.OriginY) - p.BorderTop + 4; y < int(truth.OriginY)+p.Height+p.BorderBottom-4; y++ {
		from := int(truth.OriginX - float64(p.BorderLeft-12)*truth.PitchX)
		to := int(truth.OriginX + float64(p.Width+p.BorderRight-12)*truth.PitchX)
		for x := max(from, 0); x < min(to, fields[0].Width); x++ {
			if y < 0 || y >= fields[0].Height {
				continue
			}
			sum := 0.0
			for _, f := range fields {
				sum += float64(f.Line(y)[x])
			}
			if sum/float64(len(fields)) >= 252.5 {
				n++
			}
			all++
		}
	}
	return 100 * float64(n) / float64(all)
}

// Beside an edge, well off any, and off colours, samples.
const besideEdge, offEdges, offColours = 4, 12, 24

// crosstalk is what moves in luma beside edges, and what chroma shows beside edges between greys, well off any colour,
// beyond what it does off edges, both rms in % of white.
func crosstalk(fields []*video.Field, p *display.Profile, truth simulator.Truth) (crawl, cross float64) {
	row := p.BorderLeft + p.Width + p.BorderRight
	var luma, chroma struct{ near, nearN, flat, flatN float64 } // sums of squares, and how many
	for y := range p.Height {
		line := int(math.Round(truth.OriginY)) + y
		if line < 0 || line >= fields[0].Height {
			continue
		}
		pixels := truth.Pixels[y*row : (y+1)*row]
		at := func(i int) float64 { return truth.OriginX + float64(i-p.BorderLeft)*truth.PitchX }
		for x := max(int(at(0))+24, 0); x < min(int(at(row))-24, fields[0].Width); x++ {
			edge, colour := math.Inf(1), math.Inf(1)
			for i, v := range pixels {
				if i > 0 && v != pixels[i-1] {
					edge = math.Min(edge, math.Abs(at(i)-float64(x)))
				}
				if p.Colours[v].Saturation() > 0.02 {
					colour = math.Min(colour, math.Abs(at(i)-float64(x)))
				}
			}
			if edge > besideEdge && edge < offEdges || flashes(p, truth, y, x) {
				continue
			}
			mean, squares := 0.0, 0.0
			for _, f := range fields {
				mean += float64(f.Line(line)[x]) / float64(len(fields))
			}
			for _, f := range fields {
				squares += sq(float64(f.Line(line)[x])-mean) / float64(len(fields))
			}
			if edge <= besideEdge {
				luma.near, luma.nearN = luma.near+squares, luma.nearN+1
			}
			if x%2 == 1 || colour < offColours {
				continue
			}
			squares = 0
			for _, f := range fields {
				c := line*f.ChromaWidth + x/2
				v := video.YUVOfCodes(16, float64(f.Cb[c]), float64(f.Cr[c]))
				squares += (sq(v.U) + sq(v.V)) / float64(len(fields))
			}
			if edge <= besideEdge {
				chroma.near, chroma.nearN = chroma.near+squares, chroma.nearN+1
			} else {
				chroma.flat, chroma.flatN = chroma.flat+squares, chroma.flatN+1
			}
		}
	}
	full := 219.0
	if truth.Device.Full {
		full = 255
	}
	crawl = 100 * math.Sqrt(luma.near/luma.nearN) / (full * truth.Device.Gain)
	cross = 100 * math.Sqrt(math.Max(0, chroma.near/chroma.nearN-chroma.flat/chroma.flatN)) * 219 / (full * truth.Device.Gain)
	if chroma.nearN < 200 || chroma.flatN < 200 {
		cross = math.NaN()
	}
	return crawl, cross
}

// flashes tells whether a sample of a line of the picture lies in a cell that flashes.
func flashes(p *display.Profile, truth simulator.Truth, y, x int) bool {
	column := int(math.Floor((float64(x)-truth.OriginX)/truth.PitchX)) / display.CellSize
	if p.Kind != display.Attr || column < 0 || column >= p.Columns() {
		return false
	}
	return truth.Read[p.CellAddress(y/display.CellSize, column)]&0x80 != 0
}
