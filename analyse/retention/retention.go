package retention

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"backporch/analyse"
	"backporch/video/display"
)

// A Trial is one time without power.
type Trial struct {
	Off           float64 // seconds
	Before, After *analyse.Memory
	// Usable are the addresses whose bits can be told in both pictures; nil: all. With it what memory reads at rest
	// is not asked for: half of a chip's cells rest at either level, whatever the screen holds.
	Usable []bool
}

// Options are Estimate's.
type Options struct {
	Rest   *analyse.Memory // what memory reads at rest, as after hours; nil: taken from the longest trial
	Late   float64         // seconds that a device may take to show a picture, by which Off may be too long; the lower ends allow for it
	Rounds int             // of resampling; 0: 400
	Seed   uint64
}

// A Lane is how one data bit decays.
type Lane struct {
	Bit     int       `json:"bit"`
	Changed []int     `json:"changed"` // bits that have decayed, by trial
	Of      []int     `json:"of"`      // bits that could
	Median  *float64  `json:"median_s"`
	Low     *float64  `json:"low_95_s"` // nil: not bounded by these trials
	High    *float64  `json:"high_95_s"`
	draws   []float64 // of the median's logarithm
	mu      float64
}

// A Result is how the lanes decay.
type Result struct {
	Off     []float64 `json:"off_s"`
	Lanes   []Lane    `json:"lanes"`             // bit 7 first
	Spread  *float64  `json:"spread"`            // of the logarithm of a cell's time; nil: assumed
	Weakest *int      `json:"weakest"`           // the bit that stands out; nil: none does
	Ratio   *float64  `json:"ratio"`             // the middle of the other lanes over the weakest
	Reasons []string  `json:"reasons,omitempty"` // why there is no more to say

	part float64 // of the bits counted that are not at rest
}

// Errors that a caller can explain.
var (
	ErrNoTrial = errors.New("retention: there is no time without power to compare")
	ErrNoRest  = errors.New("retention: what memory reads at rest is not known: switch off once for a minute or more as well")
)

const (
	// sureOdds: a bit counts that the picture shows with odds of 20 to 1 on either side of the time.
	sureOdds = 3
	// leastBits is the least that a lane's share is made of.
	leastBits = 100
	// assumed is the spread where one time alone can't tell it; common practice, no source.
	assumed = 0.6
	// restAfter: a time so many times as long as those that show decay begin shows memory at rest.
	restAfter = 3
	// misread is the share of bits that differ between two readings of one picture.
	misread = 0.002
	// standsOut is how much earlier than the middle of the others a lane must decay to be named: chips of
	// one make differ by less; common practice, no source.
	standsOut = 1.4
)

// cells are a lane's counts by trial and chip row.
type cells struct{ changed, of [][]int }

// Estimate estimates how long each lane's cells last.
func Estimate(trials []Trial, p *display.Profile, o Options) (*Result, error) {
	trials = slices.Clone(trials)
	sort.SliceStable(trials, func(i, j int) bool { return trials[i].Off < trials[j].Off })
	rest := o.Rest
	halves := len(trials) > 0 && trials[0].Usable != nil
	if rest == nil && !halves {
		if len(trials) < 2 {
			return nil, ErrNoRest
		}
		// The longest time shows memory at rest, if it is long beside the others.
		last := trials[len(trials)-1]
		trials = trials[:len(trials)-1]
		if last.Off < restAfter*trials[len(trials)-1].Off {
			return nil, ErrNoRest
		}
		rest = last.After
	}
	r := &Result{}
	for _, t := range trials {
		r.Off = append(r.Off, t.Off)
	}
	if len(trials) == 0 {
		return nil, ErrNoTrial
	}
	var all [8]cells
	for lane := range 8 {
		all[lane] = count(trials, rest, p, lane)
	}
	usable := r.lanes(all)
	if len(usable) == 0 {
		r.Reasons = append(r.Reasons, "too few bits could be told before and after: put a busy screen up, or leave the power off for less")
		return r, nil
	}
	r.part = 1
	if halves {
		r.part = 0.5
	}
	r.fit(all, usable, o)
	r.name(usable)
	return r, nil
}

// count sorts a lane's bits into those that could decay and those that have, by row of the chip.
func count(trials []Trial, rest *analyse.Memory, p *display.Profile, lane int) cells {
	var c cells
	for _, t := range trials {
		changed, of := make([]int, 1<<p.RowBits), make([]int, 1<<p.RowBits)
		for a := range min(len(t.Before.Bytes), len(t.After.Bytes)) {
			switch {
			case !sure(t.Before, a, lane) || !sure(t.After, a, lane):
				continue
			case t.Usable != nil:
				if !t.Usable[a] {
					continue
				}
			case a >= len(rest.Bytes) || !sure(rest, a, lane), (t.Before.Bytes[a]^rest.Bytes[a])>>lane&1 == 0: // at rest already
				continue
			}
			row, _ := p.ChipAddress(a)
			of[row]++
			changed[row] += int((t.After.Bytes[a] ^ t.Before.Bytes[a]) >> lane & 1)
		}
		c.changed, c.of = append(c.changed, changed), append(c.of, of)
	}
	return c
}

func sure(m *analyse.Memory, a, lane int) bool {
	return m.Seen[a]>>lane&1 == 1 && m.Odds[a*8+lane] >= sureOdds
}

// lanes fills in the counts and gives the lanes that have enough of them.
func (r *Result) lanes(all [8]cells) (usable []int) {
	for bit := 7; bit >= 0; bit-- {
		l := Lane{Bit: bit}
		most := 0
		for t := range r.Off {
			l.Changed, l.Of = append(l.Changed, sum(all[bit].changed[t])), append(l.Of, sum(all[bit].of[t]))
			most = max(most, l.Of[t])
		}
		if most >= leastBits {
			usable = append(usable, len(r.Lanes))
		}
		r.Lanes = append(r.Lanes, l)
	}
	return usable
}

func sum(v []int) int {
	n := 0
	for _, x := range v {
		n += x
	}
	return n
}

// A tally is a lane's counts by trial.
type tally struct{ changed, of []float64 }

// fit estimates medians and the spread, and resamples the rows for the intervals.
func (r *Result) fit(all [8]cells, usable []int, o Options) {
	rows := len(all[0].of[0])
	weight := make([]int, rows)
	tallies := func() []tally {
		out := make([]tally, len(usable))
		for i, u := range usable {
			c := all[r.Lanes[u].Bit]
			for t := range r.Off {
				changed, of := 0, 0
				for row, w := range weight {
					if r.Lanes[u].Of[t] < leastBits {
						break // a handful of bits says nothing
					}
					changed += w * c.changed[t][row]
					of += w * c.of[t][row]
				}
				out[i].changed, out[i].of = append(out[i].changed, float64(changed)), append(out[i].of, float64(of))
			}
		}
		return out
	}
	for i := range weight {
		weight[i] = 1
	}
	whole := tallies()
	known := telling(whole, r.part)
	mu, spread := solve(whole, r.Off, r.part, known)
	if known {
		r.Spread = &spread
	} else {
		r.Reasons = append(r.Reasons, "one time without power alone can't tell how much the cells of a lane differ: the medians assume what is usual, only their order is measured")
	}
	for i, u := range usable {
		r.Lanes[u].mu = mu[i]
	}
	rounds := o.Rounds
	if rounds == 0 {
		rounds = 400
	}
	rng := rand.New(rand.NewPCG(o.Seed, 0x726574656e74))
	for range rounds {
		clear(weight)
		for range rows {
			weight[rng.IntN(rows)]++
		}
		draw, _ := solve(tallies(), r.Off, r.part, known)
		for i, u := range usable {
			r.Lanes[u].draws = append(r.Lanes[u].draws, draw[i])
		}
	}
	for i, u := range usable {
		r.Lanes[u].interval(whole[i], r.Off, r.part)
		if l := &r.Lanes[u]; l.Low != nil {
			low := math.Max(*l.Low-o.Late, 0)
			l.Low = &low
		}
	}
}

// interval fills in a lane's median and its 95 % interval; one beyond the times that were tried is a bound.
func (l *Lane) interval(t tally, off []float64, part float64) {
	low, high := quantile(l.draws, 0.025), quantile(l.draws, 0.975)
	value := func(v float64) *float64 { e := math.Exp(v); return &e }
	none, whole := true, true
	longest, shortest := 0.0, math.Inf(1)
	for i := range off {
		if t.of[i] == 0 {
			continue
		}
		longest, shortest = max(longest, off[i]), min(shortest, off[i])
		share := t.changed[i] / t.of[i]
		none = none && share < 5*misread
		whole = whole && share > part*0.98
	}
	switch {
	case none: // longer than it was tried
		l.Low = value(math.Log(longest))
	case whole:
		l.High = value(math.Log(shortest))
	default:
		l.Median, l.Low, l.High = value(l.mu), value(low), value(high)
	}
}

// telling says whether two times at least show decay begun and not ended, so that the spread can be estimated.
func telling(all []tally, part float64) bool {
	for _, t := range all {
		n := 0
		for i := range t.of {
			if t.of[i] == 0 {
				continue
			}
			if share := t.changed[i] / t.of[i] / part; share > 0.02 && share < 0.98 {
				n++
			}
		}
		if n >= 2 {
			return true
		}
	}
	return false
}

// solve finds the medians' logarithms, and with free the common spread, of the greatest likelihood.
func solve(all []tally, off []float64, part float64, free bool) (mu []float64, spread float64) {
	mu = make([]float64, len(all))
	at := func(s float64) float64 {
		total := 0.0
		for i := range all {
			var cost float64
			mu[i], cost = minimum(func(m float64) float64 { return all[i].cost(m, s, part, off) }, math.Log(off[0])-5, math.Log(off[len(off)-1])+5)
			total += cost
		}
		return total
	}
	spread = assumed
	if free {
		logS, _ := minimum(func(l float64) float64 { return at(math.Exp(l)) }, math.Log(0.1), math.Log(3))
		spread = math.Exp(logS)
	}
	at(spread)
	return mu, spread
}

// cost is minus the log-likelihood of binomial counts.
func (t *tally) cost(mu, spread, part float64, off []float64) float64 {
	c := 0.0
	for i, s := range off {
		p := 0.5 * math.Erfc(-(math.Log(s)-mu)/spread/math.Sqrt2)
		p = misread + (1-2*misread)*part*p
		c -= t.changed[i]*math.Log(p) + (t.of[i]-t.changed[i])*math.Log(1-p)
	}
	return c
}

// minimum is golden-section search for a function with one valley.
func minimum(f func(float64) float64, a, b float64) (x, fx float64) {
	const golden = 0.6180339887498949
	c, d := b-golden*(b-a), a+golden*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 2e-3 {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - golden*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + golden*(b-a)
			fd = f(d)
		}
	}
	x = (a + b) / 2
	return x, f(x)
}

func quantile(v []float64, q float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[min(int(q*float64(len(s))), len(s)-1)]
}

// name names the weakest lane if it stands out: earlier than every other lane in 99 of 100 resamplings, and
// much earlier than their middle.
func (r *Result) name(usable []int) {
	if len(usable) < 4 {
		r.Reasons = append(r.Reasons, "too few lanes show decay to say that one stands out")
		return
	}
	order := slices.Clone(usable)
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case r.Lanes[a].mu < r.Lanes[b].mu:
			return -1
		case r.Lanes[a].mu > r.Lanes[b].mu:
			return 1
		}
		return 0
	})
	weakest := &r.Lanes[order[0]]
	others := order[1:]
	middle := r.Lanes[others[len(others)/2]].mu
	if weakest.Median == nil && weakest.High == nil {
		r.Reasons = append(r.Reasons, "nothing has decayed yet: leave the power off for longer")
		return
	}
	first := 0
	for i, m := range weakest.draws {
		earliest := true
		for _, u := range others {
			earliest = earliest && m < r.Lanes[u].draws[i]
		}
		if earliest {
			first++
		}
	}
	// The others' own differences: a lane at the end of an even row of them does not stand out.
	apart := middle - weakest.mu
	rest := r.Lanes[others[len(others)-1]].mu - r.Lanes[others[0]].mu
	if float64(first) < 0.99*float64(len(weakest.draws)) || apart < math.Log(standsOut) || apart < rest {
		r.Reasons = append(r.Reasons, "no lane stands out from the others")
		return
	}
	ratio := math.Exp(apart)
	r.Weakest, r.Ratio = &weakest.Bit, &ratio
}
