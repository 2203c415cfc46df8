package fingerprint

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// NIST StRD, Norris (linear regression, certified values).
func TestRobustIsLeastSquaresOnNorris(t *testing.T) {
	x := []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5}
	y := []float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2}
	f, ok := robust(x, y, math.Inf(1))
	if !ok {
		t.Fatal("no line")
	}
	for _, v := range []struct {
		name      string
		got, want float64
	}{{"slope", f.slope, 1.00211681802045}, {"intercept", f.intercept, -0.262323073774029}, {"residual SD", f.sigma, 0.884796396144373}} {
		if math.Abs(v.got-v.want) > 1e-9*math.Abs(v.want) {
			t.Errorf("%s %.15g, certified %.15g", v.name, v.got, v.want)
		}
	}
}

// stamped gives n frames' times with normal jitter; each late one of a hundred is 40 ms late.
func stamped(rng *rand.Rand, hz float64, n int, jitter time.Duration, late float64) (numbers []int, when []time.Duration) {
	for k := range n {
		if rng.IntN(200) == 0 {
			continue // dropped
		}
		at := time.Duration(float64(2*k)/hz*1e9) + time.Duration(rng.NormFloat64()*float64(jitter))
		if rng.Float64() < late {
			at += 40 * time.Millisecond
		}
		numbers, when = append(numbers, 2*k), append(when, at)
	}
	return numbers, when
}

// The rate is right within its stated spread, late frames or not; against length of capture.
func TestFieldRateAgainstLength(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 2026))
	const hz = 50.080128
	for _, late := range []float64{0, 0.05} {
		for _, seconds := range []float64{1, 4, 10, 60} {
			rss, sd, separate := 0.0, 0.0, 0
			const runs = 60
			for range runs {
				var off [2]float64
				for i, ppm := range []float64{100, -100} {
					r := FieldRate(stamped(rng, hz*(1+ppm*1e-6), int(seconds*hz/2), time.Millisecond, late))
					if r == nil {
						t.Fatalf("%v s: no rate", seconds)
					}
					off[i] = (r.Hz/hz - 1) * 1e6
					z := (off[i] - ppm) / r.SD
					rss += z * z
					sd += r.SD / runs / 2
				}
				c := Compare(&Print{FieldRate: &Value{off[0], sd}}, &Print{FieldRate: &Value{off[1], sd}})
				if c.Another() {
					separate++
				}
			}
			// A fit of N times with jitter s over T has s sqrt(12) / (T sqrt N).
			theory := 1e-3 * math.Sqrt(12) / (seconds * math.Sqrt(seconds*hz/2)) * 1e6
			t.Logf("late %.2f, %2.0f s: ± %.1f ppm (least squares without late frames %.1f), errors %.2f of that, machines 200 ppm apart told apart %d of %d",
				late, seconds, sd, theory, math.Sqrt(rss/runs/2), separate, runs)
			if z := math.Sqrt(rss / runs / 2); z > 1.4 || z < 0.6 {
				t.Errorf("errors are %.2f of the stated spread", z)
			}
			if sd > 1.6*theory {
				t.Errorf("%.1f ppm, where least squares without late frames has %.1f", sd, theory)
			}
		}
	}
}

func TestFieldRateRefuses(t *testing.T) {
	if FieldRate([]int{1, 2}, []time.Duration{1, 2}) != nil || FieldRate(make([]int, 20), make([]time.Duration, 20)) != nil {
		t.Error("a rate of nothing")
	}
}
