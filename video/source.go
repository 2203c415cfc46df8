package video

import (
	"context"
	"errors"
)

// Kind names what a source is, as in the JSON.
type Kind string

// The kinds of source.
const (
	KindDevice   Kind = "device"
	KindFile     Kind = "file"
	KindStill    Kind = "still"
	KindFolder   Kind = "folder"
	KindWaveform Kind = "waveform"
)

// Info is what is known of a source once it is open.
type Info struct {
	Spec          string // the word that named it
	Kind          Kind
	Width, Height int     // of a frame, luma samples
	Rate          float64 // frames a second, 0 when unknown
	Frames        int     // in all, 0 when unknown
	Order         FieldOrder
	Standard      Standard
	Codec         string   // four letters, "" when there is none
	Block         int      // size of the codec's block grid in luma samples, 0 without one (8 for MJPEG)
	RGB           bool     // the frames came by way of RGB: colours outside its gamut were clipped
	Device        string   // a device's lasting name where the system has one, else its card's
	DeviceStatus  []string // what the device itself says of the signal, in words
	Detected      Standard // what the device detects at its input; unknown where it does not say
	Notes         []string // what the reader should know, a line each
}

// A Source gives frames in order. Next returns io.EOF at a clean end, an error
// of type *BadFrame for a frame that could not be read and may be skipped, any other
// error when nothing more can come. A Source is used by one goroutine at a time.
type Source interface {
	Info() Info
	Next(ctx context.Context) (*Frame, error)
	Close() error
}

// A BadFrame is a frame that was there but could not be read; reading may go on.
type BadFrame struct {
	Index int
	Err   error
}

func (e *BadFrame) Error() string { return e.Err.Error() }
func (e *BadFrame) Unwrap() error { return e.Err }

// What a source that has failed is known to suffer from; errors of Next, and of opening,
// wrap one of them where it is known.
var (
	ErrStalled = errors.New("the device has stalled")
	ErrGone    = errors.New("the device is gone: was it unplugged?")
	ErrBusy    = errors.New("another program holds the device")
)

// Reception is what a device itself says of the signal at its input. Many devices say
// nothing, whatever reaches them: no word is no proof of a good signal.
type Reception struct {
	Words []string // "no signal", "no horizontal lock" ...
	Set   Standard // the standard that the device decodes
	Seen  Standard // the standard that it detects at its input; unknown where it doesn't say
}

// A Receiver is a Source that can be asked for its device's reception while it runs,
// from any goroutine; the answer is the newest known and comes at once.
type Receiver interface {
	Reception() Reception
}
