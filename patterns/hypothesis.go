package patterns

// A Hypothesis is one answer to what is wrong in memory, video logic or
// processor side, or one to what is wrong with the signal's path: two lists, for a picture can have both.
type Hypothesis struct {
	Fault *Fault  // nil: nothing is wrong
	Prior float64 // ln
	Like  float64 // ln of the likelihood, against the same screen on a good machine
	Why   []string
	Other bool      // the screen is another than the one to compare with
	Spelt float64   // the part of Like that says which bits fail, or what nobody knows, not how well the rest fits
	Gain  []float64 // beside a reference, by cell: how many nats better it explains it than nothing wrong does; nil: not known
}

// Best is the likeliest of a list; nil where it is empty.
func Best(list []Hypothesis) *Hypothesis {
	var out *Hypothesis
	for i := range list {
		if out == nil || list[i].Like > out.Like {
			out = &list[i]
		}
	}
	return out
}
