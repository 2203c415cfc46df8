package simulator

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"strings"

	"backporch/video"
	"backporch/video/display"
)

// A Fault is one kind of the catalogue with its particulars; those that the kind
// does not use are 0 or empty.
type Fault struct {
	Kind      string
	Bit       int     // data bit, or bit of the border register
	Level     int     // 0 or 1
	Component string  // green, red, blue; luma, cb, cr
	Memory    string  // Text: screen or colour
	Mode      string  // what sort of the kind
	Share     float64 // part of addresses or of time; part of random bits
	MV        float64 // noise, mV rms
}

// A kind is an entry of the table of kinds.
type kind struct {
	name string
	keys []string // particulars it takes
	// random draws particulars for a display.
	random func(p *display.Profile, rng *rand.Rand) Fault
	// act puts the fault in its place in the machine. rng serves the fault alone.
	act func(f Fault, m *machine, rng *rand.Rand) hooks
}

var kinds = []kind{
	{
		name: "clean",
		act:  func(Fault, *machine, *rand.Rand) hooks { return hooks{} },
	},
	{
		name: "data-bit-stuck", keys: []string{"bit", "level", "memory"},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			return randomLane(p, rng)
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{read: func(a access, v byte) byte {
				if a.colour != (f.Memory == "colour") {
					return v
				}
				return force(v, f.Bit, f.Level)
			}}
		},
	},
	{
		name: "data-bit-weak", keys: []string{"bit", "level", "memory", "mode", "share"},
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
		name: "colour-path", keys: []string{"component", "level"},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			names := components(p)
			return Fault{Component: names[rng.IntN(3)], Level: rng.IntN(2)}
		},
		act: colourPath,
	},
	{
		name: "border-latch", keys: []string{"bit", "level"},
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
		name: "blank-picture", keys: []string{"mode"},
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
		name: "power-up-pattern", keys: []string{"share"},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Share: 0.005 + 0.12*rng.Float64()}
		},
		act: powerUp,
	},
	{
		name: "no-signal", keys: []string{"mv"},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			if rng.IntN(2) == 0 {
				return Fault{}
			}
			return Fault{MV: 5 * math.Exp(3.5*rng.Float64())} // an open input: 5 to 165 mV
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{chain: func(c *Chain) { c.Gone, c.NoiseMV = true, f.MV }}
		},
	},
	{
		name: "sync-weak", keys: []string{"mode", "share"},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Mode: []string{"roll", "tear", "jitter"}[rng.IntN(3)], Share: 0.3 + 0.7*rng.Float64()}
		},
		act: syncWeak,
	},
	{
		name: "noise", keys: []string{"mv"},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{MV: 14 + 40*rng.Float64()} // 34 to 22 dB
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			return hooks{chain: func(c *Chain) { c.NoiseMV = f.MV }}
		},
	},
}

// Kinds lists the kinds of fault that the simulator has, clean first.
func Kinds() []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.name
	}
	return names
}

func findKind(name string) (*kind, error) {
	for i := range kinds {
		if kinds[i].name == name {
			return &kinds[i], nil
		}
	}
	return nil, fmt.Errorf("no fault kind %q; there are %s", name, strings.Join(Kinds(), ", "))
}

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

func components(p *display.Profile) []string {
	if p.Kind == display.Text {
		return []string{"luma", "cb", "cr"}
	}
	return []string{"green", "red", "blue"}
}

// weak reads one level too often: at some addresses always, at any address now and
// then, or in whole fields.
func weak(f Fault, _ *machine, rng *rand.Rand) hooks {
	inRAM := func(a access) bool { return a.colour == (f.Memory == "colour") }
	switch f.Mode {
	case "addresses":
		var bad [1 << 16]bool
		for i := range bad {
			bad[i] = rng.Float64() < f.Share
		}
		return hooks{read: func(a access, v byte) byte {
			if inRAM(a) && bad[a.address&0xffff] {
				return force(v, f.Bit, f.Level)
			}
			return v
		}}
	case "time":
		return hooks{moving: true, read: func(a access, v byte) byte {
			if inRAM(a) && rng.Float64() < f.Share {
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
		if inRAM(a) && now {
			return force(v, f.Bit, f.Level)
		}
		return v
	}}
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

// syncWeak spoils sync; Share says how badly, 0 to 1.
func syncWeak(f Fault, _ *machine, _ *rand.Rand) hooks {
	return hooks{chain: func(c *Chain) {
		switch f.Mode {
		case "roll":
			c.FieldPart = -1
			c.SyncPart = 1 - 0.3*f.Share
		case "tear":
			c.TearNs = 250 + 500*f.Share
			c.TearLines = 40 + int(60*f.Share)
			c.SyncPart = 0.8
		default:
			c.JitterNs = 60 + 200*f.Share
			c.SyncPart = 1 - 0.5*f.Share
		}
	}}
}

var modes = map[string][]string{
	"data-bit-weak": {"addresses", "time", "fields"},
	"blank-picture": {"black", "border"},
	"sync-weak":     {"roll", "tear", "jitter"},
}

// ParseFault reads "kind" or "kind:key=value,key=value", as in
// "data-bit-stuck:bit=3,level=1"; particulars left out have a middling value.
func ParseFault(text string) (Fault, error) {
	name, rest, _ := strings.Cut(strings.TrimSpace(text), ":")
	k, err := findKind(name)
	if err != nil {
		return Fault{}, err
	}
	f := Fault{Kind: name}
	if m := modes[name]; m != nil {
		f.Mode = m[0]
	}
	switch name {
	case "data-bit-weak":
		f.Share = 0.2
	case "power-up-pattern":
		f.Share = 0.05
	case "sync-weak":
		f.Share = 0.6
	case "noise":
		f.MV = 25
	}
	for _, part := range strings.FieldsFunc(rest, func(r rune) bool { return r == ',' }) {
		key, value, ok := strings.Cut(part, "=")
		if !ok || !contains(k.keys, key) {
			return Fault{}, fmt.Errorf("fault %s: %q: it takes %s", name, part, takes(k))
		}
		if err := f.set(key, value); err != nil {
			return Fault{}, fmt.Errorf("fault %s: %w", name, err)
		}
	}
	return f, nil
}

// ParseFaults reads several faults of one machine, joined by "+".
func ParseFaults(text string) ([]Fault, error) {
	var all []Fault
	for _, part := range strings.Split(text, "+") {
		f, err := ParseFault(part)
		if err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}

func takes(k *kind) string {
	if len(k.keys) == 0 {
		return "no particulars"
	}
	return strings.Join(k.keys, "=, ") + "="
}

func contains(all []string, s string) bool {
	for _, v := range all {
		if v == s {
			return true
		}
	}
	return false
}

// set reads one particular.
func (f *Fault) set(key, value string) error {
	whole := func(dst *int, limit int) error {
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 || n > limit {
			return fmt.Errorf("%s=%s: use 0 to %d", key, value, limit)
		}
		*dst = n
		return nil
	}
	part := func(dst *float64, limit float64) error {
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || !(v >= 0 && v <= limit) {
			return fmt.Errorf("%s=%s: use 0 to %g", key, value, limit)
		}
		*dst = v
		return nil
	}
	word := func(dst *string, allowed []string) error {
		if !contains(allowed, value) {
			return fmt.Errorf("%s=%s: use %s", key, value, strings.Join(allowed, ", "))
		}
		*dst = value
		return nil
	}
	switch key {
	case "bit":
		return whole(&f.Bit, 7)
	case "level":
		return whole(&f.Level, 1)
	case "share":
		return part(&f.Share, 1)
	case "mv":
		return part(&f.MV, 300)
	case "mode":
		return word(&f.Mode, modes[f.Kind])
	case "memory":
		return word(&f.Memory, []string{"screen", "colour"})
	case "component":
		return word(&f.Component, []string{"green", "red", "blue", "luma", "cb", "cr"})
	}
	return fmt.Errorf("%s: not a particular of any fault", key)
}

// String gives a fault as ParseFault reads it.
func (f Fault) String() string {
	k, err := findKind(f.Kind)
	if err != nil {
		return f.Kind
	}
	values := map[string]string{
		"bit": strconv.Itoa(f.Bit), "level": strconv.Itoa(f.Level), "mode": f.Mode, "memory": f.Memory, "component": f.Component,
		"share": strconv.FormatFloat(f.Share, 'g', -1, 64), "mv": strconv.FormatFloat(f.MV, 'g', -1, 64),
	}
	var parts []string
	for _, key := range k.keys {
		if v := values[key]; v != "" {
			parts = append(parts, key+"="+v)
		}
	}
	sort.Strings(parts)
	if len(parts) == 0 {
		return f.Kind
	}
	return f.Kind + ":" + strings.Join(parts, ",")
}

// check refuses particulars that the display does not have.
func (f Fault) check(p *display.Profile) error {
	if _, err := findKind(f.Kind); err != nil {
		return err
	}
	if f.Component == "" && f.Kind == "colour-path" || f.Component != "" && !contains(components(p), f.Component) {
		return fmt.Errorf("fault %s: component %q: display %s has %s", f.Kind, f.Component, p.Name, strings.Join(components(p), ", "))
	}
	limit := 8
	switch {
	case f.Memory == "colour" && p.Kind != display.Text:
		return fmt.Errorf("fault %s: display %s has no colour RAM of its own", f.Kind, p.Name)
	case f.Memory == "colour", f.Kind == "border-latch" && p.Kind == display.Text:
		limit = 4
	case f.Kind == "border-latch":
		limit = 3
	}
	if f.Bit < 0 || f.Bit >= limit {
		return fmt.Errorf("fault %s: bit %d: use 0 to %d", f.Kind, f.Bit, limit-1)
	}
	if f.Level != 0 && f.Level != 1 {
		return fmt.Errorf("fault %s: level %d: use 0 or 1", f.Kind, f.Level)
	}
	return nil
}
