// Package survey runs the measurements in order for one capture: sync first,
// then, where there is a picture, registration, cells, memory, text and signal.
package survey

import (
	"errors"

	"backporch/analyse"
	"backporch/analyse/beside"
	"backporch/analyse/cells"
	"backporch/analyse/grid"
	"backporch/analyse/memory"
	"backporch/analyse/signal"
	"backporch/analyse/text"
	"backporch/analyse/timing"
	"backporch/video"
	"backporch/video/display"
)

// Options say what is looked for.
type Options struct {
	Display  *display.Profile   // nil: the one of Displays that fits best
	Displays []*display.Profile // to choose from, those of another standard left out
	Font     *display.Font      // nil: the shipped one
	Last     *analyse.Registration
	// Reference is a survey of the same screen on a good machine. Where either's place is
	// not certain they are laid over each other; if it is the reference that must move, Moved gets it anew.
	Reference *analyse.Survey
	Moved     func(*analyse.Survey)
}

// ErrNoFields: there is nothing to survey.
var ErrNoFields = errors.New("no fields to look at")

// Run surveys fields that followed each other, all of one size. It also gives the
// display that was used.
func Run(fields []*video.Field, info video.Info, o Options) (*analyse.Survey, *display.Profile, error) {
	if len(fields) == 0 {
		return nil, nil, ErrNoFields
	}
	when := timing.Options{
		Rate: info.Rate, Standard: info.Standard, Single: info.Kind == video.KindStill, InterFrame: timing.InterFrame(info.Codec),
		Blocks: info.Block > 0, Device: info.DeviceStatus, Detects: info.Detected != video.UnknownStandard,
	}
	s := &analyse.Survey{
		Fields: len(fields),
		Sync:   timing.Measure(fields, when),
	}
	fields = timing.Level(fields, s.Sync.Step)
	fields = straightened(s, fields, when)
	first, last := fields[0].Time, fields[len(fields)-1].Time
	s.Seconds = (last - first).Seconds()
	phase, other, fewer := stack(s, fields, false)
	s.Flat = flat(s.Stack)
	p, guessed := o.Display, ""
	if p == nil {
		p, guessed = choose(s.Stack, info.Standard, o)
	}
	if p == nil {
		return nil, nil, errors.New("no display profile is of this capture's standard; name one with --display")
	}
	s.Display = p.Name
	if p.Kind == display.Text && len(other) > 0 {
		phase, other, fewer = stack(s, fields, true)
	}
	if s.Sync.State == analyse.NoSignal {
		s.Registration.Reason = "no signal"
		return s, p, nil
	}
	if s.Sync.Picture != "" {
		s.Registration.Reason = "no lock"
		return s, p, nil
	}
	path := signal.Look(fields, p)
	path.Into(&s.Signal, 219)
	if clean := path.Undo(fields); s.Sync.State != analyse.NoLock && clean[0] != fields[0] {
		// What the path adds is taken off before the picture is read: it moves edges as well.
		fields = clean
		if !s.Straightened {
			step := s.Sync.Step
			s.Sync = timing.Measure(fields, when)
			s.Sync.Step = step
		}
		phase, other, fewer = stack(s, fields, p.Kind == display.Text)
	}
	s.Registration = grid.Register(s.Stack, p, grid.Options{Last: o.Last})
	if guessed != "" && s.Registration.Reason != "" {
		guessed += "; " + s.Registration.Reason
	}
	if guessed != "" {
		s.Registration.Reason = guessed
	}
	if !s.Registration.OK {
		signal.Edges(&s.Signal, s.Stack, p)
		timing.Hear(&s.Sync, false)
		return s, p, nil
	}
	laid := false
	if o.Reference != nil && s.Holds() {
		here, there := lay(s, o.Reference, p)
		laid = here != there
		if here != (analyse.Shift{}) {
			move(s, here)
		}
		o.moveReference(there, p)
		fine(s, o.Reference, p)
	}
	v := &view{p: p, font: o.Font, fields: fields, phase: phase, other: other, fewer: fewer, path: path, good: o.Reference}
	v.read(s)
	if v.echo = echoOf(s, p); v.echo != nil {
		v.compared = nil
		v.read(s)
	}
	if s.Holds() && o.Reference != nil {
		v.against, v.held, v.lanes = cells.Against(s, o.Reference, p)
	}
	if v.against != nil { // the reference names every colour, so that a palette need not be guessed at
		guessed := cells.Held(s.Levels.Components)
		s.Signal.ColourFits, s.Levels.Components, v.fits, v.reference = v.against, v.held, v.against, o.Reference
		s.Levels.Lanes = v.lanes
		if guessed != nil || cells.Held(v.held) != nil {
			v.read(s)
		}
	} else {
		s.Levels.Components, s.Signal.ColourFits = cells.Apart(s.Levels.Components, s.Signal.ColourFits)
	}
	v.fits = s.Signal.ColourFits
	v.correct(s)
	if v.tied = tie(s, o.Reference, p); v.tied != nil {
		v.read(s)
	}
	v.settle(s)
	if o.Reference != nil {
		if here, there := align(s, o.Reference, p, laid); here != (analyse.Shift{}) || there != (analyse.Shift{}) {
			move(s, here)
			o.moveReference(there, p)
			v.good = o.Reference
			v.read(s)
		}
	}
	signal.Tell(&s.Signal, p)
	return s, p, nil
}

// moveReference has the reference read at another place.
func (o *Options) moveReference(by analyse.Shift, p *display.Profile) {
	if by == (analyse.Shift{}) {
		return
	}
	o.Reference = moved(o.Reference, p, o.Font, by)
	if o.Moved != nil {
		o.Moved(o.Reference)
	}
}

// A view is the fields that a survey reads its cells from.
type view struct {
	p            *display.Profile
	font         *display.Font
	fields       []*video.Field // all of them
	phase, other []*video.Field // by the phase of flashing cells
	fewer        []*video.Field // those of phase that show another picture
	path         *signal.Path   // what the border says of the signal path
	// What was corrected, and what said so; nil: nothing was.
	fit       *analyse.ColourFit
	top       float64 // of white: where the device's codes end, at the size that the picture should have
	fits      []analyse.ColourFit
	spots     []analyse.Spot
	reference *analyse.Survey // nil: none that shows this screen
	good      *analyse.Survey // a good machine's, whatever it shows; nil: none
	compared  map[comparing]*beside.Difference
	// against are the colours' fits by the reference; nil: without one, or by another screen.
	against []analyse.ColourFit
	held    []analyse.Component // and each colour signal held, by the same
	lanes   []analyse.HeldLane  // and each lane of the colours' memory
	tied    *analyse.Levels     // by the reference; nil: by the capture's own colours
	echo    *echo               // that is taken off before cells are read; nil: none
}

// tie gives the levels by a reference of the same screen whose border shows another colour; nil where the border is the same: then it has told
// both captures' levels alike.
func tie(s, reference *analyse.Survey, p *display.Profile) *analyse.Levels {
	if reference == nil || !s.Holds() || p.Kind != display.Attr || s.Border.Colour == reference.Border.Colour {
		return nil
	}
	return cells.Tie(s, reference, p)
}

// shown is the display with the colours that the path has left.
func (v *view) shown() *display.Profile {
	switch {
	case v.fit != nil && v.fit.Kind == "clipping":
		return cells.Cut(v.p, v.fit.Amount.Value)
	case v.fit != nil && v.fit.Kind == "level-high":
		return cells.CutLuma(v.p, v.top)
	}
	return v.p
}

// recover reads the cells of a stack.
func (v *view) recover(s *analyse.Stack, reg analyse.Registration) *cells.Result {
	return cells.RecoverAt(v.echo.off(s), reg, v.shown(), cells.Known{Levels: v.tied, Held: v.held})
}

// topCode is luma's greatest code but one, which devices keep for sync (ITU-R BT.601).
const topCode = 254

// glyphs is the font given, or the shipped one.
func (v *view) glyphs() display.Font {
	if v.font != nil {
		return *v.font
	}
	return display.ShippedFont()
}

// read fills in all that follows from the registration.
func (v *view) read(s *analyse.Survey) {
	p := v.p
	var r *cells.Result
	var changed []analyse.Change
	if p.Kind == display.Text {
		r, changed = v.recoverText(s)
	} else {
		r = v.recover(s.Stack, s.Registration)
	}
	switch {
	case v.fit != nil && v.fit.Kind == "colour-lost":
		cells.WithoutColour(r, v.reference, p)
	case v.fit != nil && (v.fit.Kind == "clipping" || v.fit.Kind == "level-high"):
		cells.WithoutTop(r, v.reference, p, v.shown())
	}
	if len(v.other) > 0 {
		markFlash(r, v.recover(analyse.Add(v.other), s.Registration))
	}
	s.Cells, s.Levels, s.Border = r.Cells, r.Levels, r.Border
	moves := map[int]bool{} // Text: cells that show more than one character
	for _, c := range changed {
		moves[c.At] = true
	}
	settle := func(r *cells.Result, st *analyse.Stack) {
		if d := v.differs(s, st); d != nil {
			d.Settle(r, func(cell int) bool { return moves[cell] })
		}
	}
	settle(r, s.Stack)
	if s.Other = nil; len(v.fewer) > 0 && p.Kind == display.Attr {
		stack := analyse.Add(v.fewer)
		steady(stack, v.fewer)
		two := v.recover(stack, s.Registration)
		settle(two, stack)
		s.Other = &analyse.State{Cells: two.Cells, Memory: memory.FromCells(p, two, false), Fields: len(v.fewer)}
	}
	font := v.glyphs()
	read := text.Read(s.Cells, p, font, text.Options{})
	s.Text = &read
	if p.Kind == display.Attr {
		// Lines that are laid straight, or taken from other fields, may hide a flash.
		seen := len(v.other) > 0 || len(v.fields) > display.FlashFields && !s.Straightened
		s.Memory = memory.FromCells(p, r, seen)
	} else {
		s.Text.Changes = changed
		s.Memory = memory.FromText(p, s.Text)
	}
	s.Memory.Fields = len(v.phase)
	if s.Sync.State == analyse.Locked && len(v.phase) > 0 {
		s.Worst = changes(s, p, v.phase, v.fewer, v.fields)
	}
	in := signal.Input{
		Display: p, Stack: s.Stack, Fields: v.phase, Registration: s.Registration, Levels: s.Levels,
		Pixels: ideal(s.Cells, p), Border: s.Border.Colour,
		Path: v.path, Fits: r.Fits, Spots: r.Spots,
		Skip: func(row, column int) bool { return s.Cells[row*p.Columns()+column].Flash },
	}
	if g := v.good; g != nil {
		in.Good = &g.Signal
	}
	s.Signal = signal.Measure(in)
	if v.fits == nil {
		return
	}
	if v.against != nil {
		s.Levels.Components, s.Levels.Lanes = v.held, v.lanes
	} else {
		s.Levels.Components, _ = cells.Apart(s.Levels.Components, s.Signal.ColourFits)
	}
	s.Signal.ColourFits = v.fits
	if v.fit == nil {
		return
	}
	s.Signal.Spots = v.spots
	if h := s.Signal.HueErrorDeg; h != nil && v.fit.Kind == "hue-shift" {
		*h += v.fit.Amount.Value
	}
	if h := s.Signal.SaturationPct; h != nil && v.fit.Kind != "hue-shift" && v.fit.Kind != "clipping" {
		if v.fit.Chroma > 0 {
			*h *= v.fit.Chroma
		} else {
			*h *= v.fit.Amount.Value
		}
	}
}

// A comparing is what a comparison with the good machine's capture goes by.
type comparing struct {
	stack      *analyse.Stack
	x, y       float64 // where the picture lies
	good       *analyse.Survey
	chromaDead bool
}

// differs compares a stack at the survey's place with the good machine's, once for all times that its cells are read there; nil where there is nothing to compare.
func (v *view) differs(s *analyse.Survey, st *analyse.Stack) *beside.Difference {
	if v.good == nil || !s.Holds() {
		return nil
	}
	k := comparing{st, s.Registration.OriginX, s.Registration.OriginY, v.good, s.Signal.ChromaDead}
	d, ok := v.compared[k]
	if !ok {
		of := *s
		of.Stack = v.echo.off(st)
		d = beside.Compare(&of, v.good, v.p)
		if v.compared == nil {
			v.compared = map[comparing]*beside.Difference{}
		}
		v.compared[k] = d
	}
	return d
}

// splitFlash parts fields into the two phases of flashing cells. other is empty when nothing flashes.
func splitFlash(fields []*video.Field, all *analyse.Stack) (phase, other []*video.Field) {
	most, fewer := splitStates(fields, all)
	if len(fewer) == 0 {
		return flashPhases(fields, all)
	}
	in := map[*video.Field]bool{}
	for _, f := range fewer {
		in[f] = true
	}
	if !lasting(len(fields), func(k int) bool { return in[fields[k]] }) {
		return fields, nil
	}
	return most, fewer
}

// markFlash marks the cells whose colours have changed places in the other phase.
func markFlash(r, other *cells.Result) {
	for i := range r.Cells {
		a, b := &r.Cells[i], &other.Cells[i]
		switch {
		case a.Single && b.Single:
			a.Flash = a.Paper != b.Paper && (a.Paper&7 != 0 || b.Paper&7 != 0)
		case !a.Single && !b.Single:
			alike := func(x, y int) bool { return x == y || x&7 == 0 && y&7 == 0 } // black is black at either brightness
			same := alike(a.Ink, b.Ink) && alike(a.Paper, b.Paper)
			swapped := alike(a.Ink, b.Paper) && alike(a.Paper, b.Ink)
			differ, inverse := 0, 0
			for y := range a.Bits {
				if a.Bits[y] != b.Bits[y] {
					differ++
				}
				if a.Bits[y] != ^b.Bits[y] {
					inverse++
				}
			}
			// The pair's paper is named alike in both phases, so that a swap shows in the pattern.
			a.Flash = same && inverse < differ || swapped && differ <= inverse
		}
	}
}

// ideal is the palette index of every pixel as read.
func ideal(list []analyse.Cell, p *display.Profile) []uint8 {
	out := make([]uint8, p.Width*p.Height)
	for i := range list {
		c := &list[i]
		for y := range 8 {
			row := out[(c.Row*8+y)*p.Width+c.Column*8:]
			for x := range 8 {
				colour := c.Paper
				if c.Bits[y]>>(7-x)&1 == 1 {
					colour = c.Ink
				}
				row[x] = uint8(max(colour, 0))
			}
		}
	}
	return out
}
