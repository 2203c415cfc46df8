//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package capture

import (
	"errors"
	"fmt"
	"math"
	"time"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/capture/v4l2"
	"backporch/video/picture"
)

const (
	poll     = 100 * time.Millisecond // between looks whether the device is being closed
	askEvery = 250 * time.Millisecond // between questions about the signal
)

// run reads a device from its driver; through OpenCV where its frames can't be taken apart
// here.
func (d *Device) run(word, path string, o DeviceOptions, opened chan<- error) {
	i := &d.info
	i.Spec, i.Kind = word, video.KindDevice
	c := v4l2.Config{Input: o.Input, Standard: o.Standard, Format: o.Format}
	s, err := v4l2.Open(path, c)
	if errors.Is(err, v4l2.ErrFormat) {
		own, lines, notes, err := v4l2.Set(path, c)
		if err != nil {
			opened <- err
			return
		}
		d.hear(video.Reception{Words: own.Input().Status, Set: own.Standard.Scan(), Seen: own.Seen.Scan()})
		i.Device, i.Notes = lasting(own), notes
		d.runOpenCV(opencvDevice{name: path, api: gocv.VideoCaptureV4L2, standard: lines, known: lines != video.UnknownStandard, format: o.Format}, opened)
		return
	}
	if err != nil {
		opened <- err
		return
	}
	defer s.Close()
	i.Device = lasting(s.Device)
	d.hear(s.Reception())
	i.Notes = s.Mode.Notes
	r := &reader{d: d, s: s, opened: opened}
	r.run()
}

// hear keeps what the device says of its signal.
func (d *Device) hear(r video.Reception) { d.reception.Store(&r) }

func lasting(d *v4l2.Device) string {
	if d.ByID != "" {
		return d.ByID
	}
	return d.Card
}

// A reader takes frames from a driver.
type reader struct {
	d      *Device
	s      *v4l2.Stream
	opened chan<- error // nil when it has its value
	index  int          // of the next frame
	lost   int          // frames since the last good one
	count  uint32       // the driver's, of the last frame
	clock  stamps
}

func (r *reader) run() {
	asked := time.Now()
	for !r.d.stopped() {
		b, err := r.s.Wait(poll)
		switch {
		case err == nil:
			if !r.take(b) {
				return
			}
		case errors.Is(err, v4l2.ErrSource):
			asked = time.Time{}
		case !errors.Is(err, v4l2.ErrNothing):
			r.fail(err)
			return
		}
		if time.Since(asked) >= askEvery {
			r.d.hear(r.s.Reception())
			asked = time.Now()
		}
	}
	r.fail(errors.New("closed"))
}

// fail ends it all.
func (r *reader) fail(err error) {
	if r.opened != nil {
		r.opened <- err
		return
	}
	r.d.send(reading{err: err})
}

// take hands a frame on and its buffer back; false when that was the last.
func (r *reader) take(b v4l2.Buffer) bool {
	index := r.index
	at, missing := r.clock.next(b, index > 0, r.count, r.d.info.Rate, time.Now())
	r.count = b.Sequence
	r.lost += missing
	m, err := r.unpack(b)
	if giving := r.s.Release(b); giving != nil {
		r.fail(giving)
		return false
	}
	if err == nil && r.opened != nil {
		if err = r.first(m); err == nil {
			r.opened <- nil
			r.opened = nil
		}
	}
	if r.opened != nil { // some devices begin with a damaged frame or two
		return true
	}
	r.index++
	if err != nil {
		return r.d.send(reading{err: r.d.bad(index, err)})
	}
	m.frame.Index, m.frame.Time, m.frame.Lost = index, at, r.lost
	r.lost = 0
	return r.d.send(m)
}

// unpack takes a frame out of the driver's memory.
func (r *reader) unpack(b v4l2.Buffer) (reading, error) {
	m := r.s.Mode
	if b.Damaged {
		return reading{}, errors.New("the driver calls it damaged")
	}
	if m.Code == "MJPG" || m.Code == "JPEG" {
		if !picture.IsJPEG(b.Data) {
			return reading{}, fmt.Errorf("its %d bytes are no JPEG", len(b.Data))
		}
		return reading{frame: &video.Frame{}, packet: append([]byte(nil), b.Data...)}, nil
	}
	data, layout, err := packed(b.Data, m)
	if err != nil {
		return reading{}, err
	}
	f, err := picture.FromPacked(data, layout, m.Width, m.Height)
	if err != nil {
		return reading{}, err
	}
	if m.Stacked() {
		weave(f)
	}
	return reading{frame: f}, nil
}

// first describes the device by its first frame, whatever was asked for and promised.
func (r *reader) first(m reading) error {
	i, mode := &r.d.info, r.s.Mode
	f := m.frame
	if m.packet != nil {
		var err error
		if f, _, err = picture.DecodeJPEG(m.packet, mode.Height); err != nil {
			return err
		}
		i.Block = 8
		i.Notes = append(i.Notes, jpegNote)
	}
	i.Width, i.Height, i.Codec = f.Width, f.Height, mode.Code
	order, stated := mode.Order()
	rates(i, r.s.Lines, mode.Rate, order, stated)
	now := r.d.Reception()
	i.DeviceStatus, i.Detected = now.Words, now.Seen
	return nil
}

// stamps is a stream's time line, by the driver's stamps while they go along with our clock,
// and its count.
type stamps struct {
	begin  time.Time     // when the first frame came
	base   time.Duration // its stamp
	last   time.Duration // of the frame before
	counts int           // by how much the driver's count has gone on
}

const (
	astray  = 2 * time.Second // stamps that differ by more from our own clock are not believed
	learned = time.Second / 5 // after which it is known what the driver counts
)

// next places a frame in time and tells how many are missing before it by the driver's
// count. Some drivers count fields, two to a frame, and some don't count: the rate tells.
func (c *stamps) next(b v4l2.Buffer, follows bool, before uint32, rate float64, now time.Time) (at time.Duration, missing int) {
	if !follows {
		*c = stamps{begin: now, base: b.Stamp}
		return 0, 0
	}
	own := now.Sub(c.begin)
	at = own
	if t := b.Stamp - c.base; b.Stamped && t > c.last && t-own < astray && own-t < astray {
		at = t
	}
	at = max(at, c.last+time.Microsecond)
	step := int(int32(b.Sequence - before)) // the count wraps
	room := int(math.Round((at - c.last).Seconds() * rate))
	c.last = at
	if step <= 0 || rate <= 0 {
		return at, 0
	}
	c.counts += step
	if at < learned {
		return at, max(0, min(step, room)-1)
	}
	unit := max(1, int(math.Round(float64(c.counts)/(at.Seconds()*rate))))
	return at, max(0, (step+unit-1)/unit-1)
}
