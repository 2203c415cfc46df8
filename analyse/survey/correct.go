package survey

import (
	"math"

	"backporch/analyse"
	"backporch/analyse/signal"
	"backporch/video"
	"backporch/video/display"
)

// correct reads the cells again where the path has turned all hues, or made the picture larger or smaller: as the
// picture would be without it. What was found of the path stays.
func (v *view) correct(s *analyse.Survey) {
	fit := signal.Correctable(s.Signal.ColourFits, s.Signal.ChromaDead, v.against != nil)
	if fit == nil || !s.Holds() {
		return
	}
	v.fit, v.spots = fit, s.Signal.Spots
	v.top = (topCode - s.Levels.Black) / (219 * math.Max(fit.Amount.Value, 1))
	fields := v.fields
	again := func(fields []*video.Field) {
		v.fields = fields
		v.phase, v.other, v.fewer = stack(s, fields, v.p.Kind == display.Text)
		v.read(s)
	}
	again(signal.Correct(fields, fit, s.Levels.Black))
	if v.against == nil && s.Motion.Blends(v.p.Kind == display.Text) { // colours that are means of several told nothing
		v.fit = nil
		again(fields)
	}
}
