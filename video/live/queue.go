package live

import (
	"context"
	"io"
	"sync"
)

// mostEvents wait for a taker; then the oldest goes.
const mostEvents = 4096

// A queue holds the items that nobody has taken yet, in order.
type queue struct {
	mu     sync.Mutex
	items  []Item
	frames int           // of items
	keep   int           // frames at most
	ready  chan struct{} // has a value when there may be something to take
	taken  chan struct{} // has a value when a frame has been taken
	closed bool
	stats  *Stats // under mu
}

func newQueue(keep int, s *Stats) *queue {
	return &queue{keep: keep, ready: make(chan struct{}, 1), taken: make(chan struct{}, 1), stats: s}
}

// put adds an item; the oldest frame goes where there are too many.
func (q *queue) put(it Item) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return
	}
	events := len(q.items) - q.frames
	switch {
	case it.Frame != nil && q.frames >= q.keep:
		q.drop(func(i Item) bool { return i.Frame != nil })
		q.frames--
		q.stats.Skipped++
	case it.Event != nil && events >= mostEvents:
		q.drop(func(i Item) bool { return i.Event != nil })
		q.stats.Unheard++
	}
	q.items = append(q.items, it)
	if it.Frame != nil {
		q.frames++
	}
	signal(q.ready)
}

// drop takes out the first item of a sort.
func (q *queue) drop(sort func(Item) bool) {
	for i, it := range q.items {
		if sort(it) {
			q.items = append(q.items[:i], q.items[i+1:]...)
			return
		}
	}
}

// room waits until there is room for a frame.
func (q *queue) room(ctx context.Context) error {
	for {
		q.mu.Lock()
		full := q.frames >= q.keep && !q.closed
		q.mu.Unlock()
		if !full {
			return ctx.Err()
		}
		select {
		case <-q.taken:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// take waits for an item; io.EOF when none will come.
func (q *queue) take(ctx context.Context) (Item, error) {
	for {
		q.mu.Lock()
		if len(q.items) > 0 {
			it := q.items[0]
			q.items[0] = Item{} // let go of the frame
			q.items = q.items[1:]
			if it.Frame != nil {
				q.frames--
				signal(q.taken)
			}
			if len(q.items) > 0 || q.closed {
				signal(q.ready) // for whoever else waits
			}
			q.mu.Unlock()
			return it, nil
		}
		closed := q.closed
		if closed {
			signal(q.ready)
		}
		q.mu.Unlock()
		if closed {
			return Item{}, io.EOF
		}
		select {
		case <-q.ready:
		case <-ctx.Done():
			return Item{}, ctx.Err()
		}
	}
}

// close lets nothing more in; what is there can still be taken.
func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	q.mu.Unlock()
	signal(q.ready)
}

func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}
