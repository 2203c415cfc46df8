package judge

import (
	"fmt"

	"backporch/patterns"
	"backporch/patterns/characters"
	"backporch/video/display"
)

// What is asked of the room of Text displays.

// lettered is the screen of a Text display, beside what it should show; nil: nothing is known of that.
func lettered(e *evidence, against *comparison) *characters.Screen {
	out := &characters.Screen{Survey: e.s, Profile: e.p, ReferenceBorder: -1, Edgeless: e.edgeless()}
	out.Colour, out.Blank = e.blank()
	if against != nil && against.survey != nil {
		out.Reference, out.ReferenceBorder = against.survey, against.border
	}
	return out
}

// blankSeen tells whether the whole picture area shows one colour.
func (e *evidence) blankSeen() bool {
	_, ok := e.blank()
	return ok
}

// unread says why a picture of which no fault stands out is not clean all the same: what differs is none that is known, or a Text display's codes can't be
// judged. "" where it is.
func (c *conclusion) unread() string {
	if c.e == nil {
		return ""
	}
	if h := patterns.Best(c.logic); c.p.Kind == display.Attr && c.against != nil && c.against.survey != nil && h != nil && h.Fault == nil && !h.Other {
		if n := c.against.plainlyOther(c.e); n > fewOther {
			return fmt.Sprintf("%d cells plainly show something else than %s has, and in none of the ways in which the faults do that are known here", n, c.against.what)
		}
	}
	if c.p.Kind != display.Text {
		return ""
	}
	return lettered(c.e, c.against).Unread()
}

// codeless tells of a Text display's screen whose codes are not known for want of its font, with nothing to compare it with.
func (c *conclusion) codeless() bool {
	return c.e != nil && c.p.Kind == display.Text && c.against == nil && lettered(c.e, nil).Codeless()
}
