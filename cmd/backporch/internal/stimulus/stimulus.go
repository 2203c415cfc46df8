// Package stimulus says what a mark on the time line, such as 'cooled U14', did to the rate of bad fields: in words and
// as JSON, from the counts before it and after. The test is that of analyse/rate.
package stimulus

import (
	"fmt"
	"time"

	"backporch/analyse/rate"
)

// A Result is a mark with what was counted before it and after.
type Result struct {
	Mark      string     `json:"mark"`
	At        time.Time  `json:"at"`
	Before    rate.Watch `json:"before"`
	After     rate.Watch `json:"after"`
	P         *float64   `json:"p"` // nil: not watched long enough
	Ratio     *float64   `json:"ratio"`
	RatioLow  *float64   `json:"ratio_low_95"`
	RatioHigh *float64   `json:"ratio_high_95"`
	Bursts    bool       `json:"bursts"`
	Changed   bool       `json:"changed"`
	Text      string     `json:"text"`
	Tone      Tone       `json:"-"`
}

// Tone is what a mark did, in a word.
type Tone string

// The tones.
const (
	Same  Tone = "same"
	More  Tone = "more"
	Fewer Tone = "fewer"
)

// shortest is how many seconds there must be on either side.
const shortest = 2

// New compares the time after a mark with that before it.
func New(mark string, at time.Time, before, after rate.Watch) Result {
	r := Result{
		Mark: mark, At: at, Before: before, After: after, Tone: Same,
		Text: fmt.Sprintf("%q: too short before or after it to compare", mark),
	}
	if before.Seconds < shortest || after.Seconds < shortest {
		return r
	}
	c, err := rate.Stimulus(before, after, 0.95)
	if err != nil {
		return r
	}
	r.P, r.Ratio, r.RatioLow, r.RatioHigh, r.Bursts, r.Changed = &c.P, c.Ratio, c.Low, c.High, c.Clumped, c.Changed()
	r.Text, r.Tone = say(mark, &c)
	return r
}

// say tells in a sentence what a stimulus did.
func say(mark string, c *rate.Change) (string, Tone) {
	unit, bursts := "bad field", ""
	if c.Clumped {
		unit, bursts = "second", " with bad fields (they come in bursts)"
	}
	first, second := c.Counts()
	if second.Events != 1 {
		unit += "s"
	}
	counts := fmt.Sprintf("%d %s%s in %.0f s since %q, %d in %.0f s before",
		second.Events, unit, bursts, second.Exposure, mark, first.Events, first.Exposure)
	switch {
	case first.Events+second.Events == 0:
		return counts + ".", Same
	case !c.Changed():
		return fmt.Sprintf("%s: no more than chance (P = %s).", counts, percent(c.P)), Same
	case second.Rate() > first.Rate():
		return fmt.Sprintf("More: %s. By chance in %s of cases; %s.", counts, percent(c.P), times(c)), More
	}
	return fmt.Sprintf("Fewer: %s. By chance in %s of cases; %s.", counts, percent(c.P), times(c)), Fewer
}

// times says the ratio of the rates with its interval.
func times(c *rate.Change) string {
	number := func(v float64) string {
		if v >= 10 {
			return fmt.Sprintf("%.0f", v)
		}
		return fmt.Sprintf("%.2g", v)
	}
	switch {
	case c.Low != nil && c.High != nil:
		return fmt.Sprintf("%s to %s times the rate before", number(*c.Low), number(*c.High))
	case c.Low != nil:
		return fmt.Sprintf("at least %s times the rate before", number(*c.Low))
	}
	return "the ratio can't be told"
}

func percent(p float64) string {
	switch {
	case p < 0.0001:
		return "less than 0.01 %"
	case p >= 0.1:
		return fmt.Sprintf("%.0f %%", p*100)
	}
	return fmt.Sprintf("%.2g %%", p*100)
}
