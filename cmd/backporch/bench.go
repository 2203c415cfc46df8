package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"backporch/analyse/drift"
	"backporch/analyse/rate"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/monitor"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/live"
	"backporch/video/still"
)

// A bench is a machine that is watched: what was seen so far, and who is told. Frames come from one goroutine;
// marks and stills may be asked for by others.
type bench struct {
	s       *invocation
	e       *examination
	spec    string
	stream  *live.Reader
	page    *monitor.Server // nil without --listen
	keep    *folder         // nil without --out
	onJob   *attachment     // nil without --job
	json    bool
	bell    bool
	surveys sync.WaitGroup
	met     sync.Once    // the machine was compared with the job's
	seen    chan *glance // of a survey that is done; one at a time

	mu        sync.Mutex
	watcher   *drift.Watcher
	tracker   drift.Tracker
	number    int // of fields
	counts    monitor.Counts
	start     time.Duration // of the first frame; -1 before
	now       time.Duration
	last      *video.Frame
	lock      drift.Kind
	away      string // what befell the source; "" while pictures come
	glance    *glance
	named     *glance       // the last that found a fault
	lastBad   time.Duration // when a field was bad last
	surveying bool
	due       time.Duration // when to survey next
	bad       *monitor.Region
	badUntil  time.Duration
	strip     []monitor.Event
	numbers   int // of events in the strip
	changes   int
	marks     []*period // the time before the first mark first
	second    int       // the last one that had a bad field
	failed    error
}

// A period is a mark with what was seen from it to the next.
type period struct {
	Text string
	At   time.Time
	rate.Watch
}

func newBench(s *invocation, e *examination, spec string, stream *live.Reader) *bench {
	b := &bench{
		s: s, e: e, spec: spec, stream: stream, seen: make(chan *glance, 1), start: -1, lock: drift.Learning, second: -1,
		watcher: drift.New(drift.Options{Standard: stream.Info().Standard}),
	}
	b.marks = []*period{{Text: "the beginning", At: time.Now()}}
	return b
}

const (
	surveyEvery = 10 * time.Second // while nothing changes
	surveyAfter = 1 * time.Second  // after a change
	mostStrip   = 60
	badShown    = 700 * time.Millisecond // for the eye
)

// frame looks at a frame's fields.
func (b *bench) frame(f *video.Frame) {
	info := b.stream.Info()
	fields := f.Fields(info.Order, info.Rate)
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.start < 0 {
		b.start = f.Time
	}
	seconds := 0.0
	if b.watcher.Ready() {
		// Where frames are missing nothing was seen meanwhile.
		nominal := float64(len(fields)) / info.Standard.Scan().FieldHz
		if seconds = (f.Time - b.now).Seconds(); seconds <= 0 || seconds > 1.5*nominal {
			seconds = nominal
		}
	}
	b.now, b.last, b.away = f.Time, f, ""
	b.counts.Lost = lostFields(b.stream.Stats(), info)
	b.mark1().Seconds += seconds
	for _, field := range fields {
		b.field(field)
	}
	select {
	case g := <-b.seen:
		b.surveying = false
		b.judged(g)
	default:
	}
	if b.watcher.Ready() && !b.surveying && b.now >= b.due && b.lock != drift.NoSignal {
		b.survey(info)
	}
	if b.page != nil {
		b.page.Show(fields[len(fields)-1])
		b.show()
	}
}

// mark1 is the period that goes on; mu is held.
func (b *bench) mark1() *period { return b.marks[len(b.marks)-1] }

func (b *bench) field(f *video.Field) {
	ready := b.watcher.Ready()
	r := b.watcher.Look(f)
	b.number++
	b.lock = r.Kind
	if !ready {
		return
	}
	b.counts.Fields++
	m := b.mark1()
	m.Fields++
	if second := int(m.Seconds); second+1 > m.WholeSeconds {
		m.WholeSeconds = second + 1
	}
	if r.Kind != drift.Good {
		b.counts.Bad++
		b.lastBad = b.now
		m.Bad++
		if second := int(m.Seconds); second != b.second {
			b.second = second
			m.Errored++
		}
		if r.Blocks > 0 {
			b.bad = &monitor.Region{X: r.Where.X, Y: r.Where.Y, W: r.Where.W, H: r.Where.H}
			b.badUntil = b.now + badShown
		}
	}
	if b.bad != nil && b.now > b.badUntil {
		b.bad = nil
	}
	begins, _, ended := b.tracker.Add(r, b.number, b.now)
	if begins {
		b.changes++
		b.counts.Events++
		if b.bell {
			fmt.Fprint(b.s.err, "\a")
		}
	}
	if ended != nil {
		b.tell("picture", episodeText(ended), occurred(ended))
		b.due = b.now + surveyAfter
	}
}

// survey begins a survey of the last second, beside the fields; mu is held.
func (b *bench) survey(info video.Info) {
	b.surveying = true
	b.due = b.now + surveyEvery
	fields := b.watcher.Recent()
	fields = fields[len(fields)/2:]
	known := b.marked()
	b.surveys.Go(func() {
		g, err := b.e.glance(fields, info, known)
		if err != nil {
			g = nil // no display fits; it is watched all the same
		}
		if g != nil && b.onJob != nil {
			b.met.Do(func() {
				if err := b.onJob.recognise(context.Background(), fields, info, g.survey, g.profile); err != nil {
					b.onJob.warn("%v", err)
				}
			})
		}
		b.seen <- g
	})
}

// judged takes a survey's outcome.
func (b *bench) judged(g *glance) {
	if g == nil {
		return
	}
	before := ""
	if b.glance != nil {
		before = b.glance.report.Verdict.Class + b.glance.report.Verdict.Summary
	}
	b.glance = g
	if c := patterns.Class(g.report.Verdict.Class); c != patterns.Clean && c != patterns.Undetermined {
		b.named = g
	}
	if b.onJob != nil {
		for _, text := range b.onJob.said() {
			b.tell("note", "caution: "+text, nil)
		}
	}
	if g.columns > 0 {
		b.watcher.SetPicture(g.picture)
	}
	if now := g.report.Verdict.Class + g.report.Verdict.Summary; now != before {
		b.tell("verdict", g.said(), g.report.Verdict)
	}
}

// event takes what befell the source.
func (b *bench) event(e *live.Event) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case e.Kind == live.Opened || e.Kind == live.Ended && e.Err == nil:
		return
	case e.Down():
		if b.away == "" {
			b.changes++
		}
		b.away = e.Text
	}
	b.tell("note", e.Text, nil)
	b.show()
}

// mark stamps the moment.
func (b *bench) mark(text string) error {
	text = monitor.Clean(text)
	if text == "" {
		return errors.New("a mark without words")
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.marks = append(b.marks, &period{Text: text, At: time.Now()})
	b.second = -1
	b.tell("mark", text, nil)
	b.show()
	return nil
}

// keepStill keeps the frame that is seen now.
func (b *bench) keepStill(ctx context.Context, role string) (string, error) {
	b.mu.Lock()
	f, verdict, profile := b.last, "", ""
	if b.glance != nil {
		verdict = b.glance.said()
		if d := b.glance.report.Display; d != nil {
			profile = *d
		}
	}
	b.mu.Unlock()
	if f == nil {
		return "", errors.New("no picture has come yet")
	}
	text := still.Text{
		Source: b.spec, Time: f.Time, Frame: f.Index, Field: -1, Order: b.stream.Info().Order, Tool: toolVersion(),
		Display: profile, Verdict: verdict, Note: "kept as " + role + " from the monitor",
	}
	name, said := stem(b.spec)+"-"+role, ""
	if b.onJob != nil {
		var png bytes.Buffer
		if err := still.Write(&png, f, text); err != nil {
			return "", err
		}
		c := job.Capture{Command: "watch", Source: b.spec, Display: profile, Text: "still kept from the monitor", Stills: []job.NewStill{
			{Path: name + stillEnding, Data: png.Bytes(), Role: job.Role(role)},
		}}
		if _, err := b.onJob.attach(ctx, c); err != nil {
			return "", err
		}
		said = fmt.Sprintf("kept as %s on job %d", role, b.onJob.job.ID)
	}
	if b.keep != nil {
		path, _, err := still.SaveNext(b.keep.path, name, f, text)
		if err != nil {
			return "", err
		}
		said = "kept as " + path
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.tell("note", said, nil)
	return said, nil
}

// fields is how many have been seen.
func (b *bench) fields() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.number
}

// learned tells whether the picture is known, so that fields are checked.
func (b *bench) learned() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.watcher.Ready()
}

// checked is how long fields have been compared with what was learned, seconds of the source's time.
func (b *bench) checked() float64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	sum := 0.0
	for _, m := range b.marks {
		sum += m.Seconds
	}
	return sum
}

// tell puts a line on the strip and on the result stream; mu is held.
func (b *bench) tell(kind, text string, more any) {
	b.numbers++
	at := time.Now()
	b.strip = append([]monitor.Event{{Number: b.numbers, At: at.Format("15:04:05"), Kind: kind, Text: text}}, b.strip...)
	b.strip = b.strip[:min(len(b.strip), mostStrip)]
	var err error
	if b.json {
		err = writeLine(b.s.out, happening{At: at, TimeS: b.now.Seconds(), Kind: kind, Text: text, More: more})
	} else {
		_, err = fmt.Fprintf(b.s.out, "%s  %s\n", at.Format("15:04:05"), text)
	}
	b.failed = errors.Join(b.failed, err)
}
