package simulator

import (
	"math"
	"math/rand/v2"

	"backporch/video/display"
)

// Faults of memory: each acts on the reads of one or more chips, by the address as the
// chip takes it.
var ramKinds = []kind{
	{
		name: "data-bit-stuck", keys: []string{"bit", "level", "memory"}, common: true,
		random: randomLane,
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{read: func(a access, v byte) byte {
				if !f.in(a) {
					return v
				}
				return force(v, f.Bit, f.Level)
			}}
		},
	},
	{
		name: "data-bit-weak", keys: []string{"bit", "level", "memory", "mode", "share"}, common: true,
		usual: Fault{Share: 0.2}, modes: []string{"addresses", "time", "fields"},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			f := randomLane(p, rng)
			f.Mode = []string{"addresses", "time", "fields"}[rng.IntN(3)]
			f.Share = 0.04 + 0.4*rng.Float64()*rng.Float64()
			if f.Mode == "fields" {
				f.Share = 0.15 + 0.4*rng.Float64()
			}
			return f
		},
		act: weak,
	},
	{
		name: "address-line-stuck", keys: []string{"lines", "lanes", "level", "memory"},
		usual: Fault{Lines: 1 << 3, Lanes: 0xff},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			f := Fault{Lanes: 0xff, Level: rng.IntN(2)}
			k := rng.IntN(min(p.RowBits, p.ColumnBits))
			switch rng.IntN(3) {
			case 0: // inside the chip, or before the multiplexer
				f.Lines = 1 << rng.IntN(10)
			default: // a pin behind it carries two
				f.Lines = 1<<k | 1<<(k+p.RowBits)
			}
			if rng.IntN(2) == 0 {
				f.Lanes = 1 << rng.IntN(8)
			}
			return f
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{lanes: byte(f.Lanes), colourRAM: f.Memory == "colour", address: func(a int) int {
				if f.Level == 1 {
					return a | int(f.Lines)
				}
				return a &^ int(f.Lines)
			}}
		},
	},
	{
		name: "row-dead", keys: []string{"bit", "row", "level", "memory"}, usual: Fault{Number: 5},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			f := randomLane(p, rng)
			f.Number = rng.IntN(1 << p.RowBits)
			return f
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{read: func(a access, v byte) byte {
				if f.in(a) && a.row == f.Number {
					return force(v, f.Bit, f.Level)
				}
				return v
			}}
		},
	},
	{
		name: "column-dead", keys: []string{"bit", "column", "level", "memory"}, usual: Fault{Number: 5},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			f := randomLane(p, rng)
			f.Number = rng.IntN(p.Size()>>p.RowBits + 1)
			return f
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{read: func(a access, v byte) byte {
				if f.in(a) && a.column == f.Number {
					return force(v, f.Bit, f.Level)
				}
				return v
			}}
		},
	},
	{
		name: "refresh-loss", keys: []string{"lanes", "share"}, usual: Fault{Lanes: 0xff, Share: 0.5},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			f := Fault{Lanes: 0xff, Share: 0.2 + 0.8*rng.Float64()}
			if rng.IntN(2) == 0 {
				f.Lanes = 1 << rng.IntN(8)
			}
			return f
		},
		act: refreshLoss,
	},
	{
		name: "supply-or-all-lanes", keys: []string{"share"}, usual: Fault{Share: 0.3},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Share: 0.1 + 0.4*rng.Float64()}
		},
		act: supply,
	},
	{
		name: "power-up-pattern", keys: []string{"share"}, usual: Fault{Share: 0.05}, common: true,
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Share: 0.005 + 0.12*rng.Float64()}
		},
		act: powerUp,
	},
}

// in says whether a read is of the memory that the fault is in.
func (f Fault) in(a access) bool { return a.colour == (f.Memory == "colour") }

// force sets one bit of v to a level.
func force(v byte, bit, level int) byte {
	return v&^(1<<bit) | byte(level)<<bit
}

func randomLane(p *display.Profile, rng *rand.Rand) Fault {
	f := Fault{Bit: rng.IntN(8), Level: rng.IntN(2)}
	if p.Kind == display.Text {
		f.Memory = "screen"
		if rng.IntN(4) == 0 {
			f.Memory, f.Bit = "colour", rng.IntN(4)
		}
	}
	return f
}

// weak reads one level too often: at some addresses always, at any address now and
// then, or in whole fields.
func weak(f Fault, _ *machine, rng *rand.Rand) hooks {
	switch f.Mode {
	case "addresses":
		var bad [1 << 16]bool
		for i := range bad {
			bad[i] = rng.Float64() < f.Share
		}
		return hooks{read: func(a access, v byte) byte {
			if f.in(a) && bad[a.address&0xffff] {
				return force(v, f.Bit, f.Level)
			}
			return v
		}}
	case "time":
		return hooks{moving: true, read: func(a access, v byte) byte {
			if f.in(a) && rng.Float64() < f.Share {
				return force(v, f.Bit, f.Level)
			}
			return v
		}}
	}
	field, now := -1, false
	return hooks{moving: true, read: func(a access, v byte) byte {
		if a.field != field {
			field, now = a.field, rng.Float64() < f.Share
		}
		if f.in(a) && now {
			return force(v, f.Bit, f.Level)
		}
		return v
	}}
}

// refreshLoss lets bits decay, each at a time of its own, the cells of one row much
// alike, toward the level that a discharged cell reads as. Share says how fast.
func refreshLoss(f Fault, m *machine, rng *rand.Rand) hooks {
	rows := make([]float64, 1<<m.p.RowBits)
	mean := 30 / (0.05 + f.Share) // fields
	for i := range rows {
		rows[i] = mean * rng.ExpFloat64()
	}
	life := make([]int, len(m.ram)*8)
	for a := range m.ram {
		row, _ := m.p.ChipAddress(a)
		for bit := range 8 {
			life[a*8+bit] = int(math.Min(rows[row]*(0.5+rng.ExpFloat64()), 1e9))
		}
	}
	level := byte(rng.Uint32()) // a lane's discharged level
	start := -1
	return hooks{moving: true, read: func(a access, v byte) byte {
		if a.colour {
			return v
		}
		if start < 0 || a.field < start {
			start = a.field
		}
		for bit := range 8 {
			if f.Lanes.has(bit) && a.field-start > life[a.address*8+bit] {
				v = force(v, bit, int(level>>bit&1))
			}
		}
		return v
	}}
}

// supply makes most lanes read wrong at any time, as chips with a rail missing do.
func supply(f Fault, _ *machine, rng *rand.Rand) hooks {
	var share [8]float64
	level := byte(rng.Uint32())
	for i := range share {
		share[i] = f.Share * (0.3 + 1.4*rng.Float64())
	}
	share[rng.IntN(8)] = 0 // a stronger chip
	field, swing := -1, 1.0
	return hooks{moving: true, read: func(a access, v byte) byte {
		if a.field != field {
			field, swing = a.field, 0.6+0.8*rng.Float64()
		}
		for bit, p := range share {
			if rng.Float64() < p*swing {
				v = force(v, bit, int(level>>bit&1))
			}
		}
		return v
	}}
}

// powerUp fills memory as dynamic RAM wakes: each chip has rows or columns of true and of
// complement cells, selected by a few address bits of its own, and some cells that fall
// either way; common practice, no source.
func powerUp(f Fault, m *machine, rng *rand.Rand) hooks {
	return hooks{power: func(m *machine) {
		masks := []int{1 << rng.IntN(m.p.RowBits), 1 << (m.p.RowBits + rng.IntN(m.p.ColumnBits))}
		if rng.IntN(2) == 0 {
			masks = masks[rng.IntN(2):][:1]
		}
		wake := func(ram []byte, bits int) {
			for bit := range bits {
				own, flip := masks, rng.IntN(5) == 0
				if rng.IntN(4) == 0 { // a chip of another make
					own = []int{1 << rng.IntN(m.p.RowBits+m.p.ColumnBits)}
				}
				for a := range ram {
					v := flip
					for _, mask := range own {
						v = v != (a&mask != 0)
					}
					if rng.Float64() < f.Share {
						v = rng.IntN(2) == 0
					}
					level := 0
					if v {
						level = 1
					}
					ram[a] = force(ram[a], bit, level)
				}
			}
		}
		wake(m.ram, 8)
		clear(m.colour)
		wake(m.colour, 4)
		limit := 8
		if m.p.Kind == display.Text {
			limit = 16
			m.background = rng.IntN(limit)
		}
		m.border = rng.IntN(limit)
	}}
}
