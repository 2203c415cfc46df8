package soak

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"backporch/analyse/drift"
	"backporch/video"
	"backporch/video/live"
)

// Options are New's and Resume's; zero bounds are the recommended ones.
type Options struct {
	Dir       string
	Tool      string
	Source    string
	Standard  video.Standard
	PerMinute int              // events with stills kept a minute; 0: 6
	Most      int64            // bytes of stills in all; 0: 500 MB
	Now       func() time.Time // nil: time.Now
	// Settled is called once the picture is known, with its last fields: it gives where the picture lies and
	// what is to be said of it. Nil: nothing is known of either.
	Settled func(fields []*video.Field) Finding
}

// A Finding is what a survey says when a soak begins.
type Finding struct {
	Picture drift.Rect
	Display string
	Verdict string
}

// A Session is a soak that runs. It is used by one goroutine at a time.
type Session struct {
	o       Options
	log     *journal
	keeper  *keeper
	watcher *drift.Watcher
	tracker drift.Tracker
	drifts  drifts
	total   Beat    // so far
	lostOf  int     // lost fields of the sessions before
	rate    float64 // fields a second
	settled bool
	began   bool

	lastBeat time.Time
	lastTime time.Duration // of the last frame
	have     bool
	second   int // the last second that had a bad field
	frames   [ringFrames]*video.Frame
	number   int // of fields
	order    video.FieldOrder
	current  *episode
	finding  Finding
}

// ringFrames is what is kept in memory of the frames that went by: a quarter of a second.
const ringFrames = 8

// beatEvery is the most that a killed process loses.
const beatEvery = time.Second

// New begins a soak in a folder that has none.
func New(o Options) (*Session, error) {
	j, err := create(o.Dir)
	if err != nil {
		return nil, err
	}
	return start(o, j), nil
}

// Resume goes on with the soak in the folder.
func Resume(o Options) (*Session, error) {
	j, records, err := reopen(o.Dir)
	if err != nil {
		return nil, err
	}
	s := start(o, j)
	sum := Summarise(records)
	s.began = len(records) > 0
	s.total = sum.Total
	s.total.Open = nil
	s.lostOf = sum.Total.Lost
	s.keeper.events = sum.highest()
	s.total.Events = s.keeper.events
	for _, still := range sum.Stills {
		s.keeper.bytes += still.Bytes
	}
	s.second = -1
	if open := sum.cutOff; open != nil { // it went on when the process ended
		if err := j.add(Record{Type: typeEvent, At: sum.Ended, Event: open}); err != nil {
			return nil, errors.Join(err, s.Abandon())
		}
	}
	if !sum.Ended.IsZero() {
		away := s.now().Sub(sum.Ended)
		text := fmt.Sprintf("resumed after %s that nobody watched", length(away.Seconds()))
		if err := j.add(Record{Type: typeNote, At: s.now(), Text: text, Gap: max(away.Seconds(), 0)}); err != nil {
			return nil, errors.Join(err, s.Abandon())
		}
	}
	return s, nil
}

func start(o Options, j *journal) *Session {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.PerMinute == 0 {
		o.PerMinute = 6
	}
	if o.Most == 0 {
		o.Most = 500 << 20
	}
	s := &Session{o: o, log: j, watcher: drift.New(drift.Options{Standard: o.Standard}), second: -1}
	s.keeper = newKeeper(o, j.file)
	return s
}

func (s *Session) now() time.Time { return s.o.Now() }

// Beat is what has been counted so far.
func (s *Session) Beat() Beat { return s.total }

// Open is the event that goes on, nil when the picture is good.
func (s *Session) Open() *Event { return s.total.Open }

// Ready says whether the picture is known and fields are checked.
func (s *Session) Ready() bool { return s.watcher.Ready() }

// Verdict is what the survey at the beginning said.
func (s *Session) Verdict() string { return s.finding.Verdict }

// Frame checks a frame's fields.
func (s *Session) Frame(f *video.Frame, info video.Info) error {
	if !s.began || s.rate == 0 {
		s.rate = fieldRate(info)
		err := s.log.add(Record{Type: typeBegin, At: s.now(), Begin: &Begin{Tool: s.o.Tool, Source: s.o.Source, Rate: s.rate, Resumed: s.began}})
		s.began = true
		if err != nil {
			return err
		}
	}
	s.order = info.Order
	fields := f.Fields(info.Order, s.rate/2)
	copy(s.frames[1:], s.frames[:])
	s.frames[0] = f
	if s.watcher.Ready() {
		s.total.Seconds += s.step(f.Time, len(fields))
	}
	s.lastTime, s.have = f.Time, true
	for _, field := range fields {
		if err := s.field(field, f); err != nil {
			return err
		}
	}
	s.total.Time, s.total.Index = f.Time.Seconds(), f.Index*len(fields)
	return s.tick()
}

// step is the time that a frame stands for: since the one before, but no more than a frame where some are
// missing, for nothing was seen then.
func (s *Session) step(at time.Duration, fields int) float64 {
	nominal := float64(fields) / s.rate
	d := (at - s.lastTime).Seconds()
	if !s.have || d <= 0 || d > 1.5*nominal {
		return nominal
	}
	return d
}

// fieldRate is the nominal one: the standard's, unless the source's rate is of single fields.
func fieldRate(info video.Info) float64 {
	if info.Order.Single() && info.Rate > 0 {
		return info.Rate
	}
	if info.Standard == video.UnknownStandard && info.Rate > 0 {
		return 2 * info.Rate
	}
	return info.Standard.Scan().FieldHz
}

func (s *Session) field(f *video.Field, frame *video.Frame) error {
	wasReady := s.watcher.Ready()
	r := s.watcher.Look(f)
	s.number++
	if !wasReady {
		if !s.watcher.Ready() {
			return nil
		}
		return s.settle()
	}
	s.total.Fields++
	if r.Repeat {
		s.total.Repeated++
	}
	if r.Kind != drift.Good {
		s.total.Bad++
		if second := int(s.total.Seconds); second != s.second {
			s.second = second
			s.total.Errored++
		}
	}
	s.drifts.add(r.Values)
	begins, worst, ended := s.tracker.Add(r, s.number, time.Duration(s.total.Seconds*float64(time.Second)))
	if begins {
		s.begin(frame)
	}
	if s.current != nil {
		s.current.see(s.tracker.Now(), frame, worst)
		s.total.Open = s.current.event(s.total.Seconds)
		if s.current.age++; s.current.age == keepAfter {
			s.keeper.keep(s.current, s.order)
		}
	}
	if ended != nil {
		return s.end(ended, frame, false)
	}
	if what, ok := s.drifts.crossed(s.rate); ok {
		return s.drifted(what, frame)
	}
	return nil
}

// settle is called once the picture is known.
func (s *Session) settle() error {
	if s.settled || s.o.Settled == nil {
		return nil
	}
	s.settled = true
	s.finding = s.o.Settled(s.watcher.Recent())
	s.watcher.SetPicture(s.finding.Picture)
	return s.log.add(Record{Type: typeBegin, At: s.now(), Begin: &Begin{
		Tool: s.o.Tool, Source: s.o.Source, Rate: s.rate, Display: s.finding.Display, Verdict: s.finding.Verdict,
	}})
}

// Event takes what befell the source.
func (s *Session) Event(e *live.Event) error {
	r := Record{Type: typeNote, At: s.now(), Text: e.Text}
	if e.Kind == live.Reopened || e.Kind == live.ClockStepped {
		r.Gap = max(e.For.Seconds(), 0)
	}
	switch e.Kind {
	case live.Opened, live.Moving, live.Ended:
		return nil
	case live.Reopened:
		s.have = false
	}
	return s.log.add(r)
}

// Lost tells how many fields of this session are missing by the source's own count.
func (s *Session) Lost(fields int) { s.total.Lost = s.lostOf + fields }

// Mark puts a stimulus on the time line: what was counted until now stands before it.
func (s *Session) Mark(text string) error {
	s.second = -1 // a second can hold bad fields on either side
	b := s.total
	return s.log.add(Record{Type: typeMark, At: s.now(), Text: text, Beat: &b})
}

// Tick is to be called at least every second, also while no frames come.
func (s *Session) Tick() error { return s.tick() }

func (s *Session) tick() error {
	now := s.now()
	if since := now.Sub(s.lastBeat); since < beatEvery && since >= 0 {
		return s.keeper.failed()
	}
	s.lastBeat = now
	return s.beat()
}

func (s *Session) beat() error {
	if err := s.logStills(); err != nil {
		return err
	}
	s.drifts.into(&s.total)
	s.total.Memory = resident()
	b := s.total
	if err := s.log.add(Record{Type: typeBeat, At: s.now(), Beat: &b}); err != nil {
		return err
	}
	s.keeper.sync()
	return s.keeper.failed()
}

// Close ends the session, waits for stills that are being written, and gives the summary of the whole soak.
func (s *Session) Close() (*Summary, error) {
	var err error
	if e := s.tracker.End(); e != nil {
		err = s.end(e, nil, true)
	}
	if s.began {
		err = errors.Join(err, s.beat())
	}
	err = errors.Join(err, s.keeper.close(s.log))
	if s.began {
		err = errors.Join(err, s.log.add(Record{Type: typeEnd, At: s.now()}))
	}
	err = errors.Join(err, s.log.file.Sync(), s.log.file.Close())
	if err != nil {
		return nil, err
	}
	records, err := Read(s.o.Dir)
	if err != nil {
		return nil, err
	}
	return Summarise(records), nil
}

// Abandon ends it without a summary, after an error.
func (s *Session) Abandon() error {
	return errors.Join(s.keeper.close(s.log), s.log.file.Close())
}

// resident is the memory of this process, bytes; 0 where the system does not say.
func resident() int64 {
	data, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return 0
	}
	words := strings.Fields(string(data))
	if len(words) < 2 {
		return 0
	}
	pages, err := strconv.ParseInt(words[1], 10, 64)
	if err != nil {
		return 0
	}
	return pages * int64(os.Getpagesize())
}
