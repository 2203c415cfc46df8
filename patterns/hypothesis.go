package patterns

// A hypothesis is one answer to what is wrong in memory, video logic or
// processor side, or one to what is wrong with the signal's path: two lists, for a picture can have both.
type hypothesis struct {
	fault *Fault  // nil: nothing is wrong
	prior float64 // ln
	like  float64 // ln of the likelihood, against the same screen on a good machine
	why   []string
	other bool      // the screen is another than the one to compare with
	spelt float64   // the part of like that says which bits fail, or what nobody knows, not how well the rest fits
	gain  []float64 // beside a reference, by cell: how many nats better it explains it than nothing wrong does; nil: not known
}

// best is the likeliest of a list; nil where it is empty.
func best(list []hypothesis) *hypothesis {
	var out *hypothesis
	for i := range list {
		if out == nil || list[i].like > out.like {
			out = &list[i]
		}
	}
	return out
}
