package characters

import (
	"math"
	"slices"

	"backporch/patterns/nats"
)

// Woken memory against a written screen on a Text display, by the lengths of their
// descriptions as wake.go has it: codes and colour nibbles.

// woken is the log-likelihood of the screen as woken memory.
func (p *page) woken() float64 {
	if p.different() < 2 { // chance leaves exceptions: one code without any has been written
		return -math.MaxFloat64
	}
	cells, other := p.wokenCells()
	cost := other + surprises(cells)
	inks, parities := lanesOf(4, p.ink, func(v int) []int { return []int{v} })
	byBits := byAddress(p.ink, func(int) float64 { return 1.0 / 16 })
	return -(cost + math.Min(parities+surprises(inks), threeBits+surprises(byBits)))
}

// wokenCells is the length of each cell's character as woken memory, in the way in which all are shortest, and of what else that takes.
func (p *page) wokenCells() (cells []float64, other float64) {
	cells, other = p.wokenShapes()
	if !p.fits {
		return cells, other
	}
	// What breaks the pattern of the characters may be near it in its bits.
	codes, parities := p.wokenCodes()
	least := other + surprises(cells)
	both := mixed(cells, codes)
	if own, mix := parities+surprises(codes), parities+other+surprises(both); own <= min(least, mix) {
		return codes, parities
	} else if mix < least {
		return both, parities + other
	}
	return cells, other
}

// decaying is the log-likelihood of a written screen of which each cell stands yet or has fallen to what memory is without refresh, which is what it wakes as.
func (t *screenText) decaying() float64 {
	p := t.page
	if p.different() < 2 {
		return math.Inf(-1)
	}
	woken, other := p.wokenCells()
	p.drawn(nil)
	var fallen nats.Adaptive
	sum := -other
	for i, s := range p.shape {
		if s < 0 {
			continue
		}
		stands, fell := math.Log(fallen.P(0))+p.codeCosts[i], math.Log(fallen.P(1))+surprise(math.Exp(-woken[i]))
		both := nats.LogSum(stands, fell)
		fallen.N[0] += math.Exp(stands - both)
		fallen.N[1] += math.Exp(fell - both)
		sum += both
	}
	return sum
}

// surprises is the length of all cells, each less what is half expected, as a writer is forgiven.
func surprises(costs []float64) (sum float64) {
	for _, v := range costs {
		sum -= surprise(math.Exp(-v))
	}
	return sum
}

// mixed is the length of cells of which either description may hold, cell by cell.
func mixed(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = either(a[i], b[i])
	}
	return out
}

// words is the length of a row of symbols, each in the mean of what was seen before and a
// first guess: Dirichlet's rule.
type words struct {
	seen  map[int]float64
	total float64
}

func (w *words) cost(symbol int, guess float64) float64 { return w.weighted(symbol, guess, 4) }

// weighted does so with a guess that counts for so many symbols.
func (w *words) weighted(symbol int, guess, weight float64) float64 {
	if w.seen == nil {
		w.seen = map[int]float64{}
	}
	p := (w.seen[symbol] + weight*guess) / (w.total + weight)
	w.seen[symbol]++
	w.total++
	return -math.Log(p)
}

// lanesOf writes values bit by bit, each lane as the parity of its address that fits best: what each cell takes, and what the parities take.
// What may be any of several values, as may says, is as probable as all of them together; of the lanes' parities it says nothing.
func lanesOf(lanes int, values []int, may func(v int) []int) (cells []float64, parities float64) {
	size := 1
	for size < len(values) {
		size *= 2
	}
	cells = make([]float64, len(values))
	fits, breaks := make([]nats.Parity, lanes), make([]nats.Adaptive, lanes)
	for lane := range fits {
		fits[lane] = nats.FitParity(size, len(values), func(a int) (bit, ok bool) {
			return values[a]>>lane&1 == 1, values[a] >= 0 && len(may(values[a])) == 1
		})
		parities += math.Log(2 * float64(size))
		if fits[lane].Mask == 0 {
			parities += evenLane
		}
	}
	for a, v := range values {
		if v < 0 {
			continue
		}
		broken := func(lane, v int) int {
			if (v>>lane&1 == 1) != fits[lane].At(a) {
				return 1
			}
			return 0
		}
		options := may(v)
		like := make([]float64, len(options))
		for k, v := range options {
			for lane := range breaks {
				like[k] += math.Log(breaks[lane].P(broken(lane, v)))
			}
		}
		all := nats.LogSum(like...)
		cells[a] = -all
		for k, v := range options {
			for lane := range breaks {
				breaks[lane].N[broken(lane, v)] += math.Exp(like[k] - all)
			}
		}
	}
	return cells, parities
}

// evenLane is what it costs, in nats, that a lane wakes alike at all addresses: the cells of a chip are of two sorts, row by row or
// column by column. Common practice, no source.
const evenLane = 2.5

// wokenCodes is the length of each cell's code as woken memory, and of the lanes' parities; what is no glyph is written out.
func (p *page) wokenCodes() (cells []float64, parities float64) {
	var twins [256][]int
	for code, k := range p.font.first {
		twins[k] = append(twins[k], code)
	}
	cells, parities = lanesOf(8, p.code, func(v int) []int { return twins[v] })
	var forms words
	var read nats.Adaptive
	for i, s := range p.shape {
		switch {
		case s < 0:
		case p.code[i] < 0:
			cells[i] += forms.cost(s, p.wokenGuess(s)) + read.Cost(1)
		default:
			cells[i] += read.Cost(0)
		}
	}
	return cells, parities
}

// wokenGuess is how probable a symbol is in memory that nothing was written to.
func (p *page) wokenGuess(symbol int) float64 {
	if symbol > 255 && p.fits {
		return formGuess
	}
	return 1.0 / 256
}

// byAddress is the length of each cell's symbol where it depends on two or three bits of its address, those with which it is shortest. guess is how probable a symbol is that was not seen. Few sorts of symbols are known soon; of many, as where each lane has cells
// that woke otherwise, what stands at the other addresses tells.
func byAddress(symbols []int, guess func(symbol int) float64) (costs []float64) {
	top := 0
	for 1<<top < len(symbols) {
		top++
	}
	number, sorts := make([]int, len(symbols)), []int(nil)
	known := map[int]int{}
	for i, s := range symbols {
		k, ok := known[s]
		if !ok {
			k = len(sorts)
			known[s] = k
			sorts = append(sorts, s)
		}
		number[i] = k
	}
	guesses := make([]float64, len(sorts))
	for k, s := range sorts {
		guesses[k] = guess(s)
	}
	least := math.Inf(1)
	seen, anywhere := make([]float64, 8*len(sorts)), make([]float64, len(sorts))
	all := make([]float64, len(symbols))
	for a := range top {
		for b := range a {
			for c := range b + 1 { // b: two bits alone
				for _, many := range []bool{false, true} {
					var of [8]float64
					total, cost := 0.0, 0.0
					clear(seen)
					clear(anywhere)
					for i, s := range symbols {
						if s < 0 {
							continue
						}
						k, at := number[i], i>>a&1<<2|i>>b&1<<1|i>>c&1
						here, p, weight := &seen[at*len(sorts)+k], guesses[k], 4.0
						if many {
							weight = manySorts
							p = (anywhere[k] + weight*p) / (total + weight)
						}
						all[i] = -math.Log((*here + weight*p) / (of[at] + weight))
						cost += all[i]
						*here++
						of[at]++
						anywhere[k]++
						total++
					}
					if cost < least {
						least, costs = cost, slices.Clone(all)
					}
				}
			}
		}
	}
	return costs
}

// manySorts is for how many symbols a guess counts where there are many sorts. Common practice, no source.
const manySorts = 40

// threeBits is what it takes to say which two or three of ten bits, and whether there are many sorts, nats.
var threeBits = math.Log(2 * (120 + 45))

// wokenShapes is the length of each cell of a screen whose codes are not known, as woken memory, and that of what it depends on: three
// bits of its address.
func (p *page) wokenShapes() (costs []float64, which float64) {
	costs = byAddress(p.shape, p.wokenGuess)
	cells, of, most := map[int]int{}, 0, 0
	for _, s := range p.shape {
		if s >= 0 {
			cells[s]++
			if of++; cells[s] > most {
				most = cells[s]
			}
		}
	}
	which = threeBits
	if 2*most > of { // no lane of the eight shows both values
		which += 8 * evenLane
	}
	// Only what the address says speaks for woken memory, and not how many sorts of characters there are.
	var few, many words
	plain := [2]float64{}
	for _, s := range p.shape {
		if s >= 0 {
			plain[0] -= surprise(math.Exp(-few.cost(s, p.wokenGuess(s))))
			plain[1] -= surprise(math.Exp(-many.weighted(s, p.wokenGuess(s), manySorts)))
		}
	}
	own := surprises(costs)
	return costs, which + math.Max(0, -p.drawn(nil)-(math.Min(plain[0], plain[1])-own)-own)
}
