package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"backporch/video"
)

// An Opener opens the source, at first and after each loss. It should heed ctx; where it
// does not it is given up after Options.First and what it opens in the end is closed.
type Opener func(ctx context.Context) (video.Source, error)

// Options are Open's; zero is the recommended run for a device.
type Options struct {
	Stall    time.Duration // without a frame for so long the source has stalled; 0: 1.5 s
	First    time.Duration // for opening and the first frame; 0: 6 s, since some drivers are slow at that
	Pause    time.Duration // before opening anew, doubled each time; 0: 0.2 s
	MaxPause time.Duration // and never more than this; 0: 2 s
	Queue    int           // frames kept for a slow taker; 0: 1, so that the latest wins
	All      bool          // wait for the taker, leave no frame out: for recordings
	Pace     bool          // give a recording's frames at their own times
	Await    bool          // the source may come later: Open does not fail
	GiveUp   time.Duration // end after so long without a picture; 0: never

	wall func() time.Time // the wall clock, for tests; nil: the system's
}

const (
	ask       = 250 * time.Millisecond  // between questions to the device about its reception
	atMost    = time.Second             // between two events of Gap, and of Damaged
	frozenFor = time.Second             // of equal frames
	stepped   = 2 * time.Second         // the wall clock against our own
	grace     = 2500 * time.Millisecond // for a reader to end that was told to
)

func (o Options) filled() Options {
	set := func(d *time.Duration, to time.Duration) {
		if *d <= 0 {
			*d = to
		}
	}
	set(&o.Stall, 1500*time.Millisecond)
	set(&o.First, 6*time.Second)
	set(&o.Pause, 200*time.Millisecond)
	set(&o.MaxPause, 2*time.Second)
	o.Queue = max(o.Queue, 1)
	return o
}

// ErrAbandoned is Close's when a driver still holds a goroutine that was told to end.
var ErrAbandoned = errors.New("the driver still holds a reader that was told to end; unplugging the device frees it")

// A Reader reads a source until it is closed. Its methods may be called from several
// goroutines.
type Reader struct {
	o      Options
	open   Opener
	queue  *queue
	stats  Stats // under queue.mu
	cancel context.CancelFunc
	done   chan struct{}  // closed when run has ended
	feeds  sync.WaitGroup // goroutines that read a source
	first  chan error     // the outcome of the first opening

	mu        sync.Mutex
	info      video.Info
	reception video.Reception

	// What follows belongs to run.
	start    time.Time // of the time line
	next     int       // number of the next frame
	at       time.Duration
	lastSeen time.Time // when the last frame came; zero before the first
	lost     time.Time // since when it can't be read; zero while it can
	reason   string    // why it can't be opened, as last told
	followed video.Standard
	gaps     tally
	damaged  tally
	still    stillness
	clock    time.Time // of the last frame, by Go's own clock
	wall     time.Time // and by the wall's
}

// Open opens a source and starts to read it. Its error is the opener's, or that the first
// frame did not come.
func Open(ctx context.Context, open Opener, o Options) (*Reader, error) {
	r := &Reader{o: o.filled(), open: open, done: make(chan struct{}), first: make(chan error, 1), start: time.Now()}
	r.queue = newQueue(r.o.Queue, &r.stats)
	own, cancel := context.WithCancel(context.WithoutCancel(ctx))
	r.cancel = cancel
	go r.run(own)
	if o.Await {
		return r, nil
	}
	select {
	case err := <-r.first:
		if err == nil {
			return r, nil
		}
		return nil, errors.Join(err, r.Close())
	case <-ctx.Done():
		return nil, errors.Join(ctx.Err(), r.Close())
	}
}

// Next waits for what comes next: a frame, or an event. io.EOF follows the event Ended,
// and Close.
func (r *Reader) Next(ctx context.Context) (Item, error) { return r.queue.take(ctx) }

// Info is what is known of the source as it was last opened.
func (r *Reader) Info() video.Info {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.info
}

// Reception is what the device last said of its signal.
func (r *Reader) Reception() video.Reception {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.reception
}

// Stats counts what has happened.
func (r *Reader) Stats() Stats {
	r.queue.mu.Lock()
	defer r.queue.mu.Unlock()
	return r.stats
}

// Close ends reading and returns when its goroutines have gone. One that a driver holds is
// waited for as long as a driver may take; then ErrAbandoned says so.
func (r *Reader) Close() error {
	r.cancel()
	<-r.done
	ended := make(chan struct{})
	go func() { r.feeds.Wait(); close(ended) }()
	select {
	case <-ended:
		return nil
	case <-time.After(grace):
		return ErrAbandoned
	}
}

// A reading is one answer of the source.
type reading struct {
	src   video.Source // just opened
	frame *video.Frame
	err   error
}

// A feed is one opening of the source and the goroutine that reads it.
type feed struct {
	ctx    context.Context
	cancel context.CancelFunc
	out    chan reading
	gone   chan struct{} // closed when the goroutine has ended and the source is closed
}

func (r *Reader) feed(ctx context.Context) *feed {
	f := &feed{out: make(chan reading), gone: make(chan struct{})}
	f.ctx, f.cancel = context.WithCancel(ctx)
	r.feeds.Add(1)
	go func() {
		defer r.feeds.Done()
		defer close(f.gone)
		f.read(r.open)
	}()
	return f
}

func (f *feed) read(open Opener) {
	send := func(m reading) bool {
		select {
		case f.out <- m:
			return true
		case <-f.ctx.Done():
			return false
		}
	}
	src, err := open(f.ctx)
	if err != nil {
		send(reading{err: err})
		return
	}
	defer src.Close()
	if !send(reading{src: src}) {
		return
	}
	for {
		frame, err := src.Next(f.ctx)
		if !send(reading{frame: frame, err: err}) {
			return
		}
		var bad *video.BadFrame
		if err != nil && !errors.As(err, &bad) {
			return
		}
	}
}

// end tells the feed to end and waits until it has; false when the driver holds it.
func (f *feed) end() bool {
	f.cancel()
	limit := time.NewTimer(grace)
	defer limit.Stop()
	select {
	case <-f.gone:
		return true
	case <-limit.C:
		return false
	}
}

// run opens the source again and again.
func (r *Reader) run(ctx context.Context) {
	defer close(r.done)
	defer r.queue.close()
	pause := r.o.Pause
	for {
		f := r.feed(ctx)
		opened, err := r.session(ctx, f)
		if !f.end() {
			r.count(func(s *Stats) { s.Abandoned++ })
			go func() { // counted until it is let go
				<-f.gone
				r.count(func(s *Stats) { s.Abandoned-- })
			}()
		}
		if ctx.Err() != nil {
			return
		}
		if !r.o.Await && r.lastSeen.IsZero() {
			r.first <- err
			return
		}
		var over *ended
		if errors.As(err, &over) {
			e := Event{Kind: Ended, Text: "the recording has ended"}
			if !errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				e.Err, e.Text = over.error, fmt.Sprintf("the recording breaks off: %v", err)
			}
			r.tell(e)
			return
		}
		if r.lost.IsZero() {
			r.lost = time.Now()
		}
		if r.o.GiveUp > 0 && time.Since(r.lost) >= r.o.GiveUp {
			r.tell(Event{Kind: Ended, Err: err, Text: fmt.Sprintf("given up after %s without a picture: %v", seconds(time.Since(r.lost)), err)})
			return
		}
		if opened {
			pause = r.o.Pause
		}
		if !sleep(ctx, pause) {
			return
		}
		pause = min(2*pause, r.o.MaxPause)
	}
}

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

func (r *Reader) count(f func(*Stats)) {
	r.queue.mu.Lock()
	defer r.queue.mu.Unlock()
	f(&r.stats)
}

// tell puts an event in line.
func (r *Reader) tell(e Event) {
	e.At = time.Now()
	e.Time = r.now()
	r.queue.put(Item{Event: &e})
}

// now is the present on the frames' time line.
func (r *Reader) now() time.Duration {
	if r.lastSeen.IsZero() {
		return 0
	}
	if r.o.All || r.o.Pace {
		return r.at
	}
	return r.at + time.Since(r.lastSeen)
}
