package rate

import "math"

// A Watch is what was seen between two marks on the time line, field by field and by
// the second.
type Watch struct {
	Fields       int     `json:"fields"`  // checked
	Bad          int     `json:"bad"`     // of these
	Seconds      float64 `json:"seconds"` // of fields checked
	Errored      int     `json:"errored_seconds"`
	WholeSeconds int     `json:"whole_seconds"` // begun
}

// A Change is how the rate of bad fields differs after a stimulus.
type Change struct {
	Before, After Watch
	Comparison         // of the counts tested
	Clumped       bool // bad fields come in bursts: errored seconds were compared instead
}

// significant is the P below which a change is spoken of; common practice, no source. Two or three
// stimuli are tried in a row, so it is stricter than one in twenty.
const significant = 0.01

// Changed says whether the stimulus did something.
func (c *Change) Changed() bool { return c.P < significant }

// clumps is how many times as many bad fields as errored seconds there may be, beyond what an
// even Poisson rate puts into the same seconds, before they are taken for bursts.
const clumps = 1.5

// Stimulus compares the time after a mark with the time before it. Bad fields that come in
// bursts are not independent; then the seconds that hold one are counted.
func Stimulus(before, after Watch, confidence float64) (Change, error) {
	c := Counted(before, after)
	first, second := c.Counts()
	var err error
	c.Comparison, err = Compare(first, second, confidence)
	return c, err
}

// Counted is a change of which only is known what is to be compared.
func Counted(before, after Watch) Change {
	return Change{Before: before, After: after, Clumped: before.clumped() || after.clumped()}
}

// Counts are what was compared: bad fields, or the seconds that hold one.
func (c *Change) Counts() (first, second Count) {
	first, second = Count{c.Before.Bad, c.Before.Seconds}, Count{c.After.Bad, c.After.Seconds}
	if c.Clumped {
		first.Events, second.Events = c.Before.Errored, c.After.Errored
	}
	return first, second
}

// clumped: at an even rate of m bad fields a second, 1-exp(-m) of the seconds hold one.
func (w Watch) clumped() bool {
	if w.Bad < 2 || w.Errored == 0 || w.WholeSeconds == 0 {
		return false
	}
	seconds := float64(w.WholeSeconds)
	even := seconds * (1 - math.Exp(-float64(w.Bad)/seconds))
	return even > clumps*float64(w.Errored)
}
