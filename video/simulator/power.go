package simulator

import (
	"errors"
	"math"
	"math/rand/v2"
	"time"
)

// Power is how a machine is switched off and on during a capture, and how its memory keeps or loses what it
// held. Each bit of dynamic RAM is a charge that leaks away: a cell of lane b lasts a time of its own,
// log-normally spread about the lane's median, the cells of one row somewhat alike; then it reads as its chip's
// rows or columns of true and of complement cells do at rest. A cell that is at rest shows nothing of its decay.
type Power struct {
	On     int        // fields of power before the first cycle
	Cycles []Cycle    // off and on again
	Median [8]float64 // seconds without power that half of a lane's cells last
	Spread float64    // standard deviation of the logarithm of a cell's time; 0: 0.6
	Rows   float64    // of a row's; 0: 0.25
	Fickle float64    // part of the cells that fall either way at rest; 0: 0.03
	Cold   bool       // the capture begins with memory at rest, as after hours
	Clear  int        // fields after switching on until the program writes its screen again; 0: never
	rest   []byte     // what memory reads at rest
	life   []float32  // [address*8+bit], seconds
	off    []interval // fields without power
	truth  []byte     // the written screen
	source *rand.Rand
}

// A Cycle is a time without power, then with it.
type Cycle struct {
	Off time.Duration
	On  int // fields
}

type interval struct {
	from, to int // fields of the capture
	seconds  float64
}

// check refuses what can't be.
func (p *Power) check() error {
	for _, m := range p.Median {
		if !(m > 0) {
			return errors.New("simulator: a lane keeps its memory for more than 0 seconds")
		}
	}
	if p.On < 1 || len(p.Cycles) == 0 {
		return errors.New("simulator: power needs fields with it and a cycle without")
	}
	for _, c := range p.Cycles {
		if c.Off <= 0 || c.On < 1 {
			return errors.New("simulator: each cycle needs a time without power and fields with it")
		}
	}
	return nil
}

// prepare lays out the times and each cell's life.
func (p *Power) prepare(m *machine, rate float64, rng *rand.Rand) {
	set := func(v *float64, to float64) {
		if *v == 0 {
			*v = to
		}
	}
	set(&p.Spread, 0.6)
	set(&p.Rows, 0.25)
	set(&p.Fickle, 0.03)
	p.source = rng
	p.truth = append([]byte(nil), m.ram...)
	p.rest = make([]byte, len(m.ram))
	p.life = make([]float32, 8*len(m.ram))
	for bit := range 8 {
		mask := 1 << rng.IntN(m.p.RowBits)
		if rng.IntN(2) == 0 {
			mask = 1 << (m.p.RowBits + rng.IntN(m.p.ColumnBits))
		}
		rows := make([]float64, 1<<m.p.RowBits)
		for i := range rows {
			rows[i] = p.Rows * rng.NormFloat64()
		}
		for a := range m.ram {
			if a&mask != 0 {
				p.rest[a] |= 1 << bit
			}
			row, _ := m.p.ChipAddress(a)
			p.life[a*8+bit] = float32(p.Median[bit] * math.Exp(rows[row]+p.Spread*rng.NormFloat64()))
		}
	}
	at := p.On
	p.off = nil
	for _, c := range p.Cycles {
		n := int(math.Round(c.Off.Seconds() * rate))
		p.off = append(p.off, interval{at, at + max(n, 1), c.Off.Seconds()})
		at += max(n, 1) + c.On
	}
	if p.Cold {
		p.decay(m, math.Inf(1))
	}
}

// decay is what a time without power does.
func (p *Power) decay(m *machine, seconds float64) {
	for a := range m.ram {
		for bit := range 8 {
			if float64(p.life[a*8+bit]) > seconds {
				continue
			}
			level := int(p.rest[a] >> bit & 1)
			if p.source.Float64() < p.Fickle {
				level = p.source.IntN(2)
			}
			m.ram[a] = force(m.ram[a], bit, level)
		}
	}
	m.fresh = false
}

// step brings the machine to field n of the capture; on says whether it has power.
func (p *Power) step(m *machine, n int) (on bool) {
	for _, off := range p.off {
		switch {
		case n >= off.from && n < off.to:
			return false
		case n == off.to:
			p.decay(m, off.seconds)
			m.field = 0
		case p.Clear > 0 && n == off.to+p.Clear:
			copy(m.ram, p.truth)
			m.fresh = false
		}
	}
	return true
}
