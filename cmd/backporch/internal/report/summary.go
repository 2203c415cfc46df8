package report

import (
	"fmt"
	"strings"

	"backporch/patterns"
	"backporch/video/display"
)

// Likely is the probability from which a fault is stated; one below is a rival.
const Likely = 0.5

// worthNaming is the least probability that a rival is shown with.
const worthNaming = 0.03

// settled is the share of its class from which a fault stands for the class alone.
const settled = 0.9

// mostNamed is how many faults of a class a sentence names.
const mostNamed = 4

// summary says the verdict in one plain sentence, without how sure the class is: its
// fault where one stands out, else those that share the class with the probability of each. It
// marks the faults that it has stated. p names the colours.
func summary(v *patterns.Verdict, p *display.Profile, faults []Fault) string {
	switch {
	case v.Class == patterns.Clean:
		return "Nothing wrong to be seen."
	case v.Class == patterns.Undetermined:
		return "The capture does not settle it."
	case len(faults) == 0:
		return "A fault of this class."
	}
	top := &faults[0]
	top.stated = true
	var shares []string
	second := 0.0
	for i := range faults {
		f := &faults[i]
		if f.Class == top.Class && f.Probability >= worthNaming && len(shares) < mostNamed {
			shares = append(shares, share(f))
			if i > 0 {
				second = max(second, f.Probability)
			}
		}
	}
	if v.Confidence == nil || top.Probability >= settled**v.Confidence || len(shares) < 2 {
		return capital(top.say) + "."
	}
	for i := range faults {
		f := &faults[i]
		f.stated = f.stated || f.Class == top.Class && f.Probability >= worthNaming
	}
	if top.Probability >= Likely && top.Probability >= 2*second {
		return fmt.Sprintf("Most likely %s; else %s.", shares[0], strings.Join(shares[1:], " or "))
	}
	return fmt.Sprintf("Which one is open: %s.", strings.Join(shares, ", "))
}

// share names a fault with its probability.
func share(f *Fault) string {
	return fmt.Sprintf("%s (%.0f %%)", f.say, min(max(f.Probability*100, 1), 99))
}

// sure says a probability in words: a whole percentage, never 0 or 100.
func sure(p *float64) string {
	if *p >= 0.995 {
		return "over 99 % sure"
	}
	return fmt.Sprintf("%.0f %% sure", max(*p*100, 1))
}

// Heading is the class as a heading, with how sure it is of a fault.
func (r *Report) Heading() string {
	heading := headings[r.Verdict.Class]
	if heading == "" {
		heading = strings.ToUpper(r.Verdict.Class)
	}
	if r.Verdict.Confidence != nil && !r.is(patterns.Clean) {
		heading += ", " + sure(r.Verdict.Confidence)
	}
	return heading
}

func (r *Report) is(c patterns.Class) bool { return r.Verdict.Class == string(c) }

// Sentence is what follows the heading.
func (r *Report) Sentence() string {
	said := r.Verdict.Summary
	if !r.is(patterns.Clean) || r.Verdict.Confidence == nil {
		return said
	}
	said = strings.TrimSuffix(said, ".") + "; " + sure(r.Verdict.Confidence)
	if *r.Verdict.Confidence < 0.95 && len(r.Verdict.Next) > 0 {
		said += " - a reference would settle more"
	}
	return said + "."
}

// Also says the further faults that are likely, and the rivals, each with its share.
func (r *Report) Also() (further, rivals []string) {
	for i := range r.Verdict.Faults {
		f := &r.Verdict.Faults[i]
		switch {
		case f.stated || f.Probability < worthNaming:
		case f.Probability >= Likely && !r.is(patterns.Undetermined):
			further = append(further, share(f))
		default:
			rivals = append(rivals, share(f))
		}
	}
	return further, rivals
}
