package live

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"backporch/video"
)

// ended is the end of a recording: io.EOF, or what broke it off.
type ended struct{ error }

func (e *ended) Unwrap() error { return e.error }

// session reads one opening to its end; opened says whether frames came.
func (r *Reader) session(ctx context.Context, f *feed) (opened bool, err error) {
	v := &visit{r: r, began: time.Now()}
	watchdog := time.NewTimer(r.o.First)
	defer watchdog.Stop()
	questions := time.NewTicker(ask)
	defer questions.Stop()
	for {
		select {
		case <-ctx.Done():
			return v.frames > 0, ctx.Err()
		case <-watchdog.C:
			return v.frames > 0, r.stalled(v)
		case <-questions.C:
			if err := r.listen(v); err != nil {
				return v.frames > 0, err
			}
		case m := <-f.out:
			if err := r.take(ctx, v, m); err != nil {
				return v.frames > 0, err
			}
			// Time spent on waiting for the taker is not the source's.
			watchdog.Reset(r.limit(v))
		}
	}
}

// A visit is what is known of one opening.
type visit struct {
	r        *Reader
	src      video.Source
	info     video.Info
	receiver video.Receiver
	began    time.Time
	frames   int
	index    int           // to add to its frames' numbers
	offset   time.Duration // and to their times
	words    []string      // heard last, told when heard twice
	seen     video.Standard
}

func (r *Reader) limit(v *visit) time.Duration {
	if v.frames == 0 {
		return max(r.o.First-time.Since(v.began), time.Millisecond)
	}
	return r.o.Stall
}

// stalled tells that nothing comes.
func (r *Reader) stalled(v *visit) error {
	err := fmt.Errorf("%s without a frame: %w", seconds(r.limit(v)), video.ErrStalled)
	if v.frames == 0 {
		what := "it opened and gave no frame"
		if v.src == nil {
			what = "opening it does not come to an end"
		}
		err = fmt.Errorf("%s in %s: %w", what, seconds(r.o.First), video.ErrStalled)
		r.refused(err)
		return err
	}
	r.tell(Event{Kind: Stalled, Err: err, Text: fmt.Sprintf("reading %s: no frame for %s: the device has stalled; it is opened anew", v.info.Spec, seconds(r.o.Stall))})
	return err
}

// refused tells why the source can't be opened anew, once a reason.
func (r *Reader) refused(err error) {
	if err.Error() == r.reason || !r.o.Await && r.lastSeen.IsZero() {
		return
	}
	r.reason = err.Error()
	kind := Waiting
	if errors.Is(err, video.ErrBusy) {
		kind = Busy
	}
	r.tell(Event{Kind: kind, Err: err, Text: fmt.Sprintf("waiting for the source: %v", err)})
}

// take handles one answer of the source; its error ends the visit.
func (r *Reader) take(ctx context.Context, v *visit, m reading) error {
	var bad *video.BadFrame
	switch {
	case m.src != nil:
		v.src, v.info = m.src, m.src.Info()
		v.receiver, _ = m.src.(video.Receiver)
		return nil
	case errors.As(m.err, &bad):
		r.count(func(s *Stats) { s.Damaged++ })
		if n := r.damaged.add(1, time.Now()); n > 0 {
			r.tell(Event{Kind: Damaged, Frames: n, Err: bad, Text: fmt.Sprintf("%s damaged on the way from the device: %v", count(n, "frame"), bad)})
		}
		return nil
	case m.err != nil && v.src != nil && v.info.Kind != video.KindDevice:
		return &ended{m.err}
	case m.err != nil && v.frames > 0:
		kind := Gone
		if errors.Is(m.err, video.ErrStalled) {
			kind = Stalled
		}
		r.tell(Event{Kind: kind, Err: m.err, Text: fmt.Sprintf("%v; it is opened anew", m.err)})
		return m.err
	case m.err != nil:
		r.refused(m.err)
		return m.err
	}
	return r.frame(ctx, v, m.frame)
}

// frame numbers a frame through and passes it on.
func (r *Reader) frame(ctx context.Context, v *visit, given *video.Frame) error {
	now := time.Now()
	f := *given // the planes are the taker's
	recording := r.o.All || r.o.Pace
	if v.frames == 0 {
		r.opened(v, &f, now, recording)
	}
	v.frames++
	f.Index += v.index
	f.Time += v.offset
	r.next, r.at, r.lastSeen = f.Index+1, f.Time, now
	r.checkClock(now)
	if f.Lost > 0 {
		r.count(func(s *Stats) { s.Lost += f.Lost })
	}
	if n := r.gaps.add(f.Lost, now); n > 0 {
		r.tell(Event{Kind: Gap, Frames: n, Text: fmt.Sprintf("%s lost between the device and here, by the device's own count", count(n, "frame"))})
	}
	if v.info.Kind == video.KindDevice {
		r.checkStill(&f, now)
	}
	if r.o.Pace && !sleep(ctx, time.Until(r.start.Add(f.Time))) {
		return ctx.Err()
	}
	if r.o.All {
		if err := r.queue.room(ctx); err != nil {
			return err
		}
	}
	r.count(func(s *Stats) { s.Frames++ })
	r.queue.put(Item{Frame: &f})
	return nil
}

// opened lays a visit on the time line and tells of it.
func (r *Reader) opened(v *visit, f *video.Frame, now time.Time, recording bool) {
	v.index = r.next - f.Index
	e := Event{Kind: Opened, Info: v.info, Text: fmt.Sprintf("%s: %d x %d, %s", v.info.Spec, v.info.Width, v.info.Height, v.info.Standard)}
	switch {
	case r.lastSeen.IsZero() && recording: // its own times
	case r.lastSeen.IsZero():
		r.start = now
		v.offset = -f.Time
	default:
		v.offset = r.at + now.Sub(r.lastSeen) - f.Time
		e.Kind, e.For = Reopened, now.Sub(r.lastSeen)
		e.Text = fmt.Sprintf("the picture is back after %s", seconds(e.For))
		r.count(func(s *Stats) { s.Reopened++; s.Down += e.For })
	}
	first := r.lastSeen.IsZero()
	r.lost, r.reason, r.still = time.Time{}, "", stillness{}
	r.mu.Lock()
	r.info = v.info
	if v.receiver != nil {
		r.reception = v.receiver.Reception()
		e.Reception = r.reception
	}
	v.words = e.Reception.Words
	r.mu.Unlock()
	r.at, r.lastSeen = f.Time+v.offset, now
	r.tell(e)
	if first && !r.o.Await {
		r.first <- nil
	}
}

// listen asks the device about its reception. Its error is that the standard has changed,
// so that the source must be opened anew to follow.
func (r *Reader) listen(v *visit) error {
	if v.receiver == nil || v.frames == 0 {
		return nil
	}
	now := v.receiver.Reception()
	words, seen := v.words, v.seen
	v.words, v.seen = now.Words, now.Seen
	r.mu.Lock()
	before := r.reception
	if !slices.Equal(words, now.Words) || seen != now.Seen { // it must say so twice
		r.mu.Unlock()
		return nil
	}
	r.reception = now
	r.mu.Unlock()
	if !slices.Equal(before.Words, now.Words) {
		r.tell(Event{Kind: StatusChanged, Reception: now, Text: says(now.Words)})
	}
	if now.Seen == video.UnknownStandard || now.Set == video.UnknownStandard || now.Seen == now.Set {
		r.followed = video.UnknownStandard
		return nil
	}
	if now.Seen == r.followed {
		return nil // opened anew for it already, and it was not taken up
	}
	r.followed = now.Seen
	r.tell(Event{Kind: StandardChanged, Reception: now,
		Text: fmt.Sprintf("the standard has changed: the device detects %s and decodes %s; it is opened anew", now.Seen, now.Set)})
	return fmt.Errorf("the standard changed to %s", now.Seen)
}

// A tally adds up what would be told too often.
type tally struct {
	n    int
	told time.Time
}

// add counts n more, and gives what is to be told now.
func (t *tally) add(n int, now time.Time) int {
	t.n += n
	if t.n == 0 || !t.told.IsZero() && now.Sub(t.told) < atMost {
		return 0
	}
	n, t.n, t.told = t.n, 0, now
	return n
}

// A stillness is since when every frame has been the same.
type stillness struct {
	last  *video.Frame
	since time.Time
	told  bool
}

func (r *Reader) checkStill(f *video.Frame, now time.Time) {
	s := &r.still
	same := s.last != nil && bytes.Equal(f.Y, s.last.Y) && bytes.Equal(f.Cb, s.last.Cb) && bytes.Equal(f.Cr, s.last.Cr)
	switch {
	case !same && s.told:
		r.tell(Event{Kind: Moving, For: now.Sub(s.since), Text: fmt.Sprintf("the picture is live again after %s", seconds(now.Sub(s.since)))})
		fallthrough
	case !same:
		*s = stillness{last: f, since: now}
	case !s.told && now.Sub(s.since) >= frozenFor:
		s.told = true
		r.tell(Event{Kind: Frozen, For: now.Sub(s.since),
			Text: "every frame is the same to the last bit: the device shows a picture of its own, or an old one"})
	}
}

// checkClock compares the wall clock's advance since the last frame with that of Go's own
// clock, which is never set and stops while the machine sleeps.
func (r *Reader) checkClock(now time.Time) {
	wall := now.Round(0) // leaves the wall clock alone
	if r.o.wall != nil {
		wall = r.o.wall()
	}
	before, wallBefore := r.clock, r.wall
	r.clock, r.wall = now, wall
	if before.IsZero() {
		return
	}
	off := wall.Sub(wallBefore) - now.Sub(before)
	if off > stepped || off < -stepped {
		r.tell(Event{Kind: ClockStepped, For: off, Text: fmt.Sprintf("the clock was set, or the machine slept: %s", off.Round(100*time.Millisecond))})
	}
}
