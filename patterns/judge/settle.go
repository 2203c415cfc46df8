package judge

import (
	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/workbench"
	"backporch/video/display"
)

// What the bench is asked: what is known weighs on the hypotheses, and what is open is to be settled.

// desk is where this machine is tested.
func (c *conclusion) desk() workbench.Desk {
	return workbench.Desk{Profile: c.p, Board: c.o.Board, Known: c.o.Known}
}

// know weighs all hypotheses, whose posterior is known, with what the user knows.
func (c *conclusion) know() {
	if len(c.o.Known) == 0 {
		return
	}
	var shifts []analyse.Shift
	if c.displaced() {
		shifts = c.s.Registration.Shifts
	}
	c.fact = c.desk().Weigh(c.logic, c.paths, shifts)
}

// rivals lists what can hold the first fault.
func (c *conclusion) rivals() {
	if c.v.Class != patterns.Clean && c.v.Class != patterns.Undetermined && len(c.v.Faults) > 0 {
		c.v.Rivals = c.desk().Rivals(&c.v.Faults[0])
	}
}

// knownWhy says what each fact does to the causes of the first fault.
func (c *conclusion) knownWhy() {
	var first *patterns.Fault
	if len(c.v.Faults) > 0 {
		first = &c.v.Faults[0]
	}
	c.v.Why = append(c.v.Why, c.desk().Why(first)...)
}

// next is what to test, or what would settle an open question.
func (c *conclusion) next() []string {
	if c.v.Class == patterns.Clean {
		if c.against == nil {
			return []string{"give --reference with a capture of a good machine at the same screen to have every bit compared"}
		}
		return nil
	}
	settling := ""
	if c.v.Class == patterns.Undetermined {
		settling = c.settling()
	}
	return c.desk().Next(c.shifted(), c.paths, settling)
}

// pathOpen: the picture can be read, and what is open is the path.
func (c *conclusion) pathOpen() bool {
	return c.e != nil && cleanShare(c.logic) >= patterns.Cleared && cleanShare(c.paths) < patterns.Cleared
}

// settling is the capture that would settle an open question.
func (c *conclusion) settling() string {
	blank := c.e != nil && c.e.blankSeen()
	top := patterns.Best(c.logic)
	switch {
	case c.pathOpen():
		return workbench.SameWay
	case c.e == nil && c.s.Sync.Picture != "":
		return "capture again with a machine that is known to work on the same cable and input: a picture there clears the device"
	case c.e == nil:
		return "capture a screen with text or edges on it, for two seconds or more, or name the display with --display"
	case blank && c.against == nil:
		return "let the machine draw: type a key or start a test ROM, give the border another colour, and capture that"
	case c.o.Reference != nil && top != nil && top.Other:
		return "bring both machines to the same screen, capture both, and give the good one's as --reference"
	case c.o.Reference == nil && c.o.Fill == nil && c.p.Kind == display.Attr:
		return "show the same screen on a good machine and give its capture as --reference; or fill display memory with a byte and say it with --fill"
	case c.o.Reference == nil:
		return "show the same screen on a good machine and give its capture as --reference"
	}
	return "capture a screen with text and several colours on both machines, for two seconds or more"
}
