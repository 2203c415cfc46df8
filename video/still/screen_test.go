package still

import (
	"math"
	"math/rand/v2"

	"backporch/video"
	"backporch/video/display"
)

// screen draws a made-up machine's picture into a field as a capture shows it: text on a
// coloured paper, blurred along the line, with noise. stuck is a bit of each byte to set, -1
// for none. It also gives the places of the 32 columns' bit.
func screen(height, stuck int) (f *video.Field, lanes []Region) {
	const width, pitch = 720, 864.0 / 448
	originX, originY := 113.0, (height-192)/2
	lines := []string{
		"ROM CHECK ..... OK", "RAM 0000-3FFF .. OK", "RAM 4000-7FFF .. READING", "", "KEYS ... 40 OF 40", "TAPE ... IDLE",
		"", "STEP 4 OF 9: PRESS ANY KEY", "", "0123456789 ABCDEFGHIJKLMNOP", "THE QUICK BROWN FOX JUMPS OVER", "A LAZY DOG",
	}
	font := display.ShippedFont()
	var bits [192][256]bool
	for row, text := range lines {
		for column, code := range []byte(text) {
			glyph := font.Glyph(code)
			for y, b := range glyph {
				for x := range 8 {
					bits[(row*2+1)*8%192+y][(column+1)*8+x] = b<<x&0x80 != 0
				}
			}
		}
	}
	paper, ink := video.YUVOfRGB(0.85, 0.85, 0.85), video.YUVOfRGB(0, 0, 0.3)
	border := video.YUVOfRGB(0, 0.75, 0.75)
	r := rand.New(rand.NewPCG(1, 2))
	f = &video.Field{Width: width, ChromaWidth: 360, Height: height, Y: make([]uint8, width*height), Cb: make([]uint8, 360*height), Cr: make([]uint8, 360*height)}
	code := func(v float64) uint8 { return uint8(max(1, min(254, math.Round(v)))) }
	for y := range height {
		luma, u, v := make([]float64, width), make([]float64, width), make([]float64, width)
		for x := range width {
			c := border
			if x < 10 || x > 711 {
				c = video.YUV{}
			}
			px, py := int(math.Floor((float64(x)-originX)/pitch)), y-originY
			if px >= 0 && px < 256 && py >= 0 && py < 192 {
				c = paper
				if bits[py][px] || stuck >= 0 && px%8 == 7-stuck {
					c = ink
				}
			}
			luma[x], u[x], v[x] = c.Codes()
		}
		for x := range width {
			at := func(p []float64, d int) float64 { return p[max(0, min(width-1, x+d))] }
			f.Y[y*width+x] = code(0.25*at(luma, -1) + 0.5*at(luma, 0) + 0.25*at(luma, 1) + 2*r.NormFloat64())
			if x%2 == 0 {
				sum := [2]float64{}
				for d := -3; d <= 3; d++ {
					sum[0] += at(u, d) / 7
					sum[1] += at(v, d) / 7
				}
				f.Cb[y*360+x/2], f.Cr[y*360+x/2] = code(sum[0]+r.NormFloat64()), code(sum[1]+r.NormFloat64())
			}
		}
	}
	for c := range 32 {
		x := originX + (float64(8*c+7-max(0, stuck)))*pitch
		lanes = append(lanes, Region{X: int(math.Round(x)), Y: originY, W: 2, H: 192, Label: "bit 3, every eighth column"})
	}
	return f, lanes
}
