package simulator

import (
	"math/rand/v2"

	"backporch/video"
	"backporch/video/display"
)

// Faults of the video logic: behind memory, before the output.
var videoKinds = []kind{
	{
		name: "colour-path", keys: []string{"component", "level"}, common: true,
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			return Fault{Component: components(p)[rng.IntN(3)], Level: rng.IntN(2)}
		},
		act: colourPath,
	},
	{
		name: "border-latch", keys: []string{"bit", "level"}, common: true,
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			bits := 3
			if p.Kind == display.Text {
				bits = 4
			}
			return Fault{Bit: rng.IntN(bits), Level: rng.IntN(2)}
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{latch: func(b int) int { return int(force(byte(b), f.Bit, f.Level)) }}
		},
	},
	{
		name: "blank-picture", keys: []string{"mode"}, modes: []string{"black", "border"}, common: true,
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Mode: []string{"black", "border"}[rng.IntN(2)]}
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{blank: func(border int) int {
				if f.Mode == "border" {
					return border
				}
				return 0
			}}
		},
	},
	{
		name: "cell-fetch", keys: []string{"mode", "after", "share"}, usual: Fault{Number: 16, Share: 1},
		modes: []string{"odd", "even", "after", "colour-shift"},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			f := Fault{Mode: []string{"odd", "even", "after", "colour-shift"}[rng.IntN(4)], Share: 1}
			f.Number = 2 + rng.IntN(p.Columns()-4)
			if rng.IntN(2) == 0 { // flickering
				f.Share = 0.3 + 0.6*rng.Float64()
			}
			return f
		},
		act: cellFetch,
	},
	{
		name: "line-counter", keys: []string{"counter_bit", "level"}, usual: Fault{Number: 3},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Number: rng.IntN(8), Level: rng.IntN(2)}
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{line: func(y int) int { return y&^(1<<f.Number) | f.Level<<f.Number }}
		},
	},
	{
		name: "cell-snow", keys: []string{"share"}, usual: Fault{Share: 0.004},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Share: 0.0005 + 0.01*rng.Float64()}
		},
		act: func(f Fault, _ *machine, rng *rand.Rand) hooks {
			return hooks{moving: true, read: func(_ access, v byte) byte {
				if rng.Float64() < f.Share {
					return byte(rng.Uint32())
				}
				return v
			}}
		},
	},
	{
		name: "shift-register", keys: []string{"mode", "bit", "level"}, modes: []string{"stuck", "halved", "reversed", "late"},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Mode: []string{"stuck", "halved", "reversed", "late"}[rng.IntN(4)], Bit: 1 + rng.IntN(6), Level: rng.IntN(2)}
		},
		act: shiftRegister,
	},
	{
		name: "flash-dead", only: display.Attr,
		act: func(Fault, *machine, *rand.Rand) hooks { return hooks{noFlash: true} },
	},
	{
		name: "character-generator", keys: []string{"mode", "bit", "level", "line"}, only: display.Text,
		modes: []string{"data", "address"}, usual: Fault{Bit: 4},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			f := Fault{Mode: "data", Bit: rng.IntN(8), Level: rng.IntN(2)}
			if rng.IntN(2) == 0 {
				f = Fault{Mode: "address", Number: rng.IntN(8), Level: rng.IntN(2)}
			}
			return f
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			if f.Mode == "address" {
				return hooks{code: func(code byte) byte { return force(code, f.Number&7, f.Level) }}
			}
			return hooks{shift: func(bits byte) byte { return force(bits, f.Bit, f.Level) }}
		},
	},
}

func components(p *display.Profile) []string {
	if p.Kind == display.Text {
		return []string{"luma", "cb", "cr"}
	}
	return []string{"green", "red", "blue"}
}

// colourPath sticks one component of every colour, border included: a colour bit on
// its way to the encoder, or a colour signal where the display makes colour so.
func colourPath(f Fault, m *machine, _ *rand.Rand) hooks {
	if m.p.Kind == display.Attr {
		bit := map[string]int{"blue": 0, "red": 1, "green": 2}[f.Component]
		return hooks{index: func(i uint8) uint8 { return force(i, bit, f.Level) }}
	}
	return hooks{palette: func(c video.YUV) video.YUV {
		level := float64(f.Level)
		switch f.Component {
		case "luma":
			c.Y = level
		case "cb":
			c.U = 0.2 * level
		case "cr":
			c.V = 0.2 * level
		}
		return c
	}}
}

// cellFetch makes cells read the wrong column, by their place on the raster.
func cellFetch(f Fault, m *machine, rng *rand.Rand) hooks {
	field, now := -1, true
	last := m.p.Columns() - 1
	return hooks{sometimes: f.Share < 1, column: func(c, at int) (bitmap, colour int) {
		if at != field {
			field, now = at, rng.Float64() < f.Share
		}
		if !now {
			return c, c
		}
		switch f.Mode {
		case "odd":
			return c &^ 1, c &^ 1
		case "even":
			return min(c|1, last), min(c|1, last)
		case "after":
			return min(c, f.Number), min(c, f.Number)
		}
		return c, min(c+1, last)
	}}
}

// shiftRegister spoils the eight pixels of every cell alike.
func shiftRegister(f Fault, _ *machine, _ *rand.Rand) hooks {
	return hooks{shift: func(b byte) byte {
		switch f.Mode {
		case "halved": // a stage passes its neighbour's pixel
			return b&^(1<<f.Bit) | b>>1&(1<<f.Bit)
		case "reversed":
			return mirror[b&15]<<4 | mirror[b>>4]
		case "late": // loaded a pixel late
			return b >> 1
		}
		// All behind a stuck stage is one level.
		mask := byte(1)<<f.Bit - 1
		if f.Level == 1 {
			return b | mask
		}
		return b &^ mask
	}}
}
