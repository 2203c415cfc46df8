package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Movement of a known size is parted from noise, whatever its frequency, and what every second field does alike from both where a codec is about.
func TestFollow(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		fields        int
		cycles, size  float64 // a field; amplitude
		noise, second float64 // rms; what every second field is more by
		parted        bool
	}{
		{24, 0.27, 5, 1, 0, false}, {24, 0.25, 2, 3, 0, false}, {16, 0.13, 4, 1, 0, false}, {24, 0.5, 3, 1, 0, false},
		{24, 0.27, 5, 1, 6, true}, {24, 0, 0, 2, 6, true}, {24, 0, 0, 2, 0, false}, {12, 0.25, 4, 1, 0, false},
	} {
		var series [][]float64
		want := 0.0
		for range 4000 {
			phase := 2 * math.Pi * rng.Float64()
			s := make([]float64, c.fields)
			for i := range s {
				move := c.size * math.Cos(2*math.Pi*c.cycles*float64(i)+phase)
				want += move * move / float64(c.fields) / 4000
				s[i] = 100 + move + c.noise*rng.NormFloat64() + c.second*float64(i%2)
			}
			series = append(series, s)
		}
		q := follow(series, c.parted)
		if math.Abs(q.moves-want) > 0.04*want+0.06*c.noise*c.noise {
			t.Errorf("%+v: %v moves, want %v", c, q.moves, want)
		}
		if math.Abs(q.noise-c.noise*c.noise) > 0.1*c.noise*c.noise {
			t.Errorf("%+v: noise %v", c, q.noise)
		}
		if c.parted && math.Abs(math.Sqrt(q.turns)-c.second/2) > 0.2 {
			t.Errorf("%+v: goes to and fro by %v", c, math.Sqrt(q.turns))
		}
	}
}

// Where nothing can be followed nothing is said.
func TestFollowNothing(t *testing.T) {
	if m := follow(nil, true); m != (movement{}) {
		t.Errorf("%+v", m)
	}
}
