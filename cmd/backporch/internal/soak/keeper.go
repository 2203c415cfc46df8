package soak

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"backporch/analyse/drift"
	"backporch/video"
	"backporch/video/still"
)

// keepAfter is how many fields into an event its stills are kept, so that one that lasts for
// hours is not lost with the process: half a second.
const keepAfter = 25

// An episode is an event while it goes on, with its frames.
type episode struct {
	number        int
	startS        float64 // seconds of soak
	at            time.Time
	before, worst *video.Frame
	worstField    int
	now           drift.Episode
	excess        int
	age           int
	kept          bool // stills were asked for
	refused       string
}

// see follows the tracker's account; frame is the one that holds the field.
func (e *episode) see(now *drift.Episode, frame *video.Frame, worst bool) {
	if now == nil {
		return
	}
	e.now = *now
	if worst {
		e.worst = frame
	}
}

func (e *episode) event(seconds float64) *Event {
	out := describe(e.number, e.startS, e.now)
	out.Length = seconds - e.startS
	return out
}

// A keeper writes stills behind the fields' back, so that none is missed meanwhile. Its queue is
// short: what does not fit is not kept, and that is said.
type keeper struct {
	o      Options
	log    *os.File
	jobs   chan keeping
	done   sync.WaitGroup
	events int   // numbered so far
	bytes  int64 // of stills, asked for or kept

	minute time.Time // when the minute of the bound began
	asked  int       // events kept in it

	mu    sync.Mutex
	kept  []Still
	err   error
	toLog []Still
}

// keeping is a still to write, or nothing: then the log is synced.
type keeping struct {
	still Still
	frame *video.Frame
	text  still.Text
}

const keeperQueue = 16

func newKeeper(o Options, log *os.File) *keeper {
	k := &keeper{o: o, log: log, jobs: make(chan keeping, keeperQueue)}
	k.done.Go(k.run)
	return k
}

func (k *keeper) run() {
	for job := range k.jobs {
		if job.frame == nil {
			_ = k.log.Sync() // for a loss of power; a killed process loses nothing that was written
			continue
		}
		path, sha, err := still.SaveNext(k.o.Dir, job.still.File, job.frame, job.text)
		if err == nil {
			job.still.File = filepath.Base(path)
			job.still.SHA256 = sha
			var info os.FileInfo
			if info, err = os.Stat(path); err == nil {
				job.still.Bytes = info.Size()
			}
		}
		k.mu.Lock()
		if err != nil && k.err == nil {
			k.err = fmt.Errorf("keeping the stills of event %d: %w", job.still.Event, err)
		}
		if err == nil {
			k.toLog = append(k.toLog, job.still)
		}
		k.mu.Unlock()
	}
}

func (k *keeper) sync() {
	select {
	case k.jobs <- keeping{}:
	default:
	}
}

func (k *keeper) failed() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.err
}

// written are the stills that were finished since it was last asked.
func (k *keeper) written() []Still {
	k.mu.Lock()
	defer k.mu.Unlock()
	out := k.toLog
	k.toLog = nil
	return out
}

// close waits for what is being written.
func (k *keeper) close(j *journal) error {
	close(k.jobs)
	k.done.Wait()
	for _, st := range k.written() {
		if err := j.add(Record{Type: typeStill, At: k.o.Now(), Still: &st}); err != nil {
			return err
		}
	}
	return k.failed()
}

// room says whether another event may keep its stills, and why not.
func (k *keeper) room(at time.Time) string {
	if d := at.Sub(k.minute); d >= time.Minute || d < 0 {
		k.minute, k.asked = at, 0
	}
	switch {
	case k.asked >= k.o.PerMinute:
		return fmt.Sprintf("more than %d events a minute", k.o.PerMinute)
	case k.bytes >= k.o.Most:
		return fmt.Sprintf("the stills have reached %d MB", k.o.Most>>20)
	}
	k.asked++
	return ""
}

// keep asks for the stills of an event: before it, and at its worst so far.
func (k *keeper) keep(e *episode, order video.FieldOrder) {
	if e.kept {
		return
	}
	e.kept = true
	if e.refused != "" {
		return
	}
	k.write(e, "before", e.before, order)
	k.write(e, "at", e.worst, order)
}

func (k *keeper) write(e *episode, role string, f *video.Frame, order video.FieldOrder) {
	if f == nil {
		return
	}
	job := keeping{
		still: Still{Event: e.number, Role: role, File: fmt.Sprintf("event-%04d-%s", e.number, role)},
		frame: f,
		text: still.Text{
			Source: k.o.Source, Time: f.Time, Frame: f.Index, Field: -1, Order: order, Tool: k.o.Tool,
			Note: fmt.Sprintf("soak, event %d, %s: %s", e.number, role, describe(e.number, e.startS, e.now).Text),
		},
	}
	select {
	case k.jobs <- job:
		k.bytes += int64(len(f.Y) + len(f.Cb) + len(f.Cr)) // at most; PNG is smaller
	default:
		e.refused = "the disk is too slow for so many"
	}
}
