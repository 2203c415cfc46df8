"""A machine's raster as composite video, and the faults of its output.

1.5 samples for each luma sample of BT.601: 1296 of a line in 625/50, 1287 in 525/60. Rows of the array are the machine's lines;
column 0 is PRE samples before 0H, the middle of the leading edge of sync. Values are millivolts above blanking.
"""
import numpy as np
from scipy import signal
from scipy.ndimage import uniform_filter1d

PRE, POST = 20, 44  # samples kept before 0H and after the next one


class Standard:
    """Levels and times of BT.1700 (625/50) and SMPTE 170M (525/60, without setup); mV and microseconds after 0H."""

    def __init__(self, d):
        self.samples = 1296 if d.pal else 1287
        self.white, self.sync = (700.0, 300.0) if d.pal else (5000 / 7, 2000 / 7)
        self.burst = 150.0 if d.pal else 1000 / 7   # amplitude
        self.sync_us, self.burst_us = 4.7, (5.6, 7.855) if d.pal else (5.308, 7.822)
        self.edge_us = 0.2 if d.pal else 0.14
        self.active_us = (10.5, 62.5) if d.pal else (9.2, 62.0556)
        self.per_us = self.samples * d.line_hz / 1e6


def tolerances(r):
    """What parts of a good machine do: levels, angles and times a little off."""
    return {"sync": r.normal(1, 0.04), "white": r.normal(0.98, 0.04), "burst": r.normal(1, 0.07), "chroma": r.normal(0.97, 0.08),
            "hue": r.normal(0, 2.0), "lag_us": r.uniform(-0.03, 0.06), "rise_us": r.uniform(0.03, 0.11), "start_us": r.uniform(-0.3, 0.4),
            "each_hue": r.normal(0, 2.0, 16), "each_gain": r.normal(1, 0.04, 16), "each_luma": r.normal(0, 0.008, 16),
            "noise": r.uniform(0.8, 3.0), "sub0": r.uniform(0, 2 * np.pi), "v_first": int(r.integers(14, 20))}


def smooth(x, width):
    """Pixels (one column each) at sample places with ramps `width` pixels long: an exact box over their running sum."""
    total = np.concatenate([np.zeros((x.shape[0], 1)), np.cumsum(x, axis=1)], axis=1)

    def at(p):
        p = np.clip(p, 0, x.shape[1] - 1e-9)
        i = p.astype(int)
        return total[:, i] * (1 - (p - i)) + total[:, i + 1] * (p - i)

    return lambda p: (at(p + width / 2) - at(p - width / 2)) / width


def pulse(n, a, b, edge):
    """1 from a to b (samples), with straight edges whose middle is there; `edge` is 10 to 90 %."""
    t, e = np.arange(n), edge / 0.8
    return np.clip((t - a) / e + 0.5, 0, 1) * np.clip((b - t) / e + 0.5, 0, 1)


class Signal:
    """The still part of a machine's output for one raster: luma with sync, and the two parts of chroma that a line's phase weighs."""

    def __init__(self, d, out, table, tol, faults):
        self.d, self.std = d, Standard(d)
        s = self.std
        n = s.samples
        self.width = PRE + n + POST
        w = self.width
        self.colour = 2 * np.pi * d.fsc / (d.line_hz * n)       # radians a sample
        self.step = 2 * np.pi * ((d.fsc / d.line_hz) % 1)         # radians a line
        made = {x["kind"]: x["made"] for x in faults if x["class"] == "signal"}
        y = table[:, 0] + tol["each_luma"] * (table[:, 0] > 0.01)
        c = (table[:, 1] + 1j * table[:, 2]) * tol["each_gain"] * tol["chroma"] * np.exp(1j * np.radians(tol["hue"] + tol["each_hue"]))
        if "hue-shift" in made:
            c = c * np.exp(1j * np.radians(made["hue-shift"]["degrees"]))
        gain = made.get("level-high", made.get("level-low", {"gain": 1}))["gain"]
        if made.get("colour-lost", {}).get("how") == "chroma":
            c = c * 0
        us = (np.arange(w) - PRE) / s.per_us
        room = s.active_us[1] - s.active_us[0] - out.shape[1] / d.clock * 1e6
        self.left_us = s.active_us[0] + room / 2 + tol["start_us"]
        at = (us - self.left_us) * d.clock / 1e6   # pixel periods from the left end of what is seen
        light, tint = smooth(y[out], 0.4), smooth(c[out], 0.6)
        white = s.white * tol["white"] * gain
        lag = tol["lag_us"] * d.clock / 1e6
        luma, chroma = white * light(at), white * tint(at - lag)
        self.first = tol["v_first"]
        full_l, full_c = np.zeros((d.lines, w)), np.zeros((d.lines, w), complex)
        rows = slice(self.first, self.first + out.shape[0])
        full_l[rows], full_c[rows] = luma, chroma
        switch = np.where(np.arange(d.lines) % 2, -1.0, 1.0)[:, None] if d.pal else np.ones((d.lines, 1))
        envelope = pulse(w, PRE + s.burst_us[0] * s.per_us, PRE + s.burst_us[1] * s.per_us, 0.3 * s.per_us)
        depth = made["colour-lost"]["burst"] if made.get("colour-lost", {}).get("how") == "burst" else 1.0
        burst = s.burst * tol["burst"] * depth * (gain if "level-low" in made else 1)
        full_c[6:] += burst * envelope * (np.exp(0.75j * np.pi) if d.pal else -1)
        height = s.sync * tol["sync"] * made.get("sync-weak", {"height": 1})["height"]
        line = pulse(w, PRE, PRE + s.sync_us * s.per_us, s.edge_us * s.per_us) + pulse(w, PRE + n, 2 * n, s.edge_us * s.per_us)
        full_l -= height * line
        broad = pulse(w, PRE, PRE + n - s.sync_us * s.per_us, s.edge_us * s.per_us) + pulse(w, PRE + n, 2 * n, s.edge_us * s.per_us)
        full_l[:3] = -height * broad  # one long field pulse, no half lines
        if "fixed-bars" in made:
            b = made["fixed-bars"]
            p = at / b["period"] + b["phase"]
            wave = np.where(p % 1 < 0.5, 1.0, -1.0) if b["square"] else np.sin(2 * np.pi * p)
            full_l[rows] += b["mv"] * wave * ((at > 0) & (at < out.shape[1]))
        t = np.arange(w) * self.colour
        u, v = full_c.real, full_c.imag * switch
        self.luma = full_l.astype(np.float32)
        self.cos = (u * np.sin(t) + v * np.cos(t)).astype(np.float32)     # weighs cos of the line's phase
        self.sin = (u * np.cos(t) - v * np.sin(t)).astype(np.float32)
        self.output(tol, made)

    def output(self, tol, made):
        """The output stage and its linear faults; the same for luma and carrier."""
        fs = self.std.per_us * 1e6
        slow = made.get("low-bandwidth", {"where": "", "hz": 0, "poles": 0})
        for name in ("luma", "cos", "sin"):
            x = getattr(self, name)
            poles = [0.3497 / tol["rise_us"] * 1e6] + [slow["hz"]] * slow["poles"] * (name == "luma" or slow["where"] == "all")
            for hz in poles:  # one pole, matched in time
                a = np.exp(-2 * np.pi * hz / fs)
                x = signal.lfilter([1 - a], [1, -a], x, axis=1).astype(np.float32)
            if "ringing" in made:
                m = made["ringing"]
                b, a = signal.bilinear([(2 * np.pi * m["hz"]) ** 2], [1, 4 * np.pi * m["damping"] * m["hz"], (2 * np.pi * m["hz"]) ** 2], fs)
                x = signal.lfilter(b, a, x, axis=1).astype(np.float32)
            if "ghost" in made:
                n = int(round(made["ghost"]["us"] * self.std.per_us))
                x = x.copy()
                x[:, n:] += made["ghost"]["part"] * x[:, :-n]
            setattr(self, name, x)

    def lines(self, rows, field, tol, faults, r):
        """The lines `rows` (any whole numbers; they wrap into the fields before and after) of a field, with all that changes."""
        d, made = self.d, {x["kind"]: x["made"] for x in faults if x["class"] == "signal"}
        at = rows % d.lines
        count = field * d.lines + rows
        phase = (tol["sub0"] + self.step * count).astype(np.float64)[:, None]
        x = self.luma[at] + self.cos[at] * np.cos(phase).astype(np.float32) + self.sin[at] * np.sin(phase).astype(np.float32)
        seconds = count / d.line_hz
        if "hum" in made:
            m = made["hum"]
            turn = 2 * np.pi * m["hz"] * seconds + m["phase"]
            ripple = (np.sin(turn) if m["shape"] == "sine" else 1 - 2 * np.abs(np.sin(turn / 2)))[:, None].astype(np.float32)
            x = x * (1 + m["gain"] * ripple) + m["mv"] * ripple
        if "clipping" in made:
            m = made["clipping"]
            knee = np.float32(m["mv"])
            x = np.where(x > knee, knee + (x - knee) * m["slope"], x).astype(np.float32)
        if "interference" in made:
            m = made["interference"]
            t = (np.arange(self.width) - PRE) / (self.std.per_us * 1e6)
            turn = 2 * np.pi * m["hz"] * (seconds[:, None] + t) + m["phase"]
            x = x + (m["mv"] * np.sin(turn)).astype(np.float32)
        sigma = tol["noise"] + (made["noise"]["mv"] if "noise" in made else 0)
        white = r.standard_normal(x.shape, dtype=np.float32) * np.float32(sigma)
        if "noise" in made and made["noise"]["soft"]:
            white = uniform_filter1d(white, 3, axis=1) * 1.7
        return x + white
