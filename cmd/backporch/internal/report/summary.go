package report

import (
	"fmt"

	"backporch/patterns"
	"backporch/video/display"
)

// Likely is the probability from which a fault is stated; one below is a rival.
const Likely = 0.5

// worthNaming is the least probability that a rival is shown with.
const worthNaming = 0.03

// summary says the verdict's first fault in one plain sentence, without how sure it
// is. p names the colours.
func summary(v *patterns.Verdict, p *display.Profile) string {
	switch {
	case v.Class == patterns.Clean:
		return "Nothing wrong to be seen."
	case v.Class == patterns.Undetermined:
		return "The capture does not settle it."
	case len(v.Faults) == 0:
		return "A fault of this class."
	}
	return capital(v.Faults[0].Describe(p)) + "."
}

// sure says a probability in words: a whole percentage, never 0 or 100.
func sure(p *float64) string {
	if *p >= 0.995 {
		return "over 99 % sure"
	}
	return fmt.Sprintf("%.0f %% sure", max(*p*100, 1))
}
