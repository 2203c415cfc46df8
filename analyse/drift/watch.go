package drift

import (
	"bytes"

	"backporch/analyse"
	"backporch/video"
)

// Kind is what is wrong with a field.
type Kind string

// The kinds, from the mildest to the gravest.
const (
	Good     Kind = ""          // as learned
	Learning Kind = "learning"  // nothing to compare with yet
	BadField Kind = "bad-field" // a part of the picture differs
	Border   Kind = "border"    // the border differs, the picture does not
	Changed  Kind = "changed"   // another picture, and it stays
	Frozen   Kind = "frozen"    // the device repeats one frame
	LostLock Kind = "lost-lock" // the picture is not in its place
	NoSignal Kind = "no-signal" // the device shows a picture of its own, or snow
)

// A Rect is a part of a field, samples and lines.
type Rect struct{ X, Y, W, H int }

// Options are New's; the zero value watches everything and can't tell the border from the picture.
type Options struct {
	Picture  Rect // where the picture lies in a field; zero: not known
	Standard video.Standard
}

// A Reading is what one field says.
type Reading struct {
	Kind    Kind
	Blocks  int  // places that differ
	Of      int  // places watched
	Where   Rect // around the places that differ
	Excess  int  // sum of codes by which samples are out of range: how bad, to find the worst field
	Repeat  bool // equal, bit by bit, to the field before of its parity
	Shift   int  // LostLock: lines by which the picture is displaced, 0 when it is not that
	Relearn int  // places learned anew after this field
	Values  Values
}

// Values are measured against what was learned; nil when there is nothing to measure by.
type Values struct {
	Gain   *float64 // contrast, 1 as learned
	Black  *float64 // codes that black has moved by
	Noise  *float64 // rms, codes
	HueDeg *float64 // positive from +U towards +V
	Colour *float64 // saturation, 1 as learned
}

const (
	blockWidth, blockHeight = 16, 4
	// learnFields is two seconds and three whole flash periods.
	learnFields = 96
	// settled is how many fields in a row a place must differ before it is learned anew.
	settled = learnFields
	// limit is the excess, in codes summed over a place, that counts; noise adds to it, see
	// threshold. One pixel of half contrast has some 100, one wrong byte several hundred.
	limit = 48
	// crawls times the threshold is the most that the crawling subcarrier moves a place by.
	crawls = 16
	// wide is the share of places from which on the whole picture is in question.
	wide = 0.3
	// frozenFields equal fields in a row are no accident of a device that bridges one lost frame.
	frozenFields = 8
)

// A Watcher watches the fields of one capture. It keeps the last fields it was given, which must not
// be changed afterwards, and is used by one goroutine at a time.
type Watcher struct {
	o             Options
	width, height int
	chroma        int // chroma samples a line
	columns, rows int
	ring          []*video.Field
	next, held    int
	learned       bool
	kept          [2]parity
	moving        []bool   // places that never rest, not watched
	relearned     []uint8  // how often in this spell
	border        []place  // nil when not known
	run           []uint16 // fields in a row that a place has differed
	bad           []bool   // of the last field
	sigma         float64  // noise, codes
	threshold     int
	fields        int // in all
	repeats       int // equal fields in a row
	restless      bool
	inARow        int  // bad fields
	judged        Kind // what the slow measure said of them
	series        series
}

// A parity is what is known of one of a frame's two fields.
type parity struct {
	state  [2]*envelope
	has    []uint8 // states a place has: 1 or 2
	prefer []uint8 // state it was in last
	last   *video.Field
	rows   []float64 // mean luma of every line, as learned
}

// New makes a watcher.
func New(o Options) *Watcher { return &Watcher{o: o} }

// Ready says whether the watcher has learned the picture.
func (w *Watcher) Ready() bool { return w.learned }

// SetPicture tells where the picture lies, once that is known.
func (w *Watcher) SetPicture(r Rect) {
	w.o.Picture = r
	w.placeBorder()
}

// Unwatched is the share of places that are not watched since they never rest.
func (w *Watcher) Unwatched() float64 {
	if len(w.moving) == 0 {
		return 0
	}
	n := 0
	for _, m := range w.moving {
		if m {
			n++
		}
	}
	return float64(n) / float64(len(w.moving))
}

// Look compares a field with what was learned.
func (w *Watcher) Look(f *video.Field) Reading {
	if f.Width < 2*blockWidth || f.Height < 2*blockHeight || len(f.Y) < f.Width*f.Height {
		return Reading{Kind: NoSignal}
	}
	if f.Width != w.width || f.Height != w.height || f.ChromaWidth != w.chroma {
		w.begin(f)
	}
	p := &w.kept[f.Parity&1]
	r := Reading{Of: w.columns * w.rows}
	r.Repeat = p.last != nil && bytes.Equal(p.last.Y, f.Y) && bytes.Equal(p.last.Cb, f.Cb) && bytes.Equal(p.last.Cr, f.Cr)
	before := p.last
	p.last = f
	w.fields++
	w.ring[w.next] = f
	w.next = (w.next + 1) % len(w.ring)
	w.held = min(w.held+1, len(w.ring))
	if !w.learned {
		r.Kind = Learning
		if w.held == len(w.ring) {
			w.learn(&r)
		}
		return r
	}
	if r.Repeat {
		w.repeats++
	} else {
		w.repeats = 0
	}
	w.compare(f, p, &r)
	w.judge(f, p, &r)
	if r.Kind == Good || r.Kind == BadField || r.Kind == Border {
		r.Values = w.series.measure(w, f, before)
	}
	if r.Kind != NoSignal && r.Kind != LostLock && r.Kind != Frozen {
		w.follow(f, p)
		r.Relearn = w.relearn()
	}
	return r
}

// begin starts anew for fields of this size.
func (w *Watcher) begin(f *video.Field) {
	*w = Watcher{o: w.o, width: f.Width, height: f.Height, chroma: f.ChromaWidth}
	w.columns = (f.Width + blockWidth - 1) / blockWidth
	w.rows = (f.Height + blockHeight - 1) / blockHeight
	w.ring = make([]*video.Field, learnFields)
	n := w.columns * w.rows
	w.moving, w.relearned, w.run, w.bad = make([]bool, n), make([]uint8, n), make([]uint16, n), make([]bool, n)
	for i := range w.kept {
		w.kept[i] = parity{has: make([]uint8, n), prefer: make([]uint8, n)}
		for s := range w.kept[i].state {
			w.kept[i].state[s] = newEnvelope(f)
		}
	}
	w.placeBorder()
}

// place says what lies in a place.
type place uint8

const (
	ofPicture place = iota
	ofBorder
	ofBoth
)

// placeBorder tells the places of the border from those of the picture.
func (w *Watcher) placeBorder() {
	w.border = nil
	pic := w.o.Picture
	if pic.W <= 0 || pic.H <= 0 || w.columns == 0 {
		return
	}
	w.border = make([]place, w.columns*w.rows)
	const blur = 6 // samples: the edge's own reach
	for row := range w.rows {
		for c := range w.columns {
			x, y := c*blockWidth, row*blockHeight
			switch {
			case x+blockWidth <= pic.X-blur || x >= pic.X+pic.W+blur || y+blockHeight <= pic.Y-1 || y >= pic.Y+pic.H+1:
				w.border[row*w.columns+c] = ofBorder
			case x < pic.X+blur || x+blockWidth > pic.X+pic.W-blur || y < pic.Y+1 || y+blockHeight > pic.Y+pic.H-1:
				w.border[row*w.columns+c] = ofBoth
			}
		}
	}
}

// compare finds the places where f leaves the range of every state they have.
func (w *Watcher) compare(f *video.Field, p *parity, r *Reading) {
	left, top, right, bottom := w.columns, w.rows, -1, -1
	for row := range w.rows {
		for c := range w.columns {
			i := row*w.columns + c
			w.bad[i] = false
			if w.moving[i] {
				r.Of--
				continue
			}
			s := p.prefer[i]
			out := w.outOf(p.state[s], f, c, row)
			if out > w.threshold && p.has[i] > 1 {
				if other := w.outOf(p.state[1-s], f, c, row); other < out {
					out = other
					p.prefer[i] = 1 - s
				}
			}
			if out <= w.threshold {
				w.run[i] = 0
				continue
			}
			w.bad[i] = true
			r.Blocks++
			r.Excess += out
			left, right = min(left, c), max(right, c)
			top, bottom = min(top, row), max(bottom, row)
		}
	}
	if r.Blocks > 0 {
		r.Where = Rect{left * blockWidth, top * blockHeight, (right - left + 1) * blockWidth, (bottom - top + 1) * blockHeight}
		r.Where.W = min(r.Where.W, w.width-r.Where.X)
		r.Where.H = min(r.Where.H, w.height-r.Where.Y)
	}
}

// outOf is by how much a place leaves a state, 0 where only the subcarrier has come to lie another
// way: then the means over some of its periods stay.
func (w *Watcher) outOf(e *envelope, f *video.Field, column, row int) int {
	out := e.excess(f, column, row)
	if out > w.threshold && out < crawls*w.threshold &&
		e.boxes[row*w.columns+column].off(boxMeans(f, column, row)) < float32(max(apart, 6*w.sigma/4)) {
		return 0
	}
	return out
}

// state is what the slow measure says of the last fields.
func (w *Watcher) state(n int) analyse.Sync { return syncOf(w.recent(n), w.o.Standard) }

// Recent are the last two seconds of fields, oldest first.
func (w *Watcher) Recent() []*video.Field { return w.recent(len(w.ring)) }

// recent are the last n fields, oldest first.
func (w *Watcher) recent(n int) []*video.Field {
	n = min(n, w.held)
	out := make([]*video.Field, 0, n)
	for k := n; k > 0; k-- {
		out = append(out, w.ring[(w.next-k+2*len(w.ring))%len(w.ring)])
	}
	return out
}
