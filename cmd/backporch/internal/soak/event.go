package soak

import (
	"fmt"
	"math"

	"backporch/analyse/drift"
	"backporch/video"
)

// begin opens an event with the field that is not as learned.
func (s *Session) begin(frame *video.Frame) {
	s.keeper.events++
	s.total.Events = s.keeper.events
	s.current = &episode{
		number: s.keeper.events, startS: s.total.Seconds, at: s.now(),
		before: s.frames[1], worst: frame,
	}
	s.current.refused = s.keeper.room(s.now())
}

// end closes the event that went on; frame is the first good one, nil at the end of the session.
func (s *Session) end(ended *drift.Episode, frame *video.Frame, cut bool) error {
	e := s.current
	if e == nil {
		return nil
	}
	e.now = *ended
	s.keeper.keep(e, s.order)
	if e.refused == "" {
		s.keeper.write(e, "after", frame, s.order)
	}
	out := describe(e.number, e.startS, *ended)
	out.Length = max((ended.End-ended.Start).Seconds(), 0) + 1/s.rate
	out.Cut = cut
	if e.refused != "" {
		out.Text += "; no stills: " + e.refused
	}
	s.current, s.total.Open = nil, nil
	if err := s.log.add(Record{Type: typeEvent, At: e.at, Event: out}); err != nil {
		return err
	}
	return s.logStills()
}

func (s *Session) logStills() error {
	for _, st := range s.keeper.written() {
		if err := s.log.add(Record{Type: typeStill, At: s.now(), Still: &st}); err != nil {
			return err
		}
	}
	return nil
}

// drifted logs that a slow measure has left its bounds.
func (s *Session) drifted(what string, frame *video.Frame) error {
	s.keeper.events++
	s.total.Events = s.keeper.events
	e := &episode{number: s.keeper.events, startS: s.total.Seconds, at: s.now(), worst: frame, kept: true}
	e.now.Kind = kindDrift
	if s.keeper.room(s.now()) == "" {
		s.keeper.write(e, "at", frame, s.order)
	}
	return s.log.add(Record{Type: typeEvent, At: e.at, Event: &Event{
		Number: e.number, Kind: string(kindDrift), Start: e.startS, Text: what,
	}})
}

// kindDrift is an event of the slow measures, beside the kinds of analyse/drift.
const kindDrift drift.Kind = "drift"

// words say the kinds to a person.
var words = map[drift.Kind]string{
	drift.BadField: "part of the picture was wrong",
	drift.Border:   "the border changed",
	drift.Changed:  "the picture changed and stayed so",
	drift.Frozen:   "the capture device repeated one frame",
	drift.LostLock: "the picture lost its lock",
	drift.NoSignal: "no signal",
	kindDrift:      "drift",
}

func describe(number int, startS float64, e drift.Episode) *Event {
	out := &Event{
		Number: number, Kind: string(e.Kind), Start: startS, Fields: e.Fields, Places: e.Blocks,
		X: e.Where.X, Y: e.Where.Y, W: e.Where.W, H: e.Where.H, Shift: e.Shift, Excess: e.Excess,
		Length: max((e.End - e.Start).Seconds(), 0),
	}
	out.Text = words[e.Kind]
	switch {
	case e.Kind == drift.Changed:
	case e.Fields == 1:
		out.Text += " for one field"
	case e.Fields > 1:
		out.Text += fmt.Sprintf(" for %d fields", e.Fields)
	}
	if e.Shift != 0 {
		out.Text += fmt.Sprintf(", displaced by %d lines", e.Shift)
	}
	if (e.Kind == drift.BadField || e.Kind == drift.Changed) && e.Blocks > 0 {
		out.Text += fmt.Sprintf(", within %d x %d samples at %d, line %d", e.Where.W, e.Where.H, e.Where.X, e.Where.Y)
	}
	return out
}

// drifts average the slow measures.
type drifts struct {
	gain, black, noise, hue, colour mean    // since the last beat
	long                            [5]mean // since the last judgement
	base                            [5]*float64
	fields                          int
}

type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v *float64) {
	if v != nil && !math.IsNaN(*v) {
		m.sum += *v
		m.n++
	}
}

func (m *mean) take() *float64 {
	if m.n == 0 {
		return nil
	}
	v := m.sum / float64(m.n)
	*m = mean{}
	return &v
}

func (d *drifts) add(v drift.Values) {
	d.fields++
	for i, x := range []*float64{v.Gain, v.Black, v.Noise, v.HueDeg, v.Colour} {
		[]*mean{&d.gain, &d.black, &d.noise, &d.hue, &d.colour}[i].add(x)
		d.long[i].add(x)
	}
}

// into puts the means since the last beat into this one; what was not measured is nil.
func (d *drifts) into(b *Beat) {
	b.Gain, b.Black, b.Noise, b.Hue, b.Colour = d.gain.take(), d.black.take(), d.noise.take(), d.hue.take(), d.colour.take()
}

// judged is how many seconds a judgement of drift takes in.
const judged = 10

// measures are the slow measures with how far each may wander from where it began. The eye sees a tenth
// of contrast and ten degrees of hue beside each other; common practice, no source.
var measures = []struct {
	name, unit string
	scale      float64
	far        func(base, now float64) bool
}{
	{"contrast", "%", 100, func(base, now float64) bool { return math.Abs(now-base) > 0.1 }},
	{"black", "codes", 1, func(base, now float64) bool { return math.Abs(now-base) > 8 }},
	{"noise", "codes", 1, func(base, now float64) bool { return now > 2*base+1 }},
	{"hue", "degrees", 1, func(base, now float64) bool { return math.Abs(now-base) > 10 }},
	{"saturation", "%", 100, func(base, now float64) bool { return math.Abs(now-base) > 0.2 }},
}

// crossed tells, every ten seconds, whether a measure has wandered too far; then it counts from there.
func (d *drifts) crossed(rate float64) (string, bool) {
	if float64(d.fields) < judged*rate {
		return "", false
	}
	d.fields = 0
	said := ""
	for i := range measures {
		now := d.long[i].take()
		switch m := measures[i]; {
		case now == nil:
		case d.base[i] == nil:
			d.base[i] = now
		case m.far(*d.base[i], *now):
			if said != "" {
				said += "; "
			}
			said += fmt.Sprintf("%s went from %.1f to %.1f %s", m.name, *d.base[i]*m.scale, *now*m.scale, m.unit)
			d.base[i] = now
		}
	}
	return said, said != ""
}
