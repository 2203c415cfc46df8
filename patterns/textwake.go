package patterns

import "math"

// Woken memory against a written screen on a Text display, by the lengths of their
// descriptions as wake.go has it: codes and colour nibbles.

// wakeOdds is the log-likelihood ratio of woken memory over a written screen, bounded.
func (p *page) wakeOdds(e *evidence) (odds float64, ok bool) {
	if _, blank := e.blank(); blank || len(p.code) == 0 {
		return 0, false
	}
	d := p.drawnShapes() + p.drawnInks(e.p.Columns())
	woken := p.wokenShapes()
	if p.fits {
		woken = math.Min(woken, p.wokenCodes())
	}
	d -= woken
	d -= p.wokenInks()
	return math.Max(-40, math.Min(30, d/4)), true
}

// words is the length of a row of symbols, each in the mean of what was seen before and a
// first guess: Dirichlet's rule.
type words struct {
	seen  map[int]float64
	total float64
}

func (w *words) cost(symbol int, guess float64) float64 {
	const weight = 4 // symbols that the guess counts for
	if w.seen == nil {
		w.seen = map[int]float64{}
	}
	p := (w.seen[symbol] + weight*guess) / (w.total + weight)
	w.seen[symbol]++
	w.total++
	return -math.Log(p)
}

func guessOf(shape int) float64 {
	if shape > 255 {
		return 1.0 / 256
	}
	return 0.5*styles[0].code(shape) + 0.5/256
}

// drawnShapes writes the screen row by row: like the cell to the left, or the next code after it as a
// test shows its characters, or a symbol of those that stand on the screen.
func (p *page) drawnShapes() float64 {
	var moves [3]words // by the move before
	var symbols words
	const same, next, other = 0, 1, 2
	cost, left, was := 0.0, -1, other
	for _, s := range p.shape {
		if s < 0 {
			continue
		}
		move := other
		switch {
		case s == left:
			move = same
		case left >= 0 && left < 256 && s == p.first[(left+1)&255]:
			move = next
		}
		if left >= 0 {
			cost += moves[was].cost(move, 1.0/3)
			was = move
		}
		if move == other {
			cost += symbols.cost(s, guessOf(s))
		}
		left = s
	}
	return cost
}

// drawnInks writes the colours likewise, or like the cell above.
func (p *page) drawnInks(columns int) float64 {
	var same, above adaptive
	var symbols words
	cost, left := 0.0, -1
	for i, ink := range p.ink {
		if ink < 0 {
			continue
		}
		bit := 0
		if ink == left {
			bit = 1
		}
		if left >= 0 {
			cost += same.cost(bit)
		}
		if bit == 0 {
			over := 0
			if i >= columns && p.ink[i-columns] == ink {
				over = 1
			}
			if cost += above.cost(over); over == 0 {
				cost += symbols.cost(ink, 1.0/16)
			}
		}
		left = ink
	}
	return cost
}

// lanesOf writes values bit by bit, each lane as the parity of its address that fits best.
func lanesOf(lanes int, values []int, alone func(v int) bool) (cost float64) {
	size := 1
	for size < len(values) {
		size *= 2
	}
	for lane := range lanes {
		fit := fitParity(size, len(values), func(a int) (bit, ok bool) {
			return values[a]>>lane&1 == 1, values[a] >= 0 && alone(values[a])
		})
		cost += math.Log(2*float64(size)) - betaSequence(fit.broken, fit.of, 0.5, 0.5)
	}
	return cost
}

// wokenCodes is the length of the codes as woken memory; what is no glyph, or that of several codes,
// is written out.
func (p *page) wokenCodes() float64 {
	var twins [256]int
	for _, k := range p.first {
		twins[k]++
	}
	cost := lanesOf(8, p.code, func(v int) bool { return twins[v] == 1 })
	for i, s := range p.shape {
		if s >= 0 && (p.code[i] < 0 || twins[p.code[i]] > 1) {
			cost += math.Log(256)
		}
	}
	return cost
}

func (p *page) wokenInks() float64 { return lanesOf(4, p.ink, func(int) bool { return true }) }

// wokenShapes is the length of a screen whose codes are not known, as woken memory: what stands in a cell
// depends on three bits of its address.
func (p *page) wokenShapes() float64 {
	top := 0
	for 1<<top < len(p.shape) {
		top++
	}
	least := math.Inf(1)
	for a := range top {
		for b := range a {
			for c := range b {
				var symbols [8]words
				cost := 0.0
				for i, s := range p.shape {
					if s >= 0 {
						cost += symbols[i>>a&1<<2|i>>b&1<<1|i>>c&1].cost(s, 1.0/256)
					}
				}
				least = math.Min(least, cost)
			}
		}
	}
	return least + math.Log(120)
}
