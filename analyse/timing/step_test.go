package timing

import (
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/video"
)

// A device that counts the lines of every second field from one later shows a picture that steps, and does not roll.
func TestStepBetweenFields(t *testing.T) {
	p := analysetest.Profile(t, "text-40x25-50")
	for _, step := range []int{-1, 0, 1} {
		rng := rand.New(rand.NewPCG(3, 5))
		s := analysetest.New(p)
		s.Border = 3
		analysetest.Listing(p, s, 12, rng)
		ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
		fields := make([]*video.Field, 16)
		for i := range fields {
			c := analysetest.Capture{OriginX: ox, OriginY: oy + float64(i%2*step), Noise: 1}
			fields[i] = analysetest.Draw(p, s, c, rng)
			fields[i].Frame, fields[i].Parity, fields[i].Time = i/2, i%2, time.Duration(i)*20*time.Millisecond
		}
		got := Measure(fields, Options{Rate: 25, Standard: p.Standard})
		if got.Step != step || got.State != analyse.Locked {
			t.Errorf("step %d: measured %d, %s", step, got.Step, got.State)
		}
		flat := Level(fields, got.Step)
		if again := Step(flat); again != 0 {
			t.Errorf("step %d: %d is left of it", step, again)
		}
		if fields[1].Height != flat[1].Height || step != 0 && &flat[1].Y[0] == &fields[1].Y[0] {
			t.Errorf("step %d: the given fields were changed", step)
		}
	}
	// A picture that goes on in one direction rolls: every field a line lower than the last.
	rng := rand.New(rand.NewPCG(3, 5))
	s := analysetest.New(p)
	analysetest.Listing(p, s, 12, rng)
	ox, oy := p.Origin(720, p.Standard.Scan().FieldLines)
	fields := make([]*video.Field, 16)
	for i := range fields {
		fields[i] = analysetest.Draw(p, s, analysetest.Capture{OriginX: ox, OriginY: oy + float64(i), Noise: 1}, rng)
		fields[i].Frame, fields[i].Parity, fields[i].Time = i/2, i%2, time.Duration(i)*20*time.Millisecond
	}
	if got := Measure(fields, Options{Rate: 25, Standard: p.Standard}); got.Step != 0 || got.State == analyse.Locked {
		t.Errorf("rolling: step %d, %s", got.Step, got.State)
	}
}
