package rate

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// Upper limits of a Poisson mean at 95 % without background: Particle Data Group, Review of
// Particle Physics, Statistics, table of lower and upper limits for n observed events (two
// decimals; values from memory, the first is -ln 0.05).
func TestUpperOfTables(t *testing.T) {
	for n, want := range []float64{3.00, 4.74, 6.30, 7.75, 9.15, 10.51, 11.84, 13.15, 14.43, 15.71, 16.96} {
		got, err := Upper(Count{n, 1}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "upper limit", got, want, 0.006)
	}
	got, err := Upper(Count{0, 24}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "nothing in 24 hours", got, -math.Log(0.05)/24, 1e-12)
}

// The interval against gonum's chi-squared distribution, and against Garwood's 10 events: 4.795 to 18.39.
func TestInterval(t *testing.T) {
	for _, n := range []int{1, 3, 10, 400} {
		low, high, err := Interval(Count{n, 2}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "low", low*2, distuv.ChiSquared{K: 2 * float64(n)}.Quantile(0.025)/2, 1e-8*float64(n))
		near(t, "high", high*2, distuv.ChiSquared{K: 2 * float64(n+1)}.Quantile(0.975)/2, 1e-8*float64(n))
	}
	low, high, _ := Interval(Count{10, 1}, 0.95)
	near(t, "low", low, 4.795, 0.001)
	near(t, "high", high, 18.390, 0.001)
}

// NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20 at 90 %.
func TestClopperPearson(t *testing.T) {
	low, high := ClopperPearson(4, 20, 0.9)
	near(t, "low", low, 0.071354, 2e-6)
	near(t, "high", high, 0.401029, 2e-6)
}

// The two-sample example of the statistics language R's poisson.test manual: breast cancer in 11
// of 800 and 21 of 3011 (thousand-) person years (Boice and Monson, 1977), counts of the
// manual page; ratio, interval and P as published with that example, P also by whole-number
// arithmetic: the sum over binomial(32, 800/3811) is 0.0796686.
func TestCompareOfTextbook(t *testing.T) {
	c, err := Compare(Count{21, 1083 + 1050 + 878}, Count{11, 800}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ratio", *c.Ratio, 1.971488, 1e-6)
	near(t, "low", *c.Low, 0.8584264, 1e-6)
	near(t, "high", *c.High, 4.2772659, 1e-6)
	near(t, "P", c.P, 0.07967, 5e-6)
}

func TestCompareAtTheEnds(t *testing.T) {
	c, err := Compare(Count{0, 60}, Count{6, 60}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if c.Ratio != nil || c.High != nil || c.Low == nil {
		t.Errorf("no event before: %+v", c)
	}
	near(t, "P", c.P, 2.0/64, 1e-12) // all six on one side of two even ones
	c, err = Compare(Count{0, 60}, Count{0, 30}, 0.95)
	if err != nil || c.P != 1 || c.Ratio != nil || c.Low != nil || c.High != nil {
		t.Errorf("nothing happened: %+v, %v", c, err)
	}
	if _, err := Compare(Count{1, 0}, Count{1, 1}, 0.95); !errors.Is(err, ErrNoExposure) {
		t.Errorf("without exposure: %v", err)
	}
	if _, err := Compare(Count{1, 1}, Count{1, 1}, 1.5); err == nil {
		t.Error("a confidence of 1.5 passed")
	}
	if _, err := Upper(Count{-1, 1}, 0.95); err == nil {
		t.Error("-1 events passed")
	}
}

// An exact test must not cry wolf: with equal rates P falls below a level no more often than
// that level, and the 95 % interval holds the true ratio at least so often.
func TestCompareIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const runs = 4000
	low, held := 0, 0
	for range runs {
		mean := 0.5 + 10*rng.Float64()
		ratio := 0.3 + 3*rng.Float64()
		a := int(distuv.Poisson{Lambda: mean, Src: rng}.Rand())
		same := int(distuv.Poisson{Lambda: mean, Src: rng}.Rand())
		other := int(distuv.Poisson{Lambda: mean * ratio * 2, Src: rng}.Rand())
		c, err := Compare(Count{a, 10}, Count{same, 10}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if c.P < 0.05 {
			low++
		}
		c, err = Compare(Count{a, 10}, Count{other, 20}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if (c.Low == nil || *c.Low <= ratio) && (c.High == nil || *c.High >= ratio) {
			held++
		}
	}
	// Three standard errors of 5 % of 4000 are 41.
	if low > runs*5/100+41 {
		t.Errorf("P below 0.05 in %d of %d pairs of equal rates", low, runs)
	}
	if held < runs*95/100-41 {
		t.Errorf("the interval holds the ratio in %d of %d", held, runs)
	}
}

// Bursts are not taken for so many independent events; a field bad now and then is.
func TestStimulusCountsBursts(t *testing.T) {
	before := Watch{Fields: 3000, Bad: 0, Seconds: 60, WholeSeconds: 60}
	burst := Watch{Fields: 3000, Bad: 40, Seconds: 60, Errored: 1, WholeSeconds: 60}
	c, err := Stimulus(before, burst, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !c.Clumped || c.Changed() {
		t.Errorf("one burst in a minute passes for a change: clumped %v, P %v", c.Clumped, c.P)
	}
	steady := Watch{Fields: 3000, Bad: 1500, Seconds: 60, Errored: 60, WholeSeconds: 60}
	if c, err = Stimulus(before, steady, 0.95); err != nil || !c.Changed() {
		t.Errorf("half of all fields bad after it: P %v, %v", c.P, err)
	}
	single := Watch{Fields: 3000, Bad: 12, Seconds: 60, Errored: 12, WholeSeconds: 60}
	if c, err = Stimulus(before, single, 0.95); err != nil || c.Clumped || !c.Changed() {
		t.Errorf("twelve single fields: %+v, %v", c, err)
	}
}
