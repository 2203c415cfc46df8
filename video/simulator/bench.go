package simulator

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"backporch/video"
	"backporch/video/composite"
	"backporch/video/display"
)

// A Scenario is a machine, what is wrong with it and how it is captured.
type Scenario struct {
	Display *display.Profile
	Seed    uint64
	Screen  Screen  // empty: chosen by the seed
	Border  *int    // palette index; nil: chosen by the seed
	Faults  []Fault // none: a good machine
	Chain   Chain   // zero: clean
	Device  Device  // zero: chosen by the seed
	Fields  int     // to capture; 0: 50
	Order   video.FieldOrder
	Font    *display.Font // nil: the shipped one
	Power   *Power        // nil: it stays on
}

// A Bench captures a scenario. It is used by one goroutine at a time.
type Bench struct {
	s       Scenario
	m       *machine
	e       *composite.Encoder
	chain   *chainState
	decoder *composite.Decoder
	first   int     // raster line of picture line 0
	at      float64 // pixel periods from 0H to the first border pixel
	truth   Truth
	wave    []float32
	queue   []*video.Field
	given   int
	lost    int          // fields in a row without lock
	held    *video.Frame // the last good frame, for a device that freezes
	fill    *video.Field
	checked bool    // changed has been asked
	rate    float64 // fields a second
	ran     int     // fields since the capture began
}

// settle is how many fields a device has seen before the capture starts.
const settle = 5

// New prepares a bench; it powers the machine up and lets the device settle.
func New(s Scenario) (*Bench, error) {
	p := s.Display
	if p == nil {
		return nil, errors.New("simulator: no display profile given")
	}
	if s.Fields == 0 {
		s.Fields = 50
	}
	if s.Fields < 0 {
		return nil, fmt.Errorf("simulator: %d fields cannot be captured", s.Fields)
	}
	stream := func(n uint64) *rand.Rand { return rand.New(rand.NewPCG(s.Seed, n)) }
	if s.Device == (Device{}) {
		s.Device = randomDevice(stream(1), p.Standard)
	}
	if s.Screen == "" {
		all := Screens()
		s.Screen = all[stream(2).IntN(len(all))]
	}
	font := display.ShippedFont()
	if s.Font != nil {
		font = *s.Font
	}
	b := &Bench{s: s, m: newMachine(p, font), rate: p.FieldHz()}
	if err := drawScreen(b.m, s.Screen, s.Border, stream(3)); err != nil {
		return nil, fmt.Errorf("simulator: %w", err)
	}
	chain := s.Chain.withDefaults()
	var all []hooks
	for i, f := range s.Faults {
		if err := f.check(p); err != nil {
			return nil, fmt.Errorf("simulator: %w", err)
		}
		k, _ := findKind(f.Kind)
		h := k.act(f, b.m, stream(100+uint64(i)))
		if h.chain != nil {
			h.chain(&chain)
		}
		all = append(all, h)
	}
	b.m.chroma = chain.Chroma
	b.m.start(all)
	if err := b.wire(chain, stream(4)); err != nil {
		return nil, err
	}
	if s.Power != nil {
		if err := s.Power.check(); err != nil {
			return nil, err
		}
		own := *s.Power
		b.s.Power = &own
		own.prepare(b.m, b.rate, stream(5))
		b.ran = -100 // it has power while the device settles
	}
	b.settle()
	return b, nil
}

// wire sets up encoder, chain and decoder, and works out where the picture lies.
func (b *Bench) wire(chain Chain, rng *rand.Rand) error {
	s, p := &b.s, b.s.Display
	setup := p.Standard == video.Std525 && rng.IntN(2) == 0
	raster := composite.Raster{
		Standard: p.Standard, PixelHz: p.PixelClockHz, LinePixels: p.LinePixels, Lines: p.FieldLines,
		NoBurst: b.m.noColour, FieldSync: composite.FieldSync(rng.IntN(3)), SyncLines: 3 + rng.IntN(4), Setup: setup,
		LumaHz:       4.5e6 + 2.5e6*rng.Float64(),
		SubcarrierHz: p.Standard.Scan().SubcarrierHz * (1 + 30e-6*rng.NormFloat64()),
	}
	raster.ChromaDelay = (rng.Float64()-0.3)*120e-9 + chain.ChromaNs*1e-9
	if p.Kind == display.Text { // one crystal for everything
		raster.SubcarrierHz = math.Round(p.Standard.Scan().SubcarrierHz/p.PixelClockHz*16) / 16 * p.PixelClockHz
	}
	e, err := composite.NewEncoder(raster, 0)
	if err != nil {
		return err
	}
	b.e = e
	scan := p.Standard.Scan()
	b.chain = newChain(chain, e, p.FieldLines, scan.SyncMV, s.Seed)
	options := s.Device.options(p.Standard, e.Rate(), setup)
	if b.decoder, err = composite.NewDecoder(options); err != nil {
		return err
	}
	b.fill = s.Device.fill(p.Standard)

	// The picture stands about the middle of the line, on a whole pixel period.
	pitch := p.PitchX(720)
	centre := (scan.FirstSample + 360) / pitch
	picture := math.Round(centre-float64(p.Width)/2) + float64(rng.IntN(5)-2)
	b.at = picture - float64(p.BorderLeft)
	top := composite.FirstLine(p.Standard) + (scan.FieldLines-p.Height)/2
	b.first = min(top+rng.IntN(5)-2, p.FieldLines-p.Height-p.BorderBottom)
	b.truth = Truth{
		Faults: s.Faults, Shows: make([]bool, len(s.Faults)), Screen: s.Screen, Background: b.m.background, Border: b.m.border, BorderSeen: int(b.m.borderIndex()),
		OriginX: options.Place(picture * pitch), PitchX: pitch / (1 + s.Device.ScaleX),
		OriginY: float64(b.first - composite.FirstLine(p.Standard) - s.Device.ShiftY), PitchY: 1,
		NoiseMV: math.Hypot(chain.NoiseMV*chain.Level, s.Device.NoiseMV),
		Chain:   chain, Device: s.Device, Font: b.m.font, ChromaNs: 1e9 * raster.ChromaDelay,
		Written:       append([]byte(nil), b.m.ram[:p.Size()]...),
		WrittenColour: append([]byte(nil), b.m.colour...),
	}
	return nil
}

// settle runs the device in. One that will show a frozen picture has had one: the signal
// goes away afterwards.
func (b *Bench) settle() {
	gone := b.chain.Gone
	if b.s.Device.Without == ShowsFrozen {
		b.chain.Gone = false
	}
	for range settle {
		b.produce()
	}
	if b.s.Device.Without == ShowsFrozen {
		for b.held == nil && len(b.queue) >= 2 {
			b.held = b.weave()
		}
		b.chain.Gone = gone
		for range settle {
			b.produce()
		}
	}
	b.queue, b.checked, b.truth.Visible = b.queue[:0], false, false
	clear(b.truth.Shows)
	b.ran = 0
	b.m.field = int(b.s.Seed % (2 * display.FlashFields))
}

// produce runs the machine for one field and the device over its waveform.
func (b *Bench) produce() {
	b.signal(b.s.Device.NoiseMV)
	b.decoder.Decode(b.wave, func(f *video.Field) { b.queue = append(b.queue, f) })
	if st := b.decoder.Status(); !st.Locked || st.Present < 0.4 {
		b.lost = min(b.lost+1, 12)
	} else {
		b.lost = max(b.lost-1, 0) // a device waits before it trusts a signal again
	}
}

// Waveform runs the machine for one field and gives what leaves its output, in mV at Rate
// samples a second; it is good until the next call. A bench gives either frames or waveforms.
func (b *Bench) Waveform() []float32 {
	b.signal(0)
	return b.wave
}

// Rate is the samples a second of the waveform.
func (b *Bench) Rate() float64 { return b.e.Rate() }

// signal runs the machine for one field and its composite chain; ownNoiseMV is what a
// device adds.
func (b *Bench) signal(ownNoiseMV float64) {
	p := b.s.Display
	gone := b.chain.Gone
	defer func() { b.chain.Gone = gone }()
	if b.s.Power != nil && !b.s.Power.step(b.m, b.ran) {
		b.chain.Gone = true
	}
	b.ran++
	b.m.fetch()
	for y := -p.BorderTop; y < p.Height+p.BorderBottom; y++ {
		n := b.first + y
		if n < 9 || n >= p.FieldLines-3 { // field sync and its equalising pulses
			continue
		}
		b.e.SetLine(n, b.at, b.m.line(y), b.m.palette)
	}
	b.look()
	b.m.field++
	b.wave = b.e.Encode(b.wave)
	b.chain.apply(b.wave, ownNoiseMV)
}

// look says which faults this field shows. It costs a second and a third drawing of the
// raster, so it is asked of each only until it has been seen.
func (b *Bench) look() {
	if len(b.s.Faults) == 0 || b.checked && b.m.alike() {
		return
	}
	b.checked = true
	good, drawn := b.with(nil), 0
	for _, h := range b.m.hooks {
		if h.chain == nil {
			drawn++
		}
	}
	for i, h := range b.m.hooks {
		if b.truth.Shows[i] {
			continue
		}
		alone := b.m // as this field was drawn: to draw it again would draw other chances
		if drawn > 1 {
			alone = b.with([]hooks{h})
		}
		b.truth.Shows[i] = h.chain != nil || h.power != nil || b.differ(good, alone)
		b.truth.Visible = b.truth.Visible || b.truth.Shows[i]
	}
}

// with is the machine at this field with some of its faults alone.
func (b *Bench) with(some []hooks) *machine {
	m := *b.m
	m.hooks, m.fresh = some, false
	m.seen = make([]byte, len(b.m.seen))
	m.seenColour = make([]byte, len(b.m.seenColour))
	m.row = make([]uint8, len(b.m.row))
	m.palette, m.noColour = m.colours(some)
	m.fetch()
	return &m
}

// differ tells whether two machines draw another picture.
func (b *Bench) differ(m, n *machine) bool {
	for y := -1; y < b.s.Display.Height; y++ {
		other := n.line(y)
		for i, v := range m.line(y) {
			if m.palette[v] != n.palette[other[i]] {
				return true
			}
		}
	}
	return false
}

// Next captures a frame: two machine fields woven, or one when the order is
// Progressive. It returns io.EOF after the scenario's fields.
func (b *Bench) Next() (*video.Frame, error) {
	step := 2
	if b.s.Order == video.Progressive {
		step = 1
	}
	if b.given+step > b.s.Fields {
		return nil, io.EOF
	}
	for len(b.queue) < step {
		b.produce()
	}
	f := b.weave()
	if b.lost > 2 {
		switch b.s.Device.Without {
		case ShowsSnow:
		case ShowsFrozen:
			if b.held != nil {
				f = clone(b.held)
			}
		default:
			f = video.Weave([]*video.Field{b.fill, b.fill}[:step], b.s.Order)
		}
	}
	f.Index = b.given / step
	f.Time = time.Duration(float64(b.given) / b.rate * float64(time.Second))
	b.given += step
	return f, nil
}

// weave takes a frame from the queue.
func (b *Bench) weave() *video.Frame {
	step := 2
	if b.s.Order == video.Progressive {
		step = 1
	}
	f := video.Weave(b.queue[:step], b.s.Order)
	b.queue = append(b.queue[:0], b.queue[step:]...)
	return f
}

func clone(f *video.Frame) *video.Frame {
	c := *f
	c.Y = append([]uint8(nil), f.Y...)
	c.Cb = append([]uint8(nil), f.Cb...)
	c.Cr = append([]uint8(nil), f.Cr...)
	return &c
}

// Truth tells what the capture really shows, as of the last field.
func (b *Bench) Truth() Truth {
	t := b.truth
	if b.m.still() {
		for y := range b.s.Display.Height {
			t.Pixels = append(t.Pixels, b.m.line(y)...)
		}
	}
	t.Read = append([]byte(nil), b.m.seen...)
	t.ReadColour = append([]byte(nil), b.m.seenColour...)
	return t
}
