package judge

import (
	"fmt"
	"math"

	"backporch/patterns"
)

// stages weighs a shift register in which a stage holds a level, so that all pixels behind it do, or passes on the
// pixel of the one before.
func (e *evidence) stages(nothing float64) []patterns.Hypothesis {
	k := patterns.KindOf("shift-register")
	var out []patterns.Hypothesis
	best := patterns.Hypothesis{Fault: &patterns.Fault{Class: k.Class, Kind: k.Name}, Prior: math.Log(k.Prior), Like: math.Inf(-1)}
	try := func(odds float64, why string) {
		if odds = math.Min(foldLimit, odds) - math.Log(16); odds > 0 && nothing+odds > best.Like {
			best.Like, best.Why = nothing+odds, []string{why}
		}
	}
	for stage := 4; stage < 7; stage++ { // letters may leave three pixels empty themselves
		mask := uint8(1)<<stage - 1
		different := map[[8]uint8]bool{}
		broken := 0.0
		for i := range e.s.Cells {
			c := &e.s.Cells[i]
			if c.Single {
				continue
			}
			wrong, turned := 0, 0
			for _, b := range c.Bits {
				if b&mask != 0 {
					wrong++
				}
				if b&mask != mask {
					turned++
				}
			}
			if n := min(wrong, turned); n > 0 {
				broken += math.Min(float64(n)*foldBreaks, foldCell)
			} else {
				different[c.Bits] = true
			}
		}
		// One letter in three keeps to its left half by itself, and all of a narrow font's do.
		letters := math.Max(0, 1.1*float64(len(different)-4))
		if stage == 4 {
			letters = math.Min(letters, narrowLetters)
		}
		try(letters+e.heldByte(mask)-broken, fmt.Sprintf("the last %d pixels of every cell are of one colour, in %d different cells", stage, len(different)))
	}
	e.drawn()
	for stage := 2; stage < 6; stage++ { // at the edges letters have the same by themselves
		saved, broken := 0.0, 0.0
		known := map[uint8]bool{} // the same line again says nothing new
		for i := range e.s.Cells {
			c := &e.s.Cells[i]
			wrong := 0
			for _, b := range c.Bits {
				if b>>stage&1 != b>>(stage+1)&1 {
					wrong++
				} else if !known[b] {
					known[b] = true
					saved += math.Min(e.information(stage, b>>stage&1 == 1, c.Single), e.information(stage+1, b>>stage&1 == 1, c.Single))
				}
			}
			broken += math.Min(float64(wrong)*foldBreaks, foldCell)
		}
		try(saved/4-broken, fmt.Sprintf("pixel %d of every cell is like the one before it", 7-stage))
	}
	if !math.IsInf(best.Like, -1) {
		out = append(out, best)
	}
	return out
}

// narrowLetters is what letters can say for a stage that leaves them four pixels, nats: as much as a font as narrow as that is unusual. Common practice, no source.
const narrowLetters = 4.0

// heldByte is what it says, nats, for pixels held in every cell that nearly all cells show one byte, which no program writes, and that one which programs do write is so
// with these pixels held.
func (e *evidence) heldByte(mask uint8) float64 {
	if e.main == nil || e.main.ink < 0 {
		return 0
	}
	for rows, n := range e.main.patterns {
		b := rows[0]
		if n*10 < len(e.s.Cells)*9 || !repeats(rows) || b&mask != 0 && b&mask != mask {
			continue
		}
		written := 0.0
		for _, n := range [4]uint8{0, 0xff, 0x55, 0xaa} {
			if n&^mask == b&^mask {
				written += fillShare(n) / 2 // its complement may be meant
			}
		}
		return math.Log(1 + written/fillShare(b))
	}
	return 0
}
