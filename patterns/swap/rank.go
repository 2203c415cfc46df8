package swap

import "math"

// priors of a cause before any test, for something that is on the bench because of a fault.
// Common practice, no source: parts fail more than what they sit in, and most faults are hard.
var priors = map[Kind]float64{Part: 0.05, Position: 0.02, Board: 0.02, Path: 0.02, Contact: 0.02}

// opinions replace the prior of a part that the ledger knows something of. A tester's 'good' is weak.
var opinions = map[Known]float64{ThoughtGood: 0.015, Suspect: 0.2, ThoughtBad: 0.5}

// seldom is the part of causes that are intermittent; of contacts all are.
const seldom = 0.2

func (b *bench) prior(c Cause) float64 {
	p := priors[c.Kind]
	if known, ok := opinions[b.options.Parts[c.Part]]; ok && c.Kind == Part {
		p = known
	}
	if c.Intermittent && c.Kind != Contact {
		p *= seldom
	}
	return p
}

// shows counts the bad observations that an intermittent alone explains in a set, and the good ones
// that it took part in.
func (b *bench) shows(set mask, i int) (bad, good int) {
	rest := set
	rest[i/64] &^= 1 << (i % 64)
	for k := range b.seen {
		o := &b.seen[k]
		if !o.hard.has(i-1) && !o.contacts.has(i-1) {
			continue
		}
		switch {
		case !o.bad:
			good++
		case !rest.meets(o.hard.with(o.contacts)):
			bad++
		}
	}
	return bad, good
}

// weigh gives each set's probability among those listed: the priors of its causes, an
// intermittent's chance of showing just so often (its rate unknown, even from 0 to 1: the integral of
// r^bad (1-r)^good), and for a board that was to blame at one place only, the chance of that place.
func (b *bench) weigh(sets []mask) []float64 {
	logs := make([]float64, len(sets))
	top := math.Inf(-1)
	for n, s := range sets {
		for _, i := range s.list() {
			p := b.prior(b.list[i])
			logs[n] += math.Log(p / (1 - p))
			if b.list[i].Intermittent {
				bad, good := b.shows(s, i)
				logs[n] += lbeta(float64(bad)+1, float64(good)+1)
			}
		}
		for k := range b.seen {
			o := &b.seen[k]
			if o.bad && o.board >= 0 && s.has(o.board) {
				others := s
				others[o.board/64] &^= 1 << (o.board % 64)
				if !others.meets(o.hard.with(o.contacts)) {
					logs[n] -= math.Log(float64(max(o.places, 1)))
				}
			}
		}
		top = math.Max(top, logs[n])
	}
	sum := 0.0
	for n, l := range logs {
		logs[n] = math.Exp(l - top)
		sum += logs[n]
	}
	for n := range logs {
		logs[n] /= sum
	}
	return logs
}

func lbeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}
