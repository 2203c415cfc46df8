package patterns

import (
	"fmt"
	"math"

	"backporch/analyse"
)

// codePrior is how often a code other than the commonest stands on a screen:
// letters, figures, marks, then everything else, in the order of ASCII. Common practice, no source.
func codePrior(code int) float64 {
	switch c := byte(code); {
	case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z':
		return 0.75 / 52
	case c >= '0' && c <= '9':
		return 0.10 / 10
	case c >= ' ' && c <= '~':
		return 0.12 / 33
	}
	return 0.03 / 161
}

// fillerPrior is how often a code is the commonest of a screen: the space nearly always.
func fillerPrior(code int) float64 {
	if code == ' ' {
		return 0.95
	}
	return 0.05 / 255
}

// codes counts the codes of a text screen; commonest is -1 when none was read.
func codes(t *analyse.Text) (counts [256]int, commonest, read int) {
	commonest = -1
	if t == nil {
		return counts, commonest, 0
	}
	for _, c := range t.Codes {
		if c >= 0 {
			counts[c]++
			read++
			if commonest < 0 || counts[c] > counts[commonest] {
				commonest = c
			}
		}
	}
	return counts, commonest, read
}

// textHypotheses weighs the lanes of a text display's screen memory by its codes.
func textHypotheses(e *evidence, against *comparison) []hypothesis {
	counts, commonest, read := codes(e.s.Text)
	out := []hypothesis{{prior: math.Log(cleanPrior)}}
	blank := kindOf("blank-picture")
	out = append(out, hypothesis{fault: &Fault{Class: blank.Class, Kind: blank.Name}, prior: math.Log(blank.Prior), like: e.blankOdds(true)})
	if e.blankSeen() {
		out[0].like = math.Log(emptyScreen)
	}
	if read < len(e.s.Cells)/4 || commonest < 0 {
		return out
	}
	// The likelihood of the codes where a bit is held at level (or none: bit -1).
	weigh := func(bit, level int) float64 {
		like := 0.0
		for code, n := range counts {
			if n == 0 {
				continue
			}
			prior := codePrior
			if code == commonest {
				prior = fillerPrior
			}
			p := prior(code)
			if bit >= 0 {
				p += prior(code ^ 1<<bit)
			}
			like += math.Log(p)
			if bit >= 0 && code>>bit&1 != level {
				like -= math.Min(float64(n)*2, colourViolation)
			}
		}
		return like
	}
	clean := weigh(-1, 0)
	held := against != nil && against.text != nil && len(against.text.Codes) == len(e.s.Text.Codes)
	stuck := kindOf("data-bit-stuck")
	for bit := range 8 {
		for level := range 2 {
			h := hypothesis{
				fault: &Fault{Class: stuck.Class, Kind: stuck.Name, Bit: ptr(bit), Level: ptr(level), Memory: "screen"},
				prior: math.Log(stuck.Prior / 16), like: math.Max(-40, math.Min(40, weigh(bit, level)-clean)) + out[0].like,
			}
			if held {
				h.like = codeCost(e.s.Text, against.text, bit, level)
			}
			out = append(out, h)
		}
	}
	if held {
		out[0].like = codeCost(e.s.Text, against.text, -1, 0)
		weak := kindOf("data-bit-weak")
		for bit := range 8 {
			wrong, of, rest := 0, 0, 0.0
			for i, c := range e.s.Text.Codes {
				want := against.text.Codes[i]
				if c < 0 || want < 0 {
					continue
				}
				of++
				switch c ^ want {
				case 0:
				case 1 << bit:
					wrong++
				default:
					rest += codeError
				}
			}
			h := hypothesis{
				fault: &Fault{Class: weak.Class, Kind: weak.Name, Bit: ptr(bit), Memory: "screen"}, prior: math.Log(weak.Prior / 8),
				like: betaSequence(wrong, of, 0.5, 3) - rest,
			}
			if wrong > 0 {
				h.why = []string{fmt.Sprintf("bit %d of the code differs from the reference in %d of %d cells", bit, wrong, of)}
			}
			out = append(out, h)
		}
	}
	if seen := e.s.Border.Colour; against != nil && against.border >= 0 && seen >= 0 && seen != against.border {
		latch := kindOf("border-latch")
		miss := -math.Min(12, 2+e.s.Border.Sure)
		for i := range out {
			out[i].like += miss
		}
		out = append(out, hypothesis{
			fault: &Fault{Class: latch.Class, Kind: latch.Name, Expected: ptr(against.border), Seen: ptr(seen)},
			prior: math.Log(latch.Prior), like: out[0].like - miss,
			why: []string{fmt.Sprintf("the border is %s, the reference has %s", e.p.Colours[seen].Name, e.p.Colours[against.border].Name)},
		})
	}
	return out
}

// codeError is what a cell that no hypothesis explains costs, nats: one misread in some thousand cells.
const codeError = 8.0

// codeCost weighs the codes against expected ones with a bit held at level (none: -1).
func codeCost(seen, want *analyse.Text, bit, level int) float64 {
	cost := 0.0
	for i, c := range seen.Codes {
		w := want.Codes[i]
		if c < 0 || w < 0 {
			continue
		}
		if bit >= 0 {
			w = w&^(1<<bit) | level<<bit
		}
		if c != w {
			cost += codeError
		}
	}
	return -math.Min(cost, 1000)
}

func (e *evidence) blankSeen() bool {
	_, ok := e.blank()
	return ok
}
