// Package analysetest draws captured fields straight from display memory, for
// tests: each pixel edge blurred by a Gaussian, colours at the codes of ITU-R BT.601, noise added.
// There is no composite signal in it, so that a test of the analyser doesn't
// lean on the simulator's encoder and decoder.
package analysetest

import (
	"math"
	"math/rand/v2"

	"backporch/video"
	"backporch/video/display"
)

// A Screen is what the machine holds.
type Screen struct {
	Memory  []byte // display.Profile.Size bytes
	Colours []byte // Text: a colour nibble a cell
	Border  int    // palette index
	Paper   int    // Text: background, palette index
	Font    display.Font
}

// A Capture says how the picture reaches the field.
type Capture struct {
	OriginX, OriginY float64 // samples, lines; 0, 0 puts the picture in the middle
	ScaleX           float64 // on the line-locked pitch; 0 means 1
	BlurNs           float64 // standard deviation of the edge; 0 means 45 ns (2.9 MHz at -3 dB)
	ChromaBlurNs     float64 // 0 means 220 ns (some 0.6 MHz)
	Noise            float64 // rms, luma codes
	Gain, Offset     float64 // of luma; 0 means 1; codes
	Swap             bool    // flashing cells in their other phase
}

// Pixels gives the palette index of every pixel of the picture.
func (s *Screen) Pixels(p *display.Profile, swap bool) []uint8 {
	out := make([]uint8, p.Width*p.Height)
	for y := range p.Height {
		for c := range p.Columns() {
			var bits byte
			var ink, paper int
			cell := p.CellAddress(y/8, c)
			if p.Kind == display.Attr {
				bits = s.Memory[p.BitmapAddress(y, c)]
				colour := display.SplitColour(s.Memory[cell])
				ink, paper = colour.Ink, colour.Paper
				if swap && colour.Flash {
					ink, paper = paper, ink
				}
			} else {
				bits = s.Font.Glyph(s.Memory[cell])[y%8]
				ink, paper = int(s.Colours[cell]&15), s.Paper
			}
			for x := range 8 {
				colour := paper
				if bits>>(7-x)&1 == 1 {
					colour = ink
				}
				out[y*p.Width+c*8+x] = uint8(colour)
			}
		}
	}
	return out
}

// Draw makes one field of 720 samples.
func Draw(p *display.Profile, s *Screen, c Capture, rng *rand.Rand) *video.Field {
	const width = 720
	height := p.Standard.Scan().FieldLines
	f := &video.Field{
		Y: make([]uint8, width*height), Cb: make([]uint8, width/2*height), Cr: make([]uint8, width/2*height),
		Width: width, ChromaWidth: width / 2, Height: height,
	}
	pitch := p.PitchX(width)
	ox, oy := p.Origin(width, height)
	if c.OriginX != 0 {
		ox = c.OriginX
	}
	if c.OriginY != 0 {
		oy = c.OriginY
	}
	if c.ScaleX != 0 {
		pitch *= c.ScaleX
	}
	or := func(v, other float64) float64 {
		if v == 0 {
			return other
		}
		return v
	}
	sample := 1e9 / p.Standard.Scan().LineHz / float64(p.Standard.Scan().LineSamples)
	blur, chromaBlur := or(c.BlurNs, 45)/sample, or(c.ChromaBlurNs, 220)/sample
	gain := or(c.Gain, 1)
	pixels := s.Pixels(p, c.Swap)
	line := make([]int, p.BorderLeft+p.Width+p.BorderRight)
	for y := range height {
		k := int(math.Round(float64(y) - oy))
		for i := range line {
			x := i - p.BorderLeft
			line[i] = s.Border
			if k >= 0 && k < p.Height && x >= 0 && x < p.Width {
				line[i] = int(pixels[k*p.Width+x])
			}
		}
		blank := k < -p.BorderTop || k >= p.Height+p.BorderBottom
		var edges []edge
		last := video.YUV{}
		left := ox - float64(p.BorderLeft)*pitch
		for i := 0; i <= len(line) && !blank; i++ {
			var now video.YUV
			if i < len(line) {
				now = p.Colours[line[i]].YUV
			}
			if now != last {
				edges = append(edges, edge{left + float64(i)*pitch, now.Y - last.Y, now.U - last.U, now.V - last.V})
				last = now
			}
		}
		luma := level(edges, blur, width, 1, func(e edge) float64 { return e.y })
		u := level(edges, chromaBlur, width, 2, func(e edge) float64 { return e.u })
		v := level(edges, chromaBlur, width, 2, func(e edge) float64 { return e.v })
		for x := range width {
			f.Y[y*width+x] = clip(16 + c.Offset + gain*219*luma[x] + c.Noise*rng.NormFloat64())
			if x%2 == 0 {
				_, cb, cr := (video.YUV{U: gain * u[x/2], V: gain * v[x/2]}).Codes()
				i := y*width/2 + x/2
				f.Cb[i], f.Cr[i] = clip(cb+c.Noise*0.7*rng.NormFloat64()), clip(cr+c.Noise*0.7*rng.NormFloat64())
			}
		}
	}
	return f
}

type edge struct{ x, y, u, v float64 }

// level adds up edges blurred to a standard deviation of blur samples, at every pitch-th sample.
func level(edges []edge, blur float64, width, pitch int, height func(edge) float64) []float64 {
	out := make([]float64, width/pitch+1)
	whole := make([]float64, width/pitch+2) // what is past an edge's blur, to be summed up
	for _, e := range edges {
		h := height(e)
		if h == 0 {
			continue
		}
		first := max(0, int(math.Ceil((e.x-5*blur)/float64(pitch))))
		x := first
		for ; x < len(out) && float64(x*pitch) <= e.x+5*blur; x++ {
			out[x] += h * step((float64(x*pitch)-e.x)/blur)
		}
		whole[min(x, len(whole)-1)] += h
	}
	sum := 0.0
	for x := range out {
		sum += whole[x]
		out[x] += sum
	}
	return out
}

// step is the Gaussian's integral.
func step(z float64) float64 {
	switch {
	case z < -5:
		return 0
	case z > 5:
		return 1
	}
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

func clip(v float64) uint8 { return uint8(min(max(math.Round(v), 1), 254)) }

// Text writes words into an Attr bitmap or a Text screen with the font, from a
// cell on; ink and paper are set by the caller in the colour bytes.
func Text(p *display.Profile, s *Screen, row, column int, words string) {
	for i := 0; i < len(words) && column+i < p.Columns(); i++ {
		if p.Kind == display.Text {
			s.Memory[p.CellAddress(row, column+i)] = words[i]
			continue
		}
		for y, b := range s.Font.Glyph(words[i]) {
			s.Memory[p.BitmapAddress(row*8+y, column+i)] = b
		}
	}
}

// New is an empty screen: paper and border white with black ink (Attr), or
// spaces in white on blue (Text).
func New(p *display.Profile) *Screen {
	s := &Screen{Memory: make([]byte, p.Size()), Font: display.ShippedFont(), Border: 7}
	if p.Kind == display.Attr {
		for i := p.ColourBase; i < len(s.Memory); i++ {
			s.Memory[i] = 0x38
		}
		return s
	}
	for i := range s.Memory {
		s.Memory[i] = ' '
	}
	s.Colours = make([]byte, len(s.Memory))
	for i := range s.Colours {
		s.Colours[i] = 3
	}
	s.Border, s.Paper = 14, 8
	return s
}

// Listing fills a screen with n lines of seeded words.
func Listing(p *display.Profile, s *Screen, n int, rng *rand.Rand) {
	words := []string{"READY", "LET A=", "PRINT", "TEST 16K", "GOTO 120", "FOR N=1 TO 8", "NEXT N", "(C) BENCH", "\"HELLO\"", "MEMORY OK", "xyz;", "PEEK", "#1,", "quick fox"}
	for range n {
		row := rng.IntN(p.Rows())
		column := rng.IntN(4)
		for column < p.Columns() {
			w := words[rng.IntN(len(words))]
			Text(p, s, row, column, w)
			column += len(w) + 1
			if rng.IntN(3) == 0 {
				break
			}
		}
	}
}
