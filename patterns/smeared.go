package patterns

import "math"

// smearDots is how often a path too narrow for the subcarrier, or one that brings the picture twice, dots the map of a screen's colours in one bit as a weak lane does:
// little is left of chroma, smeared along the line, so that cells beside others read as other colours. Common practice, no source.
const smearDots = 0.1

// smeared weighs what dots of other colours say for a weak lane against such a path: where the path is at fault they are its as well.
func smeared(logic, paths []hypothesis, e *evidence) {
	part := 0.0
	for i := range paths {
		if f := paths[i].fault; f != nil && (f.Kind == "low-bandwidth" || f.Kind == "ghost") {
			part += paths[i].like
		}
	}
	for i := range logic {
		f := logic[i].fault
		if f == nil || f.Kind != "data-bit-weak" || f.Bit == nil || f.Memory != "" {
			continue
		}
		if odds, _ := e.scattering(*f.Bit); odds > 0 {
			logic[i].like += dottedBy(odds, part) - odds
		}
	}
}

// dottedBy is what dots say for a lane that would be worth odds, nats, where a path is at fault by so much that dots as well.
func dottedBy(odds, part float64) float64 {
	clean, smears := math.Log(math.Max(1-part, 1e-12)), math.Log(math.Max(part, 1e-12)*smearDots)
	return odds + logSum(clean, smears) - logSum(clean, smears+odds)
}
