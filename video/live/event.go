package live

import (
	"fmt"
	"strings"
	"time"

	"backporch/video"
)

// Kind says what an event is.
type Kind string

// The kinds of event.
const (
	Opened          Kind = "opened"           // first frame of the first opening: Info
	Reopened        Kind = "reopened"         // first frame after a loss: Info, For
	Gone            Kind = "gone"             // the source failed: Err
	Stalled         Kind = "stalled"          // no frame for Options.Stall: Err is video.ErrStalled
	Busy            Kind = "busy"             // can't be opened anew yet, another program holds it: Err
	Waiting         Kind = "waiting"          // can't be opened anew yet, told when the reason changes: Err
	Gap             Kind = "gap"              // frames lost by the device's own count: Frames
	Damaged         Kind = "damaged"          // frames that came and could not be read: Frames, Err of the last
	StandardChanged Kind = "standard-changed" // Reception.Seen is another than Reception.Set
	StatusChanged   Kind = "status-changed"   // what the device says of the signal: Reception
	Frozen          Kind = "frozen"           // every frame of the last second was the same: For
	Moving          Kind = "moving"           // no longer frozen: For is how long it was
	ClockStepped    Kind = "clock-stepped"    // the wall clock was set, or the machine slept: For, by how much
	Ended           Kind = "ended"            // the recording is over, or Options.GiveUp has passed: Err, nil at a clean end
)

// An Event is something that happened to the source. What does not belong to its kind is
// zero.
type Event struct {
	Kind      Kind
	At        time.Time     // wall clock
	Time      time.Duration // on the frames' time line
	Text      string        // one line that can be shown as it stands
	Err       error
	Frames    int
	For       time.Duration
	Info      video.Info
	Reception video.Reception
}

// Down says whether no picture comes from this event on, until Reopened.
func (e *Event) Down() bool {
	switch e.Kind {
	case Gone, Stalled, Busy, Waiting, StandardChanged:
		return true
	}
	return false
}

// An Item is a frame or an event; the other is nil. A frame's planes are shared: they are
// not to be written.
type Item struct {
	Frame *video.Frame
	Event *Event
}

// Stats counts what has happened since the reader was opened.
type Stats struct {
	Frames    int           // that came and could be read
	Skipped   int           // of these, left out for a slow taker
	Lost      int           // by the device's own count
	Damaged   int           // came and could not be read
	Reopened  int           // times
	Down      time.Duration // without a picture, from the last frame before a loss to the first after it
	Abandoned int           // readers given up that the driver has not let go yet
	Unheard   int           // events left out since thousands waited
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// seconds prints a duration as people say it.
func seconds(d time.Duration) string {
	return fmt.Sprintf("%.1f s", d.Seconds())
}

// says puts a device's words into a sentence.
func says(words []string) string {
	if len(words) == 0 {
		return "the device no longer finds fault with the signal"
	}
	return "the device says: " + strings.Join(words, ", ")
}
