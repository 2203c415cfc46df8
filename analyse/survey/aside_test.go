package survey

import (
	"math"
	"math/rand/v2"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// Lines that jump by samples from field to field lie aside; a screen of one character on which the subcarrier's dots turn from cell to cell and
// from field to field does not, though each line is then the line before by one cell aside.
func TestAside(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-60")
	height := p.Standard.Scan().FieldLines
	reg := analyse.Registration{OK: true, PitchX: p.PitchX(720), PitchY: 1}
	reg.OriginX, reg.OriginY = p.Origin(720, height)
	cell := 8 * reg.PitchX
	rng := rand.New(rand.NewPCG(5, 5))
	pixels := make([]float64, 1000)
	for i := range pixels {
		pixels[i] = float64(rng.IntN(2))
	}
	of := func(code func(field int, x float64) float64) float64 {
		var fields []*video.Field
		for k := range 24 {
			f := &video.Field{Width: 720, Height: height, Y: make([]uint8, 720*height)}
			for i := range f.Y {
				f.Y[i] = uint8(math.Round(code(k, float64(i%720)-reg.OriginX) + 1.5*rng.NormFloat64()))
			}
			fields = append(fields, f)
		}
		var list []changing
		for at := 0; at < 12*p.Columns(); at += 5 {
			list = append(list, changing{at: at})
		}
		// Most of a picture stands still, and its variance is the noise's.
		stack := &analyse.Stack{Width: 720, Height: height, N: len(fields), Y: analyse.Add(fields).Y, VarY: make([]float32, 720*height)}
		for i := range stack.VarY {
			stack.VarY[i] = 2.3
		}
		s := &analyse.Survey{Stack: stack, Registration: reg}
		return aside(s, p, list, fields)
	}
	text := func(x float64) float64 { // soft edges
		at := x/reg.PitchX + 300
		i := int(at)
		return 60 + 80*(pixels[i]*(1-at+float64(i))+pixels[i+1]*(at-float64(i)))
	}
	shifts := make([]float64, 24)
	for k := range shifts {
		shifts[k] = float64(rng.IntN(13) - 6)
	}
	if px := of(func(k int, x float64) float64 { return text(x + shifts[k] - shifts[0]) }); px < 3 || px > 12 {
		t.Errorf("lines that jump by up to six samples: %.1f aside", px)
	}
	dots := func(k int, x float64) float64 {
		turn := [4]float64{0, 2.9, 0, -2.9}[k%4] // nearly half a turn, to either side
		return 100 + 40*math.Sin(2*math.Pi*x/cell) + 30*math.Sin(math.Pi*x/cell+turn)
	}
	if px := of(dots); px != 0 {
		t.Errorf("dots that turn on one character: %.1f aside", px)
	}
	halves := func(k int, x float64) float64 { // of a character whose halves are alike the displacement is no whole cell
		turn := [4]float64{0, 2.9, 0, -2.9}[k%4]
		return 100 + 40*math.Sin(4*math.Pi*x/cell) + 30*math.Sin(2*math.Pi*x/cell+turn)
	}
	if px := of(halves); px != 0 {
		t.Errorf("dots that turn on a character of two like halves: %.1f aside", px)
	}
}
