package simulator

import (
	"math"
	"math/rand/v2"

	"backporch/video"
	"backporch/video/display"
)

// Faults of the signal: they change the composite output, or the colours of everything
// that goes to it, and know no memory and no cell.
var signalKinds = []kind{
	{
		name: "no-signal", keys: []string{"mv"}, common: true,
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			if rng.IntN(2) == 0 {
				return Fault{}
			}
			return Fault{MV: 5 * math.Exp(3.5*rng.Float64())} // an open input: 5 to 165 mV
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.Gone, c.NoiseMV = true, f.MV }),
	},
	{
		name: "sync-weak", keys: []string{"mode", "share"}, modes: []string{"roll", "tear", "jitter"}, usual: Fault{Share: 0.6}, common: true,
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Mode: []string{"roll", "tear", "jitter"}[rng.IntN(3)], Share: 0.3 + 0.7*rng.Float64()}
		},
		act: syncWeak,
	},
	{
		name: "noise", keys: []string{"mv"}, usual: Fault{MV: 25}, common: true,
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{MV: 14 + 40*rng.Float64()} // 34 to 22 dB
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.NoiseMV = f.MV }),
	},
	{
		name: "hum", keys: []string{"mv", "hz"}, usual: Fault{MV: 100, Hz: 50},
		random: func(p *display.Profile, rng *rand.Rand) Fault {
			mains := 50.0
			if p.Standard == video.Std525 {
				mains = 60
			}
			return Fault{MV: 40 + 150*rng.Float64(), Hz: mains * float64(1+rng.IntN(2))}
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.HumMV, c.HumHz = f.MV, f.Hz }),
	},
	{
		name: "ringing", keys: []string{"hz", "share"}, usual: Fault{Hz: 3e6, Share: 0.3},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Hz: 1.5e6 + 2.5e6*rng.Float64(), Share: 0.15 + 0.3*rng.Float64()}
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.RingHz, c.RingPart, c.RingDecay = f.Hz, f.Share, 400e-9 }),
	},
	{
		name: "low-bandwidth", keys: []string{"hz"}, usual: Fault{Hz: 1.5e6},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Hz: 0.7e6 + 1.1e6*rng.Float64()}
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.BandwidthHz = f.Hz }),
	},
	{
		name: "ghost", keys: []string{"share", "period"}, usual: Fault{Share: 0.25, PeriodPx: 8},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Share: 0.12 + 0.25*rng.Float64(), PeriodPx: 3 + 12*rng.Float64()}
		},
		act: onChain(func(f Fault, c *Chain, m *machine) {
			c.GhostPart, c.GhostNs = f.Share, f.PeriodPx/m.p.PixelClockHz*1e9
		}),
	},
	{
		name: "fixed-bars", keys: []string{"period", "mv"}, usual: Fault{PeriodPx: 8, MV: 60},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{PeriodPx: float64(int(4) << rng.IntN(3)), MV: 20 + 70*rng.Float64()}
		},
		act: onChain(func(f Fault, c *Chain, m *machine) { c.ToneMV, c.ToneHz = f.MV, m.p.PixelClockHz/f.PeriodPx }),
	},
	{
		name: "interference", keys: []string{"hz", "mv"}, usual: Fault{Hz: 1.13e6, MV: 60},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Hz: 40e3 * math.Exp(4.5*rng.Float64()), MV: 25 + 80*rng.Float64()}
		},
		act: onChain(func(f Fault, c *Chain, _ *machine) { c.ToneMV, c.ToneHz = f.MV, f.Hz }),
	},
	{
		name: "colour-lost",
		act:  func(Fault, *machine, *rand.Rand) hooks { return hooks{noColour: true} },
	},
	{
		name: "hue-shift", keys: []string{"degrees"}, usual: Fault{Degrees: 40},
		random: func(_ *display.Profile, rng *rand.Rand) Fault {
			return Fault{Degrees: (20 + 60*rng.Float64()) * float64(2*rng.IntN(2)-1)}
		},
		act: func(f Fault, _ *machine, _ *rand.Rand) hooks {
			sin, cos := math.Sincos(f.Degrees * math.Pi / 180)
			return hooks{palette: func(c video.YUV) video.YUV {
				return video.YUV{Y: c.Y, U: c.U*cos - c.V*sin, V: c.U*sin + c.V*cos}
			}}
		},
	},
	{
		name: "level-high", keys: []string{"share"}, usual: Fault{Share: 0.5},
		random: func(_ *display.Profile, rng *rand.Rand) Fault { return Fault{Share: 0.25 + 0.5*rng.Float64()} },
		act:    func(f Fault, _ *machine, _ *rand.Rand) hooks { return hooks{palette: scaled(1 + f.Share)} },
	},
	{
		name: "level-low", keys: []string{"share"}, usual: Fault{Share: 0.4},
		random: func(_ *display.Profile, rng *rand.Rand) Fault { return Fault{Share: 0.3 + 0.35*rng.Float64()} },
		act:    func(f Fault, _ *machine, _ *rand.Rand) hooks { return hooks{palette: scaled(1 - f.Share)} },
	},
	{
		name: "clipping", keys: []string{"share"}, usual: Fault{Share: 0.3},
		random: func(_ *display.Profile, rng *rand.Rand) Fault { return Fault{Share: 0.2 + 0.3*rng.Float64()} },
		act: onChain(func(f Fault, c *Chain, m *machine) {
			c.ClipMV = m.p.Standard.Scan().WhiteMV * (1 - f.Share)
		}),
	},
}

// onChain makes a fault of what it does to the composite output.
func onChain(change func(f Fault, c *Chain, m *machine)) func(Fault, *machine, *rand.Rand) hooks {
	return func(f Fault, m *machine, _ *rand.Rand) hooks {
		return hooks{chain: func(c *Chain) { change(f, c, m) }}
	}
}

// scaled gives picture, but not sync, another size.
func scaled(by float64) func(video.YUV) video.YUV {
	return func(c video.YUV) video.YUV { return video.YUV{Y: c.Y * by, U: c.U * by, V: c.V * by} }
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
