//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package capture

import (
	"context"
	"errors"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backporch/video"
	"backporch/video/capture/v4l2"
	"backporch/video/capture/v4l2/v4l2test"
	"backporch/video/live"
)

// What a live reader makes of real drivers, with a kernel's virtual ones. Detection within two
// seconds is proved in package live, in a time of its own; here a driver's machine may be
// emulated and slow, so that only twice as long is asked, and what it took is logged.
const inTime = 4 * time.Second

// reset puts the virtual driver back as it begins.
func reset(t *testing.T, path string) {
	t.Helper()
	put := func() {
		control(t, path, "-i", "0", "-s", "pal", "-c", "standard_signal_mode=0,percentage_of_dropped_buffers=0,wrap_sequence_number=0,reduced_framerate=0,test_pattern=0,osd_text_mode=0")
	}
	put()
	t.Cleanup(put)
}

func watchDevice(t *testing.T, path string, o DeviceOptions) *live.Reader {
	t.Helper()
	before := runtime.NumGoroutine()
	r, err := live.Open(context.Background(), func(ctx context.Context) (video.Source, error) {
		d, err := OpenDevice(ctx, path, o)
		if err != nil {
			return nil, err
		}
		return d, nil
	}, live.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		begin := time.Now()
		if err := r.Close(); err != nil {
			t.Errorf("closing: %v", err)
		}
		if took := time.Since(begin); took > inTime {
			t.Errorf("closing took %v", took)
		}
		for limit := time.Now().Add(2 * time.Second); runtime.NumGoroutine() > before && time.Now().Before(limit); time.Sleep(10 * time.Millisecond) {
		}
		if n := runtime.NumGoroutine(); n > before {
			t.Errorf("%d goroutines, %d before", n, before)
		}
	})
	return r
}

// next waits for an event of a kind.
func next(t *testing.T, r *live.Reader, kind live.Kind) *live.Event {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	for {
		it, err := r.Next(ctx)
		if err != nil {
			t.Fatalf("waiting for %s: %v", kind, err)
		}
		if it.Event == nil {
			continue
		}
		t.Logf("%s: %s", it.Event.Kind, it.Event.Text)
		if it.Event.Kind == kind {
			return it.Event
		}
	}
}

// frames takes so many, and fails where an event comes in between that is not among ok, or
// that frames were lost, as on a slow machine they are.
func frames(t *testing.T, r *live.Reader, n int, ok ...live.Kind) []*video.Frame {
	t.Helper()
	var out []*video.Frame
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	for len(out) < n {
		it, err := r.Next(ctx)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case it.Frame != nil:
			out = append(out, it.Frame)
		case it.Event.Kind != live.Gap && !slices.Contains(ok, it.Event.Kind):
			t.Errorf("%s: %s", it.Event.Kind, it.Event.Text)
		}
	}
	return out
}

func within(t *testing.T, what string, begin time.Time) {
	t.Helper()
	took := time.Since(begin)
	t.Logf("%s told after %.2f s", what, took.Seconds())
	if took > inTime {
		t.Errorf("%s told after %v", what, took)
	}
}

func TestLiveDeviceGoneAndBack(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	before := frames(t, r, 5)
	begin := time.Now()
	control(t, path, "-c", "disconnect=1")
	if e := next(t, r, live.Gone); !errors.Is(e.Err, video.ErrGone) {
		t.Errorf("%v", e.Err)
	}
	within(t, "the unplug", begin)
	next(t, r, live.Reopened)
	after := frames(t, r, 3)
	if after[0].Index <= before[4].Index || after[0].Time <= before[4].Time {
		t.Errorf("frame %d at %v after %d at %v", after[0].Index, after[0].Time, before[4].Index, before[4].Time)
	}
}

func TestLiveSignalLostAndBack(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	r := watchDevice(t, path, DeviceOptions{})
	if e := next(t, r, live.Opened); len(e.Reception.Words) > 0 || e.Reception.Set != video.Std625 || e.Reception.Seen != video.Std625 {
		t.Errorf("%+v", e.Reception)
	}
	for mode, want := range map[string]string{"1": "no signal", "2": "no horizontal lock"} {
		begin := time.Now()
		control(t, path, "-c", "standard_signal_mode="+mode)
		if e := next(t, r, live.StatusChanged); !slices.Equal(e.Reception.Words, []string{want}) || !strings.Contains(e.Text, want) {
			t.Errorf("%+v", e)
		}
		within(t, want, begin)
		begin = time.Now()
		control(t, path, "-c", "standard_signal_mode=0")
		if e := next(t, r, live.StatusChanged); len(e.Reception.Words) > 0 {
			t.Errorf("%+v", e)
		}
		within(t, "the signal's return", begin)
	}
	if s := r.Stats(); s.Reopened > 0 {
		t.Errorf("%+v", s)
	}
}

// Another machine is plugged in, of the other standard.
func TestLiveStandardChanged(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	begin := time.Now()
	control(t, path, "-c", "standard=0,standard_signal_mode=4") // NTSC-M, while PAL is set
	if e := next(t, r, live.StandardChanged); e.Reception.Seen != video.Std525 || e.Reception.Set != video.Std625 {
		t.Errorf("%+v", e.Reception)
	}
	within(t, "the standard", begin)
	if e := next(t, r, live.Reopened); e.Info.Standard != video.Std525 || e.Info.Height != 480 {
		t.Errorf("%+v", e.Info)
	}
	if f := frames(t, r, 3)[2]; f.Height != 480 {
		t.Errorf("a frame of %d lines", f.Height)
	}
	if s := r.Stats(); s.Reopened != 1 {
		t.Errorf("%+v", s)
	}
}

func TestStandardAskedFor(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	for _, c := range []struct {
		o      DeviceOptions
		want   video.Standard
		height int
		note   string
	}{
		{DeviceOptions{Standard: "pal"}, video.Std625, 576, ""},
		{DeviceOptions{Standard: "ntsc", Input: "1"}, video.Std525, 480, "detects"},
		{DeviceOptions{Standard: "pal", Input: "s-video 0", Format: "uyvy"}, video.Std625, 576, ""},
	} {
		d, err := OpenDevice(context.Background(), path, c.o)
		if err != nil {
			t.Fatal(err)
		}
		i := d.Info()
		notes := strings.Join(i.Notes, "; ")
		if i.Standard != c.want || i.Height != c.height || i.Width != 720 || i.Rate != c.want.Scan().FieldHz/2 {
			t.Errorf("%+v: %+v", c.o, i)
		}
		if c.o.Format != "" && i.Codec != "UYVY" {
			t.Errorf("%+v: format %s", c.o, i.Codec)
		}
		t.Logf("%+v: %q", c.o, notes)
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		if own, err := v4l2.Query(path); err != nil || own.Standard.Scan() != c.want {
			t.Errorf("%+v: the driver decodes %v, %v", c.o, own.Standard, err)
		}
	}
	// An input without standards: the one asked for still says what the frames are.
	d, err := OpenDevice(context.Background(), path, DeviceOptions{Input: "Webcam 0", Standard: "pal"})
	if err != nil {
		t.Fatal(err)
	}
	if i := d.Info(); i.Standard != video.Std625 || i.Rate != 25 || len(i.Notes) == 0 {
		t.Errorf("%+v", i)
	}
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	for _, o := range []DeviceOptions{{Input: "9"}, {Standard: "none"}, {Format: "ABCD"}} {
		d, err := OpenDevice(context.Background(), path, o)
		if err == nil {
			_ = d.Close()
			t.Errorf("%+v: opened", o)
		} else if strings.Contains(err.Error(), "\n") {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

// Every format that is taken apart here gives the same picture as the device's 4:2:2 does.
func TestFormats(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	control(t, path, "-c", "osd_text_mode=2") // no counter in the picture
	var want *video.Frame
	for _, format := range []string{"YUYV", "UYVY", "YVYU", "VYUY", "422P", "NV12", "YU12", "YV12"} {
		d, err := OpenDevice(context.Background(), path, DeviceOptions{Format: format})
		if err != nil {
			t.Fatal(err)
		}
		f, err := d.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		if want == nil {
			want = f
			continue
		}
		// The middle of a bar, away from edges, where subsampling changes nothing.
		for _, x := range []int{45, 135, 225, 315, 405, 495, 585, 675} {
			at := func(g *video.Frame) [3]uint8 {
				c := g.ChromaHeight/2*g.ChromaWidth + x/2
				return [3]uint8{g.Y[g.Height/2*g.Width+x], g.Cb[c], g.Cr[c]}
			}
			if at(f) != at(want) {
				t.Errorf("%s, sample %d: %v, want %v", format, x, at(f), at(want))
			}
		}
		if f.Width != 720 || f.Height != 576 || d.Info().Codec != format {
			t.Errorf("%s: %d x %d, %+v", format, f.Width, f.Height, d.Info())
		}
	}
}

// Drivers count what they lose; the count may wrap.
func TestLostFramesAreCounted(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	control(t, path, "-c", "percentage_of_dropped_buffers=40,wrap_sequence_number=1")
	r := watchDevice(t, path, DeviceOptions{})
	all := frames(t, r, 40, live.Opened)
	lost := 0
	for _, f := range all {
		lost += f.Lost
	}
	took := (all[len(all)-1].Time - all[0].Time).Seconds()
	t.Logf("%d frames, %d lost by the count, %.2f s", len(all), lost, took)
	// Frames that came, were lost, or that we left out fill the time, but for the last.
	came := all[len(all)-1].Index - all[0].Index
	if expected := int(took*25 + 0.5); lost < 5 || came+lost < expected-5 || came+lost > expected+3 {
		t.Errorf("%d frames and %d lost in %.2f s at 25 a second", came, lost, took)
	}
}

func TestDamagedBuffer(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	frames(t, r, 3)
	control(t, path, "-c", "inject_v4l2_buf_flag_error=1")
	if e := next(t, r, live.Damaged); e.Frames != 1 || !strings.Contains(e.Text, "damaged") {
		t.Errorf("%+v", e)
	}
	frames(t, r, 3) // and goes on
}

func TestStreamBroken(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	begin := time.Now()
	control(t, path, "-c", "inject_fatal_streaming_error=1")
	next(t, r, live.Gone)
	within(t, "the broken stream", begin)
	next(t, r, live.Reopened)
	frames(t, r, 3)
}

func TestDeviceBusy(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	first, err := OpenDevice(context.Background(), path, DeviceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	begin := time.Now()
	second, err := OpenDevice(context.Background(), path, DeviceOptions{})
	if err == nil {
		_ = second.Close()
		t.Fatal("opened twice")
	}
	within(t, "that it is busy", begin)
	if !errors.Is(err, video.ErrBusy) || !strings.Contains(err.Error(), "another program") || strings.Contains(err.Error(), "\n") {
		t.Errorf("%q", err)
	}
	if _, err := v4l2.Query(path); err != nil {
		t.Errorf("asking a device that is in use: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Error(err)
	}
	if second, err = OpenDevice(context.Background(), path, DeviceOptions{}); err != nil {
		t.Errorf("after it was let go: %v", err)
	} else if err := second.Close(); err != nil {
		t.Error(err)
	}
}

// moving makes frames that tell their number in their first sample.
func moving(n int) []byte {
	p := make([]byte, 720*576*2)
	for i := range p {
		p[i] = byte(16 + (i/2+n)%200)
	}
	p[0] = byte(n)
	return p
}

// feed feeds the loopback device until the test ends; a nil frame is left out.
func feed(t *testing.T, path string, frame func(n int) []byte) {
	t.Helper()
	f, err := v4l2test.Feed(path, 720, 576, frame)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := f.Stop(); err != nil {
			t.Error(err)
		}
	})
	for limit := time.Now().Add(20 * time.Second); time.Now().Before(limit); time.Sleep(50 * time.Millisecond) {
		if _, err := v4l2.Query(path); err == nil {
			return
		}
	}
	t.Fatal("the fed device does not become one that captures")
}

// A driver that gives no more frames: the feeder stops, then starts again.
func TestLiveStalledAndBack(t *testing.T) {
	path := driver(t, "CAPTURE_VM_LOOPBACK")
	ready := [][]byte{moving(0), moving(1), moving(2), moving(3)}
	var stopped atomic.Bool
	feed(t, path, func(n int) []byte {
		if stopped.Load() {
			return nil
		}
		return ready[n%4]
	})
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	frames(t, r, 10)
	begin := time.Now()
	stopped.Store(true)
	if e := next(t, r, live.Stalled); !errors.Is(e.Err, video.ErrStalled) {
		t.Errorf("%v", e.Err)
	}
	within(t, "the stall", begin)
	time.Sleep(time.Second)
	stopped.Store(false)
	next(t, r, live.Reopened)
	frames(t, r, 3)
}

// Drivers queue some frames; a late look must show the present, not the past.
func TestLateLookShowsThePresent(t *testing.T) {
	path := driver(t, "CAPTURE_VM_LOOPBACK")
	frame := moving(0)
	var mu sync.Mutex
	var fed []time.Time
	feed(t, path, func(int) []byte {
		mu.Lock()
		defer mu.Unlock()
		frame[0], frame[2] = byte(len(fed)), byte(len(fed)>>8)
		fed = append(fed, time.Now())
		return frame
	})
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	time.Sleep(3 * time.Second) // nobody looks
	got := frames(t, r, 1)[0]
	at := time.Now()
	mu.Lock()
	defer mu.Unlock()
	n := int(got.Y[0]) + int(got.Y[1])<<8
	if n >= len(fed) {
		t.Fatalf("frame %d of %d", n, len(fed))
	}
	age := at.Sub(fed[n])
	t.Logf("frame %d of %d fed, %v old", n, len(fed), age)
	if age > 500*time.Millisecond {
		t.Errorf("the frame is %v old", age)
	}
}

// A device that was unplugged and goes on giving its last picture.
func TestLiveFrozen(t *testing.T) {
	path := driver(t, "CAPTURE_VM_LOOPBACK")
	ready := [][]byte{moving(0), moving(1), moving(2), moving(3)}
	frozen := make(chan struct{})
	feed(t, path, func(n int) []byte {
		select {
		case <-frozen:
			return ready[0]
		default:
			return ready[n%4]
		}
	})
	r := watchDevice(t, path, DeviceOptions{})
	next(t, r, live.Opened)
	frames(t, r, 5)
	begin := time.Now()
	close(frozen)
	next(t, r, live.Frozen)
	within(t, "the frozen picture", begin)
}

// The way through OpenCV, for formats that are not taken apart here.
func TestDeviceThroughOpenCV(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	d, err := OpenDevice(context.Background(), path, DeviceOptions{Format: "BGR3", Standard: "ntsc"})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	i := d.Info()
	if i.Standard != video.Std525 || i.Height != 480 || !i.RGB || i.Codec != "BGR3" {
		t.Errorf("%+v", i)
	}
	for range 3 {
		if _, err := d.Next(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
}

// What is fed to the loopback device must come out bit for bit; when the feeder ends, the
// reader must not wait for ever.
func TestDeviceBitForBitThenStalled(t *testing.T) {
	path := driver(t, "CAPTURE_VM_LOOPBACK")
	frame := make([]byte, 720*576*2)
	for i := range frame {
		frame[i] = byte(16 + (i*7+i/1440)%200)
	}
	var stopped atomic.Bool
	feed(t, path, func(int) []byte {
		if stopped.Load() {
			return nil
		}
		return frame
	})
	d, err := OpenDevice(context.Background(), path, DeviceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := d.Next(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Y {
		if f.Y[i] != frame[2*i] {
			t.Fatalf("luma sample %d is %d, fed %d", i, f.Y[i], frame[2*i])
		}
	}
	for i := range f.Cb {
		if f.Cb[i] != frame[4*i+1] || f.Cr[i] != frame[4*i+3] {
			t.Fatalf("chroma sample %d is %d %d, fed %d %d", i, f.Cb[i], f.Cr[i], frame[4*i+1], frame[4*i+3])
		}
	}
	stopped.Store(true)
	begin := time.Now()
	for err == nil && time.Since(begin) < 30*time.Second {
		_, err = d.Next(context.Background())
	}
	if !errors.Is(err, video.ErrStalled) {
		t.Errorf("after the feeder ended: %v", err)
	}
	within(t, "the end of the feed", begin)
	if err := d.Close(); err != nil {
		t.Error(err)
	}
}

// Buffers that are not full are the device's fault: counted, and kept out.
func TestPartialBuffers(t *testing.T) {
	path := driver(t, "CAPTURE_VM_LOOPBACK")
	whole := [][]byte{moving(0), moving(1), moving(2), moving(3)}
	feed(t, path, func(n int) []byte {
		if n%3 == 0 {
			return whole[n%4][:len(whole[0])/2]
		}
		return whole[n%4]
	})
	d, err := OpenDevice(context.Background(), path, DeviceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	good, bad := 0, 0
	for range 60 {
		f, err := d.Next(context.Background())
		var b *video.BadFrame
		switch {
		case errors.As(err, &b):
			if bad++; !strings.Contains(err.Error(), "414720 of 829440 bytes") {
				t.Errorf("%v", err)
			}
		case err != nil:
			t.Fatal(err)
		default:
			good++
			if f.Y[len(f.Y)-1] == 16 && f.Y[len(f.Y)-2] == 16 && f.Y[len(f.Y)-3] == 16 {
				t.Error("a frame that is black at its end")
			}
		}
	}
	t.Logf("%d whole, %d partial", good, bad)
	if bad < 10 || good < 20 {
		t.Errorf("%d whole, %d partial; every third was", good, bad)
	}
}

// The commonest reason for no picture: another input than the one that is plugged in.
func TestDeviceWrongInput(t *testing.T) {
	path := driver(t, "CAPTURE_VM_VIVID")
	reset(t, path)
	control(t, path, "-i", "1")
	control(t, path, "-c", "standard_signal_mode=1") // the mode is that of the selected input
	defer func() {
		control(t, path, "-i", "1")
		control(t, path, "-c", "standard_signal_mode=0")
		control(t, path, "-i", "0")
	}()
	for input, want := range map[string][]string{"1": {"no signal"}, "0": nil} {
		d, err := OpenDevice(context.Background(), path, DeviceOptions{Input: input})
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Reception().Words; !slices.Equal(got, want) {
			t.Errorf("input %s: %q, want %q", input, got, want)
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	}
}
