package survey

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse/analysetest"
	"backporch/video"
)

// Single pixels of one lane that show ink in single fields, each with what a trap for the subcarrier rings about it (4.43 MHz is 1.6 pixels of 7 MHz, so that
// the pixels two and three aside go both ways by half as much), are events of that lane, twice as many as of all others: where nothing is drawn, nobody knows which way a change goes.
func TestRingingIsNoChange(t *testing.T) {
	const lane, hits = 4, 60
	p := analysetest.Profile(t, "attr-256x192-50")
	screen := analysetest.New(p)
	screen.Border = 5
	rng := rand.New(rand.NewPCG(6, 1))
	analysetest.Listing(p, screen, 14, rng)
	fields := make([]*video.Field, 16)
	ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
	for k := range fields {
		f := analysetest.Draw(p, screen, analysetest.Capture{Noise: 1.5}, rng)
		f.Parity, f.Frame, f.Time = k%2, k/2, time.Duration(k)*20*time.Millisecond
		for range hits {
			y, c := 128+rng.IntN(60), rng.IntN(p.Columns()) // below the listing all is paper
			for dx, part := range map[int]float64{0: -0.75, -1: -0.2, 1: -0.2, -2: 0.35, 2: 0.35, -3: -0.35, 3: -0.35} {
				x := ox + (float64(c*8+7-lane+dx)+0.5)*p.PitchX(720)
				row := int(math.Round(oy)) + y
				for i := int(x - 1); i <= int(x+1); i++ {
					if i >= 0 && i < 720 {
						w := math.Max(0, 1-math.Abs(float64(i)+0.5-x)/p.PitchX(720))
						f.Y[row*720+i] = uint8(math.Max(1, math.Min(254, float64(f.Y[row*720+i])+w*part*170)))
					}
				}
			}
		}
		fields[k] = f
	}
	s, _, err := Run(fields, video.Info{Rate: 25, Standard: video.Std625, Width: 720, Height: 576}, Options{Display: p})
	if err != nil || s.Motion == nil {
		t.Fatal(err, s.Motion)
	}
	others := 0
	for b, n := range s.Motion.ByLane {
		if b != lane {
			others += n
		}
	}
	if n := s.Motion.ByLane[lane]; n < hits*len(fields)/2 || 2*others > n {
		t.Errorf("%d events of the lane in %d, %d of others: %v", n, hits*len(fields), others, s.Motion.ByLane)
	}
}
