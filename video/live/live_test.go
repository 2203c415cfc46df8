package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"backporch/video"
	"backporch/video/picture"
	"backporch/video/videotest"
)

// Time in these tests is synctest's: it goes on when every goroutine waits, and a goroutine
// that is left over at the end of a test fails it.

// lively are frames of which no two neighbours are alike, as a live signal's.
func lively(n int) []*video.Frame {
	out := make([]*video.Frame, n)
	for i := range out {
		out[i] = picture.NewFrame(64, 64, 32, 64)
		out[i].Y[i%64] = uint8(20 + i%200)
		out[i].Y[100] = uint8(i)
	}
	return out
}

const period = 40 * time.Millisecond // 25 frames a second

// device plays n frames as a capture device does.
func device(n int) *videotest.Playback {
	return &videotest.Playback{Frames: lively(n), Every: period, Meta: video.Info{Kind: video.KindDevice, Spec: "bench", Width: 64, Height: 64}}
}

// A turn is what one opening gives.
type turn struct {
	src video.Source
	err error
}

// turns opens one after the other; the last one stays.
func turns(t ...turn) (Opener, *int) {
	n := 0
	return func(context.Context) (video.Source, error) {
		now := t[min(n, len(t)-1)]
		n++
		return now.src, now.err
	}, &n
}

// told is an event, and how long after the test began it came.
type told struct {
	Event
	after time.Duration
}

// watch takes items until an event of the kind has come, or the source has ended.
func watch(t *testing.T, r *Reader, until Kind) (frames []*video.Frame, events []told) {
	t.Helper()
	begin := time.Now()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for {
		it, err := r.Next(ctx)
		switch {
		case errors.Is(err, io.EOF):
			return frames, events
		case err != nil:
			t.Fatalf("waiting for %q: %v; so far: %v", until, err, kinds(events))
		case it.Frame != nil:
			frames = append(frames, it.Frame)
		default:
			events = append(events, told{*it.Event, time.Since(begin)})
			if strings.ContainsAny(it.Event.Text, "\n") || it.Event.Text == "" {
				t.Errorf("%s: text %q is not one line", it.Event.Kind, it.Event.Text)
			}
			if it.Event.Kind == until {
				return frames, events
			}
		}
	}
}

func kinds(events []told) []Kind {
	out := make([]Kind, len(events))
	for i, e := range events {
		out[i] = e.Kind
	}
	return out
}

func mustOpen(t *testing.T, open Opener, o Options) *Reader {
	t.Helper()
	r, err := Open(context.Background(), open, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mustClose(t *testing.T, r *Reader) {
	t.Helper()
	if err := r.Close(); err != nil {
		t.Error(err)
	}
}

func TestUnpluggedAndBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first, second := device(50), device(50)
		first.Fatal = map[int]error{10: fmt.Errorf("reading bench: %w", video.ErrGone)}
		second.Repeat = true
		missing := errors.New("opening bench: there is no such device")
		open, opened := turns(turn{src: first}, turn{err: missing}, turn{err: missing}, turn{err: fmt.Errorf("opening bench: %w", video.ErrBusy)}, turn{src: second})
		r := mustOpen(t, open, Options{})
		frames, events := watch(t, r, Reopened)
		if want := []Kind{Opened, Gone, Waiting, Busy, Reopened}; !slices.Equal(kinds(events), want) {
			t.Fatalf("events %v, want %v", kinds(events), want)
		}
		if !errors.Is(events[1].Err, video.ErrGone) || events[1].after > 2*time.Second || first.Closed != 1 {
			t.Errorf("gone: %+v, closed %d times", events[1], first.Closed)
		}
		for _, e := range events[1:4] {
			if !e.Down() {
				t.Errorf("%s: there is a picture?", e.Kind)
			}
		}
		for len(frames) < 14 {
			it, err := r.Next(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			if it.Frame != nil {
				frames = append(frames, it.Frame)
			}
		}
		for i, f := range frames {
			if f.Index != i || i > 0 && f.Time <= frames[i-1].Time {
				t.Errorf("frame %d: number %d at %v", i, f.Index, f.Time)
			}
		}
		// The time line goes on over the loss by our own clock.
		if gap := frames[10].Time - frames[9].Time; gap < events[4].For || gap > events[4].For+period || *opened != 5 {
			t.Errorf("a gap of %v, without a picture for %v, opened %d times", gap, events[4].For, *opened)
		}
		if s := r.Stats(); s.Reopened != 1 || s.Frames < 14 || s.Lost != 0 || s.Down != events[4].For || s.Abandoned != 0 {
			t.Errorf("%+v", s)
		}
		mustClose(t, r)
	})
}

// A driver that blocks is told within two seconds, and holds up neither the reader nor Close
// beyond the time that it is given.
func TestBlockedRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{})
		first, second := device(50), device(50)
		first.Stuck = map[int]<-chan struct{}{5: free}
		second.Repeat = true
		open, _ := turns(turn{src: first}, turn{src: second})
		r := mustOpen(t, open, Options{})
		frames, events := watch(t, r, Stalled)
		last := time.Duration(len(frames)-1) * period
		if late := events[len(events)-1].after - last; late > 2*time.Second || !errors.Is(events[len(events)-1].Err, video.ErrStalled) {
			t.Errorf("told %v after the last frame: %v", late, events[len(events)-1].Text)
		}
		_, events = watch(t, r, Reopened)
		if s := r.Stats(); s.Abandoned != 1 {
			t.Errorf("while the driver holds it: %+v", s)
		}
		begin := time.Now()
		if err := r.Close(); !errors.Is(err, ErrAbandoned) || time.Since(begin) > 3*time.Second {
			t.Errorf("closing while the driver blocks: %v after %v", err, time.Since(begin))
		}
		close(free) // the driver lets go: the goroutine ends and closes its source
		synctest.Wait()
		if first.Closed != 1 || second.Closed != 1 {
			t.Errorf("closed %d and %d times, want 1", first.Closed, second.Closed)
		}
		if s := r.Stats(); s.Abandoned != 0 {
			t.Errorf("after the driver has let go: %+v", s)
		}
		_ = events
	})
}

// An opening that blocks is given up as well; what it opens in the end is closed.
func TestBlockedOpening(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free, late := make(chan struct{}), device(5)
		begin := time.Now()
		_, err := Open(context.Background(), func(context.Context) (video.Source, error) { <-free; return late, nil }, Options{First: time.Second})
		if !errors.Is(err, video.ErrStalled) || !errors.Is(err, ErrAbandoned) || time.Since(begin) > 7*time.Second {
			t.Errorf("%v after %v", err, time.Since(begin))
		}
		close(free)
		synctest.Wait()
		if late.Closed != 1 {
			t.Error("what was opened too late is not closed")
		}
	})
}

func TestOpenFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := fmt.Errorf("opening bench: %w", video.ErrBusy)
		open, _ := turns(turn{err: busy})
		if _, err := Open(context.Background(), open, Options{}); !errors.Is(err, video.ErrBusy) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v", err)
		}
		silent := device(3)
		silent.Wait = map[int]bool{0: true}
		open, _ = turns(turn{src: silent})
		if _, err := Open(context.Background(), open, Options{}); !errors.Is(err, video.ErrStalled) || silent.Closed != 1 {
			t.Errorf("a device without a frame: %v", err)
		}
		// With Await the source may come later.
		open, _ = turns(turn{err: busy}, turn{err: busy}, turn{src: device(100)})
		r := mustOpen(t, open, Options{Await: true})
		_, events := watch(t, r, Opened)
		if want := []Kind{Busy, Opened}; !slices.Equal(kinds(events), want) {
			t.Errorf("events %v, want %v", kinds(events), want)
		}
		mustClose(t, r)
	})
}

func TestGiveUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first := device(5) // ends: a device that gives no more is gone
		open, _ := turns(turn{src: first}, turn{err: errors.New("no such device")})
		r := mustOpen(t, open, Options{GiveUp: 10 * time.Second})
		_, events := watch(t, r, Ended)
		if want := []Kind{Opened, Gone, Waiting, Ended}; !slices.Equal(kinds(events), want) {
			t.Fatalf("events %v, want %v", kinds(events), want)
		}
		if e := events[3]; e.Err == nil || e.after < 10*time.Second || e.after > 13*time.Second {
			t.Errorf("%+v", e)
		}
		if _, err := r.Next(context.Background()); !errors.Is(err, io.EOF) {
			t.Errorf("after the end: %v", err)
		}
		mustClose(t, r)
	})
}

// The device detects another standard than it decodes: told within two seconds, opened anew
// once, and not again and again where the new opening doesn't follow.
func TestStandardChanged(t *testing.T) {
	for _, follows := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			first, second := device(100), device(500)
			is := func(set, seen video.Standard) video.Reception { return video.Reception{Set: set, Seen: seen} }
			first.Heard = map[int]video.Reception{0: is(video.Std625, video.Std625), 50: is(video.Std625, video.Std525)}
			second.Heard = map[int]video.Reception{0: is(video.Std625, video.Std525)}
			if follows {
				second.Heard[0] = is(video.Std525, video.Std525)
			}
			open, opened := turns(turn{src: first}, turn{src: second})
			r := mustOpen(t, open, Options{GiveUp: time.Second})
			_, events := watch(t, r, Ended)
			want := []Kind{Opened, StandardChanged, Reopened, Gone} // second's end
			if len(events) < 4 || !slices.Equal(kinds(events)[:4], want) || *opened < 2 {
				t.Fatalf("follows %v: events %v, want %v first", follows, kinds(events), want)
			}
			if e := events[1]; e.after > 50*period+2*time.Second || e.after < 50*period || e.Reception.Seen != video.Std525 {
				t.Errorf("told %v after the start: %+v", e.after, e.Event)
			}
			if e := events[3]; e.after < 18*time.Second { // 500 frames went by without another opening
				t.Errorf("the second opening ended after %v", e.after)
			}
			mustClose(t, r)
		})
	}
}

func TestStatusChanged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := device(200)
		d.Heard = map[int]video.Reception{50: {Words: []string{"no signal"}}, 100: {}}
		open, _ := turns(turn{src: d})
		r := mustOpen(t, open, Options{})
		_, events := watch(t, r, StatusChanged)
		if e := events[len(events)-1]; !slices.Equal(e.Reception.Words, []string{"no signal"}) || !slices.Equal(r.Reception().Words, e.Reception.Words) || !strings.Contains(e.Text, "no signal") {
			t.Errorf("%+v", e)
		}
		_, events = watch(t, r, StatusChanged)
		if e := events[len(events)-1]; len(e.Reception.Words) > 0 {
			t.Errorf("%+v", e)
		}
		mustClose(t, r)
	})
}

// Frames that the device lost or damaged are counted, all of them, and told once a second.
func TestGapsAndDamage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := device(100)
		d.Lost = map[int]int{}
		d.Fail = map[int]error{}
		for i := 1; i < 100; i++ {
			if i%5 == 0 {
				d.Fail[i] = errors.New("the buffer is half full")
			} else if i%2 == 0 {
				d.Lost[i] = 1
			}
		}
		d.Fatal = map[int]error{99: video.ErrGone}
		open, _ := turns(turn{src: d})
		r := mustOpen(t, open, Options{})
		_, events := watch(t, r, Gone)
		told := map[Kind]int{}
		for _, e := range events {
			told[e.Kind]++
		}
		if told[Gap] < 3 || told[Gap] > 5 || told[Damaged] < 3 || told[Damaged] > 5 {
			t.Errorf("told %v in four seconds", told)
		}
		if s := r.Stats(); s.Damaged != 19 || s.Lost != len(d.Lost) || s.Frames != 80 {
			t.Errorf("%+v, lost %d", s, len(d.Lost))
		}
		mustClose(t, r)
	})
}

// After an unplug some drivers give the last picture for ever, with success.
func TestFrozen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := device(150)
		for i := 50; i < 110; i++ {
			d.Frames[i] = d.Frames[50]
		}
		open, _ := turns(turn{src: d})
		r := mustOpen(t, open, Options{})
		_, events := watch(t, r, Moving)
		n := len(events)
		if want := []Kind{Opened, Frozen, Moving}; !slices.Equal(kinds(events), want) {
			t.Fatalf("events %v, want %v", kinds(events), want)
		}
		if e := events[1]; e.after < 50*period || e.after > 50*period+2*time.Second {
			t.Errorf("told %v after the start", e.after)
		}
		if e := events[n-1]; e.For < 59*period || e.For > 61*period {
			t.Errorf("frozen for %v", e.For)
		}
		mustClose(t, r)
	})
}

// A slow taker gets the newest frame, never one of a queue; every event all the same.
func TestLatestWins(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := device(0)
		d.Frames, d.Repeat = lively(250), true
		d.Lost = map[int]int{20: 3}
		open, _ := turns(turn{src: d})
		r := mustOpen(t, open, Options{})
		begin := time.Now()
		time.Sleep(4010 * time.Millisecond) // nobody takes anything for four seconds
		var events []Kind
		for {
			it, err := r.Next(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			if it.Event != nil {
				events = append(events, it.Event.Kind)
				continue
			}
			if age := time.Since(begin) - it.Frame.Time; age > period || it.Frame.Index != 100 {
				t.Errorf("frame %d is %v old", it.Frame.Index, age)
			}
			break
		}
		if !slices.Equal(events, []Kind{Opened, Gap}) {
			t.Errorf("events %v", events)
		}
		if s := r.Stats(); s.Skipped != 100 || s.Lost != 3 {
			t.Errorf("%+v", s)
		}
		mustClose(t, r)
	})
}

// A recording is given whole, in its own times, however slow the taker is, and ends.
func TestRecording(t *testing.T) {
	for _, o := range []Options{{All: true}, {All: true, Pace: true}} {
		synctest.Test(t, func(t *testing.T) {
			p := &videotest.Playback{Frames: lively(30), Meta: video.Info{Kind: video.KindFile}}
			open, _ := turns(turn{src: p})
			begin := time.Now()
			r := mustOpen(t, open, o)
			time.Sleep(10 * time.Second) // longer than any watchdog
			frames, events := watch(t, r, "")
			if want := []Kind{Opened, Ended}; len(frames) != 30 || !slices.Equal(kinds(events), want) || events[1].Err != nil {
				t.Fatalf("%d frames, events %v", len(frames), events)
			}
			for i, f := range frames {
				if f.Index != i || f.Time != time.Duration(i)*period {
					t.Errorf("frame %d: number %d at %v", i, f.Index, f.Time)
				}
			}
			if took := time.Since(begin); !o.Pace && took > 10*time.Second {
				t.Errorf("took %v", took)
			}
			if s := r.Stats(); s.Skipped > 0 {
				t.Errorf("%+v", s)
			}
			mustClose(t, r)
		})
	}
	synctest.Test(t, func(t *testing.T) { // paced, with a taker that keeps up
		p := &videotest.Playback{Frames: lively(51), Meta: video.Info{Kind: video.KindFile}}
		open, _ := turns(turn{src: p})
		begin := time.Now()
		r := mustOpen(t, open, Options{Pace: true})
		frames, _ := watch(t, r, "")
		if took := time.Since(begin); len(frames) != 51 || took < 2*time.Second || took > 2*time.Second+period {
			t.Errorf("%d frames in %v", len(frames), took)
		}
		mustClose(t, r)
	})
}

func TestRecordingBreaksOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &videotest.Playback{Frames: lively(9), Meta: video.Info{Kind: video.KindFile}, Fatal: map[int]error{5: io.ErrUnexpectedEOF}}
		open, opened := turns(turn{src: p})
		r := mustOpen(t, open, Options{All: true})
		frames, events := watch(t, r, "")
		if e := events[len(events)-1]; len(frames) != 5 || e.Kind != Ended || !errors.Is(e.Err, io.ErrUnexpectedEOF) || *opened != 1 {
			t.Errorf("%d frames, %+v", len(frames), e)
		}
		mustClose(t, r)
	})
}

func TestCloseAndContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := device(0)
		d.Frames, d.Repeat = lively(100), true
		open, _ := turns(turn{src: d})
		ctx, cancel := context.WithCancel(context.Background())
		r, err := Open(ctx, open, Options{})
		if err != nil {
			t.Fatal(err)
		}
		cancel() // ends opening alone, not the reading
		for range 5 {
			if _, err := r.Next(context.Background()); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := r.Next(ctx); err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		mustClose(t, r)
		mustClose(t, r)
		for err == nil {
			_, err = r.Next(context.Background())
		}
		if !errors.Is(err, io.EOF) || d.Closed != 1 {
			t.Errorf("after closing: %v; the source was closed %d times", err, d.Closed)
		}
	})
}

// Hours of nobody listening: what waits is bounded.
func TestEventsAreBounded(t *testing.T) {
	s := &Stats{}
	q := newQueue(2, s)
	for i := range 3 * mostEvents {
		q.put(Item{Event: &Event{Frames: i}})
		q.put(Item{Frame: &video.Frame{Index: i}})
	}
	q.close()
	events, frames, last := 0, 0, -1
	for {
		it, err := q.take(context.Background())
		if err != nil {
			break
		}
		if it.Event != nil {
			events++
			if it.Event.Frames <= last {
				t.Fatalf("event %d after %d", it.Event.Frames, last)
			}
			last = it.Event.Frames
		} else {
			frames++
		}
	}
	if events != mostEvents || frames != 2 || last != 3*mostEvents-1 || s.Unheard != 2*mostEvents || s.Skipped != 3*mostEvents-2 {
		t.Errorf("%d events, %d frames, last %d, %+v", events, frames, last, s)
	}
}

// The wall clock is set while frames come, or runs on while the machine and with it Go's own clock stand still: told with
// the next frame, by how much. What clocks drift by is no step.
func TestClockStepped(t *testing.T) {
	for _, tt := range []struct {
		name string
		step time.Duration
		told bool
	}{
		{"slept", 8 * time.Hour, true}, {"set back", -time.Hour, true}, {"corrected", 500 * time.Millisecond, false},
	} {
		synctest.Test(t, func(t *testing.T) {
			open, _ := turns(turn{src: device(100)})
			var wall atomic.Int64 // ns that it is ahead
			r := mustOpen(t, open, Options{wall: func() time.Time { return time.Now().Round(0).Add(time.Duration(wall.Load())) }})
			defer mustClose(t, r)
			if _, events := watch(t, r, Opened); len(events) != 1 {
				t.Fatalf("%v", kinds(events))
			}
			time.Sleep(time.Second)
			wall.Store(int64(tt.step))
			var steps []Event
			for range 60 {
				it, err := r.Next(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				if it.Event != nil && it.Event.Kind == ClockStepped {
					steps = append(steps, *it.Event)
				}
			}
			if got := len(steps) == 1; got != tt.told || len(steps) > 1 {
				t.Fatalf("%s: %+v", tt.name, steps)
			}
			if tt.told && (steps[0].For-tt.step).Abs() > time.Millisecond {
				t.Errorf("%s: by %v, want %v", tt.name, steps[0].For, tt.step)
			}
		})
	}
}
