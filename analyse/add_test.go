package analyse

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"backporch/video"
)

// Means and variances are gonum's, whatever number of fields there is, and of a size that no stretch divides.
func TestAddMeans(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, n := range []int{1, 3, 4, 9, 300} {
		const width, height = 74, 31
		fields := make([]*video.Field, n)
		for k := range fields {
			f := &video.Field{Width: width, Height: height, ChromaWidth: width/2 + 1}
			f.Y, f.Cb, f.Cr = make([]uint8, width*height), make([]uint8, f.ChromaWidth*height), make([]uint8, f.ChromaWidth*height)
			for i := range f.Y {
				f.Y[i] = uint8(255 - rng.IntN(3)*rng.IntN(100))
			}
			for i := range f.Cb {
				f.Cb[i], f.Cr[i] = 255, uint8(rng.IntN(256))
			}
			fields[k] = f
		}
		s := Add(fields)
		series := func(plane func(f *video.Field) []uint8, i int) []float64 {
			v := make([]float64, n)
			for k, f := range fields {
				v[k] = float64(plane(f)[i])
			}
			return v
		}
		near := func(a float32, b float64) bool { return float64(a) > b-1e-3 && float64(a) < b+1e-3 }
		for i := range s.Y {
			mean, variance := stat.MeanVariance(series(func(f *video.Field) []uint8 { return f.Y }, i), nil)
			if !near(s.Y[i], mean) || n > 1 && !near(s.VarY[i]/100, variance/100) {
				t.Fatalf("%d fields, sample %d: %v, want %v; variance %v", n, i, s.Y[i], mean, variance)
			}
		}
		for i := range s.Cb {
			if cb, cr := stat.Mean(series(func(f *video.Field) []uint8 { return f.Cb }, i), nil), stat.Mean(series(func(f *video.Field) []uint8 { return f.Cr }, i), nil); !near(s.Cb[i], cb) || !near(s.Cr[i], cr) {
				t.Fatalf("%d fields, sample %d: %v and %v, want %v and %v", n, i, s.Cb[i], s.Cr[i], cb, cr)
			}
		}
	}
}
