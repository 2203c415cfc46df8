package judge

import (
	"fmt"
	"sort"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/characters"
	"backporch/patterns/signalpath"
	"backporch/video/display"
)

// explain fills what is good, why, the table and what to do next.
func (c *conclusion) explain(path, logic *patterns.Hypothesis) {
	v, s := c.v, c.s
	c.good()
	if path.Fault != nil && v.Class == patterns.Signal {
		v.Why = append(v.Why, path.Why...)
	}
	switch {
	case c.e == nil && path.Fault == nil:
		reason := s.Registration.Reason
		if reason == "" {
			reason = "the picture could not be placed"
		}
		v.Why = append(v.Why, reason+", so that cells and memory are not known")
	case c.e == nil && s.Sync.State != analyse.NoSignal && s.Sync.Picture == "" && !signalpath.EvenBlack(s):
		v.Why = append(v.Why, "the picture moves too much to read its cells: what they hold is not known until it locks")
	}
	if logic != nil {
		c.reason(logic)
	}
	if path.Fault != nil && v.Class != patterns.Signal {
		v.Why = append(v.Why, path.Why...)
	}
	c.knownWhy()
	c.rivals()
	v.Next = c.next()
}

// reason says what speaks for the likeliest answer and, where it is close, for its rival.
func (c *conclusion) reason(h *patterns.Hypothesis) {
	v := c.v
	switch {
	case v.Class == patterns.Undetermined && c.e != nil:
		if unread := c.unread(); unread != "" && h.Fault == nil {
			v.Why = append(v.Why, unread)
		} else if h.Fault == nil && c.codeless() {
			v.Why = append(v.Why, characters.CodelessWhy)
		} else if h.Other {
			v.Why = append(v.Why, "the screen is another than the reference's, and shows nothing wrong of itself")
		} else if colour, ok := c.e.blank(); ok && c.against == nil {
			v.Why = append(v.Why, fmt.Sprintf("the whole picture area is %s: an empty screen and a dead picture look the same", c.p.Colours[colour].Name))
		} else if h.Fault != nil {
			v.Why = append(v.Why, fmt.Sprintf("%s is the likeliest, at %.0f %%: not enough to name it", h.Fault.Describe(c.p), 100*h.Like))
		} else if path := patterns.Best(c.paths); path != nil && path.Fault != nil {
			v.Why = append(v.Why, fmt.Sprintf("%s is the likeliest, at %.0f %%: not enough to name it", path.Fault.Describe(c.p), 100*path.Like))
		} else {
			v.Why = append(v.Why, fmt.Sprintf("nothing certain is wrong, but it is only %.0f %% sure that nothing is", 100*cleanShare(c.logic)*cleanShare(c.paths)))
		}
	case h.Fault == nil:
		if unread := c.unread(); unread != "" {
			v.Why = append(v.Why, unread)
		} else if h.Other {
			v.Why = append(v.Why, "the screen is another than the reference's, and shows nothing wrong of itself")
		} else if c.against != nil {
			v.Why = append(v.Why, "every cell shows what "+c.against.what+" does, within what noise misreads")
		} else if c.codeless() {
			v.Why = append(v.Why, characters.CodelessGood, characters.CodelessWhy)
		} else {
			v.Why = append(v.Why, "no lane, colour or cell stands out from what a good machine could show")
		}
		return
	}
	v.Why = append(v.Why, h.Why...)
	if h.Fault != nil {
		c.table(h.Fault)
		if c.against == nil && h.Fault.Kind == "colour-path" && c.p.Kind == display.Attr {
			v.Why = append(v.Why, fmt.Sprintf("every colour in picture and border has %s at %d, and the patterns hold no odd lane", h.Fault.Component, *h.Fault.Level))
		}
		if c.against != nil && h.Fault.Kind == "colour-path" {
			v.Why = append(v.Why, fmt.Sprintf("with %s at %d every cell and the border are what %s shows", h.Fault.Component, *h.Fault.Level, c.against.what))
		}
		if h.Fault.Kind == "power-up-pattern" {
			v.Why = append(v.Why, "the screen follows the rows and columns of the memory chips and not the raster: nothing has written it")
		}
		if h.Fault.Kind == "blank-picture" {
			v.Why = append(v.Why, "sync and border are there and nothing is drawn in the picture area")
		}
	}
}

// table is the one a repairer makes by hand: expected, seen, how many. It has the bytes of
// the pattern where a screen is known to compare with, the commonest first.
func (c *conclusion) table(f *patterns.Fault) {
	if c.against == nil || f.Class != patterns.RAMBit {
		return
	}
	counts := map[[2]uint8]int{}
	if c.p.Kind == display.Text {
		if c.against.text == nil || c.s.Text == nil {
			return
		}
		for i, code := range c.s.Text.Codes {
			if want := c.against.text.Codes[i]; code >= 0 && want >= 0 && code != want {
				counts[[2]uint8{uint8(want), uint8(code)}]++
			}
		}
		c.rows(counts, "code")
		return
	}
	for i := range c.s.Cells {
		seen, want := &c.s.Cells[i], &c.against.cells[i]
		cell := map[[2]uint8]bool{}
		for y := range seen.Bits {
			if seen.Bits[y] != want.Bits[y] {
				cell[[2]uint8{want.Bits[y], seen.Bits[y]}] = true
			}
		}
		for k := range cell {
			counts[k]++
		}
	}
	c.rows(counts, "bitmap")
}

// rows keeps the six commonest differences.
func (c *conclusion) rows(counts map[[2]uint8]int, where string) {
	var rows []patterns.Difference
	for k, n := range counts {
		rows = append(rows, patterns.Difference{Expected: k[0], Seen: k[1], Cells: n, Where: where})
	}
	sort.Slice(rows, func(i, j int) bool {
		a, b := rows[i], rows[j]
		if a.Cells != b.Cells {
			return a.Cells > b.Cells
		}
		return int(a.Expected)<<8|int(a.Seen) < int(b.Expected)<<8|int(b.Seen)
	})
	c.v.Table = rows[:min(len(rows), 6)]
}

// good lists what the picture proves to work.
func (c *conclusion) good() {
	v, s := c.v, c.s
	if s.Sync.State == analyse.Locked {
		v.Good = append(v.Good, "sync and lock: the video logic's clock and counters run")
	}
	if c.e == nil {
		return
	}
	if b := s.Border; b.Seen && b.Uniform && b.Colour >= 0 && probability(c.logic, "border-latch", "colour-path") < 0.05 {
		v.Good = append(v.Good, fmt.Sprintf("border: even all round, %s", c.p.Colours[b.Colour].Name))
	}
	var lanes []int
	if c.p.Kind == display.Attr && c.e.main != nil && !c.e.blankSeen() {
		for bit := range 8 {
			if laneProbability(c.logic, bit) < 0.02 && c.varies(bit) {
				lanes = append(lanes, bit)
			}
		}
	}
	if len(lanes) == 8 {
		v.Good = append(v.Good, "all eight data lanes of the memory show both values")
	} else if len(lanes) > 0 {
		v.Good = append(v.Good, fmt.Sprintf("data lanes %s show both values", patterns.List(lanes)))
	}
	if t := s.Text; t != nil && c.p.Kind == display.Text && t.Checked > 0 && t.Unknown*20 < t.Checked {
		v.Good = append(v.Good, "character generator: the cells match its font")
	}
	if snr := s.Signal.SNRdB; snr != nil && *snr >= 36 {
		about := ""
		if s.Signal.SNRQuantised { // the codec has rounded the noise away
			about = "at least "
		}
		v.Good = append(v.Good, fmt.Sprintf("signal path: %s%.0f dB signal to noise", about, *snr))
	}
	if colours := coloursSeen(s, c.p); colours >= 3 && probability(c.logic, "colour-path") < 0.05 {
		v.Good = append(v.Good, fmt.Sprintf("colour: %d colours are where they should be", colours))
	}
}

// varies tells whether a lane shows both values in patterns.
func (c *conclusion) varies(bit int) bool {
	for level := range 2 {
		var all run
		for _, g := range c.e.groups {
			all.add(c.e.laneRun(g, bit, level, false, 1))
		}
		if all.of == 0 || all.against == 0 {
			return false
		}
	}
	return true
}

func coloursSeen(s *analyse.Survey, p *display.Profile) int {
	seen := map[int]bool{}
	for i := range s.Cells {
		cell := &s.Cells[i]
		if cell.Sure < 3 {
			continue
		}
		for _, k := range []int{cell.Ink, cell.Paper} {
			if k >= 0 && p.Colours[k].Saturation() > 0.05 {
				seen[k] = true
			}
		}
	}
	return len(seen)
}

// probability adds up the posterior of kinds.
func probability(list []patterns.Hypothesis, kinds ...string) float64 {
	sum := 0.0
	for _, h := range list {
		for _, k := range kinds {
			if h.Fault != nil && h.Fault.Kind == k {
				sum += h.Like
			}
		}
	}
	return sum
}

func laneProbability(list []patterns.Hypothesis, bit int) float64 {
	sum := 0.0
	for _, h := range list {
		if h.Fault != nil && h.Fault.Bit != nil && *h.Fault.Bit == bit {
			sum += h.Like
		}
	}
	return sum
}

// lanes fills the counts of each data bit.
func (c *conclusion) lanes() {
	if c.e == nil || c.e.missing {
		return
	}
	for bit := range 8 {
		l := patterns.Lane{Bit: bit}
		if m := c.s.Memory; m != nil {
			for _, seen := range m.Seen {
				l.Of += int(seen >> bit & 1)
			}
		}
		for _, h := range c.logic {
			if h.Fault != nil && h.Fault.Kind == "data-bit-stuck" && h.Fault.Memory != "colour" && *h.Fault.Bit == bit && h.Like >= patterns.Named {
				l.Stuck = ptr(*h.Fault.Level)
			}
		}
		if wrong, ok := c.wrong(bit); ok {
			l.Wrong = &wrong
		}
		c.v.Lanes = append(c.v.Lanes, l)
	}
}

// wrong counts the bits of a lane that differ from what should be there; ok is false when
// nothing says what should.
func (c *conclusion) wrong(bit int) (int, bool) {
	if c.p.Kind == display.Text {
		if c.against == nil || c.against.text == nil || c.s.Text == nil {
			return 0, false
		}
		n := 0
		for i, code := range c.s.Text.Codes {
			if want := c.against.text.Codes[i]; code >= 0 && want >= 0 {
				n += (code ^ want) >> bit & 1
			}
		}
		return n, true
	}
	if c.against != nil {
		n := c.against.laneOnly(c.e, bit, 1).bits.sum()
		return n, true
	}
	if c.v.Class == patterns.Clean {
		return c.e.flips[bit], true
	}
	return 0, false
}
