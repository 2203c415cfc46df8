package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"time"
	"unicode"
	"unicode/utf8"

	"backporch/analyse"
	"backporch/analyse/retention"
	"backporch/analyse/timing"
	"backporch/video"
)

// A powerRun is a time with a picture: its first and last frames.
type powerRun struct {
	start, end  time.Duration
	off         *float64 // seconds without a picture before it; nil: the capture began with it
	first, last []*video.Frame
}

const (
	// runFrames is what is kept of either end of a run: a third of a second, so that a program that clears its
	// screen soon after switching on has not done so yet.
	runFrames = 8
	// goneFrames without a picture in a row are a time without power, not a flaw of a tape or a cable.
	goneFrames = 3
	// unsteady is how many frames with a picture it takes until that counts: the device has just locked.
	unsteady = 1
)

// A powerWatch follows a source and sorts its frames into runs.
type powerWatch struct {
	info     video.Info
	runs     []*powerRun
	now      *powerRun // nil: no picture
	frames   int
	before   *video.Frame
	from, at time.Duration
	gone     int // frames without a picture in a row
	seen     int // with one, before a run begins
	pending  []*video.Frame
	lostAt   time.Duration // when the last picture went
	had      bool
}

func newPowerWatch(info video.Info) *powerWatch { return &powerWatch{info: info} }

func (w *powerWatch) seconds() float64 { return (w.at - w.from).Seconds() }

func (w *powerWatch) line() string {
	if w.now != nil {
		return fmt.Sprintf("power-up %d, a picture for %.1f s", len(w.runs), (w.at - w.now.start).Seconds())
	}
	return fmt.Sprintf("no picture; %d power-ups so far", len(w.runs))
}

// picture tells whether a frame shows the machine: it is locked, not the device's own picture, and has its
// structure in common with the frame before, which snow has not.
func (w *powerWatch) picture(f *video.Frame) bool {
	if w.before == nil || len(w.before.Y) != len(f.Y) {
		return false
	}
	fields := f.Fields(w.info.Order, w.info.Rate)
	if bytes.Equal(w.before.Y, f.Y) && w.info.Kind != video.KindStill && len(fields) == 2 && !bytes.Equal(fields[0].Y, fields[1].Y) {
		return false // the device repeats what it had: noise never does
	}
	if likeness(w.before.Y, f.Y) < alikeFrames {
		return false
	}
	s := timing.Measure(fields, timing.Options{Rate: w.info.Rate, Standard: w.info.Standard, Single: true})
	return s.State == analyse.Locked || s.State == analyse.Unstable
}

// alikeFrames is the least correlation of two successive frames of a picture; of two of snow it is about 0.
const alikeFrames = 0.5

// likeness is the correlation of two planes over every 13th sample.
func likeness(a, b []uint8) float64 {
	var n, x, y, xx, yy, xy float64
	for i := 0; i < len(a); i += 13 {
		p, q := float64(a[i]), float64(b[i])
		n++
		x += p
		y += q
		xx += p * p
		yy += q * q
		xy += p * q
	}
	vx, vy := xx/n-x/n*x/n, yy/n-y/n*y/n
	if vx <= 0 || vy <= 0 {
		return 0 // even: a device's fill
	}
	return (xy/n - x/n*y/n) / math.Sqrt(vx*vy)
}

func (w *powerWatch) frame(f *video.Frame) {
	if w.frames == 0 {
		w.from = f.Time
	}
	w.frames++
	w.at = f.Time
	is := w.picture(f)
	w.before = f
	switch {
	case is && w.now == nil:
		w.gone = 0
		w.pending = append(w.pending, f)
		if w.seen++; w.seen > unsteady {
			w.begin()
		}
	case is:
		w.gone = 0
		w.now.add(f)
	case w.now == nil:
		w.seen, w.pending = 0, nil
	default:
		if w.gone++; w.gone >= goneFrames {
			w.lost()
		}
	}
}

// begin opens a run with the frames that showed it.
func (w *powerWatch) begin() {
	r := &powerRun{start: w.pending[0].Time}
	if w.had {
		off := (r.start - w.lostAt).Seconds()
		r.off = &off
	}
	for _, f := range w.pending[unsteady:] {
		r.add(f)
	}
	w.now, w.runs, w.pending, w.seen = r, append(w.runs, r), nil, 0
}

func (w *powerWatch) lost() {
	w.lostAt, w.had = w.now.end, true
	w.now, w.gone = nil, 0
}

func (w *powerWatch) end() []*powerRun { return w.runs }

func (r *powerRun) add(f *video.Frame) {
	r.end = f.Time
	if len(r.first) < runFrames {
		r.first = append(r.first, f)
	}
	if r.last = append(r.last, f); len(r.last) > runFrames+1 {
		r.last = append(r.last[:0:0], r.last[1:]...)
	}
}

// fields are those of either end of the run; the very last frame may hold the moment of switching off.
func (r *powerRun) fields(last bool, info video.Info) []*video.Field {
	frames := r.first
	if last {
		frames = r.last[:max(len(r.last)-1, 0)]
	}
	var out []*video.Field
	for _, f := range frames {
		out = append(out, f.Fields(info.Order, info.Rate)...)
	}
	return out
}

// text writes a finding for a person.
func (f *powerFinding) text(w io.Writer) error {
	var out bytes.Buffer
	fmt.Fprintf(&out, "%s\n\n", capitalised(f.Summary))
	row := func(name, format string, args ...any) {
		fmt.Fprintf(&out, "%-10s%s\n", name, fmt.Sprintf(format, args...))
	}
	for i, r := range f.Runs {
		said := fmt.Sprintf("%d  from %.2f to %.2f s", i+1, r.Start, r.End)
		if r.Off != nil {
			said += fmt.Sprintf(", after %.2f s without a picture", *r.Off)
		}
		if !r.Read {
			said += ", not readable"
		}
		name := ""
		if i == 0 {
			name = "power-up"
		}
		row(name, "%s", said)
	}
	if f.Display != nil {
		row("display", "%s", *f.Display)
	}
	if f.Verdict != nil {
		row("last", "%s", *f.Verdict)
	}
	if len(f.Lanes) > 0 {
		row("lanes", "bits that differ from one power-up to the next")
		for _, l := range f.Lanes {
			row("", "bit %d  %5d of %d", l.Bit, l.Changed, l.Of)
		}
	}
	if r := f.Retention; r != nil {
		out.WriteByte('\n')
		row("memory", "without power, by lane: the time that half of the cells last")
		for _, l := range r.Lanes {
			row("", "bit %d  %s", l.Bit, laneSaid(&l))
		}
		for _, reason := range r.Reasons {
			row("", "%s", reason)
		}
		row("", "times are those without a picture; a device may take %.1f s of them to lock, which the lower ends allow for", timeToLock)
	}
	_, err := w.Write(out.Bytes())
	return err
}

// laneSaid says a lane's time with its interval.
func laneSaid(l *retention.Lane) string {
	switch {
	case l.Median != nil:
		return fmt.Sprintf("%.2f s (%.2f to %.2f s, 95 %%)", *l.Median, *l.Low, *l.High)
	case l.Low != nil:
		return fmt.Sprintf("longer than %.2f s", *l.Low)
	case l.High != nil:
		return fmt.Sprintf("shorter than %.2f s", *l.High)
	}
	return "not measured: too few cells that are not at rest"
}

func capitalised(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

func jsonOf(v any) (json.RawMessage, error) { return json.Marshal(v) }
