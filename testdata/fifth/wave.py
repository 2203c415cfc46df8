"""The machine's output as one running waveform at the device's own rate: counters make sync and burst by the pixel clock.

Levels are parts of white above blanking. Sync, burst and their times: ITU-R BT.1700 (625), SMPTE 170M (525).
"""
import numpy as np
from scipy.signal import iirpeak, lfilter

SYNC = {50: 300 / 700, 60: 40 / 100}
BURST = {50: 150 / 700, 60: 20 / 100}  # peak
TIMES = {50: dict(sync=4.7e-6, burst=5.6e-6, cycles=10, active=10.5e-6, blank=1.5e-6), 60: dict(sync=4.7e-6, burst=5.308e-6, cycles=9, active=9.2e-6, blank=1.5e-6)}


def traits(d, rng):
    """One machine's tolerances; the dictionary of a nominal machine is `nominal`."""
    t = nominal(d)
    t.update(clock=d.clock * (1 + rng.normal(0, 30e-6)), sync=t["sync"] * (rng.uniform(0.92, 1.06) if rng.random() < 0.92 else rng.uniform(0.84, 0.92)), burst=t["burst"] * rng.uniform(0.85, 1.15),
             white=rng.uniform(0.93, 1.04), setup=0.075 if d.hz == 60 and rng.random() < 0.35 else 0.0, luma_hz=rng.uniform(4.5e6, 9e6),
             chroma_hz=rng.uniform(1.1e6, 2.8e6), out_hz=rng.uniform(7e6, 14e6), snr=rng.uniform(41, 54), hum=rng.uniform(0, 0.008),
             leak=rng.uniform(0, 0.006), start=int(rng.integers(-3, 4)), top=int(rng.integers(-1, 2)), serrated=bool(rng.random() < 0.6),
             colours=1 + rng.normal(0, 0.025, (16, 3)), seed=int(rng.integers(1 << 30)))
    if d.kind == "text":
        t["fsc"] = t["clock"] * (9 / 16 if d.hz == 50 else 7 / 16)  # one crystal for dots and colour
    else:
        t["fsc"] = d.fsc * (1 + rng.normal(0, 12e-6))  # two crystals: dots of colour crawl
    return t


def nominal(d):
    return dict(clock=d.clock, fsc=d.fsc, sync=SYNC[d.hz], burst=BURST[d.hz], white=1.0, setup=0.0, luma_hz=None, chroma_hz=None, out_hz=None, snr=None,
                hum=0.0, leak=0.0, start=0, top=0, serrated=True, colours=np.ones((16, 3)), seed=1)


class Wave:
    """Fields of waveform for one machine; `rate` is the device's, about four times subcarrier."""

    def __init__(self, d, t, rate, faults):
        self.d, self.t, self.rate, self.faults = d, t, rate, {f["kind"]: f for f in faults if f["class"] == "signal"}
        n, lines, clock = d.line_pixels, d.field_lines, t["clock"]
        times = TIMES[d.hz]
        self.seconds = n * lines / clock
        self.length = int(self.seconds * rate)
        at = np.arange(self.length) * (clock / rate)
        self.k0 = at.astype(np.int64)
        end = at + clock / rate
        k1 = np.minimum(end.astype(np.int64), n * lines - 1)
        self.part = np.where(k1 > self.k0, (end - k1) / (clock / rate), 0).astype(np.float32)
        self.k1 = k1
        self.px = (at % n).astype(np.float32)
        px = lambda s: int(round(s * clock))
        line = np.zeros((lines, n), np.float32)
        line[:, :px(times["sync"])] = -1
        line[:3] = -1
        if t["serrated"]:
            line[:3, n - px(times["sync"]):] = 0
        self.sync = line
        seen = px(times["active"]) + (n - px(times["active"]) - px(times["blank"]) - d.seen_w) // 2
        self.x0 = seen + t["start"]
        self.y0 = (23 if d.hz == 50 else 19) + t["top"]
        self.gate = slice(px(times["burst"]), px(times["burst"] + times["cycles"] / d.fsc))
        self.switch = np.where(np.arange(lines) % 2, -1, 1).astype(np.float32)[:, None] if d.hz == 50 else np.float32(1)
        w = 2 * np.pi * t["fsc"] / rate * np.arange(self.length)
        self.s0, self.c0 = np.sin(w).astype(np.float32), np.cos(w).astype(np.float32)
        self.cached = None
        self.noise = np.random.default_rng([t["seed"], 3])

    def pole(self, x, hz):
        """One pole; None passes."""
        if hz is None:
            return x
        a = np.float32(1 - np.exp(-2 * np.pi * hz / self.rate))
        return lfilter([a], np.float32([1, a - 1]), x).astype(np.float32)

    def resample(self, rows):
        x = np.ascontiguousarray(rows, np.float32).ravel()
        a = x[self.k0]
        return a + self.part * (x[self.k1] - a)

    def parts(self, raster, palette):
        """Luma with sync, and the two quadratures of chroma at the field's start."""
        t, d = self.t, self.d
        yuv = (palette * t["colours"]).astype(np.float32)
        if "hue-shift" in self.faults:  # before the switch of V, so that it is hue in PAL too
            a = np.radians(self.faults["hue-shift"]["degrees"])
            u, v = yuv[:, 1].copy(), yuv[:, 2].copy()
            yuv[:, 1], yuv[:, 2] = u * np.cos(a) - v * np.sin(a), u * np.sin(a) + v * np.cos(a)
        gain = t["white"]
        for kind in ("level-high", "level-low"):
            gain *= self.faults[kind]["made"]["gain"] if kind in self.faults else 1
        sync = t["sync"] * (self.faults["sync-weak"]["made"]["left"] if "sync-weak" in self.faults else 1)
        y = self.sync * np.float32(sync)
        u, v = np.zeros_like(y), np.zeros_like(y)
        box = (slice(self.y0, self.y0 + d.seen_h), slice(self.x0, self.x0 + d.seen_w))
        pedestal = 1 - t["setup"]
        y[box] = yuv[raster, 0] * (pedestal * gain) + t["setup"]
        u[box] = yuv[raster, 1] * (pedestal * gain) + t["leak"]
        v[box] = yuv[raster, 2] * (pedestal * gain)
        lost = self.faults.get("colour-lost")
        way = lost["made"]["way"] if lost else ""
        if way == "no chroma":
            u[:], v[:] = 0, 0
        if way not in ("no chroma", "no burst"):
            b = t["burst"] * gain / t["white"]
            u[9:, self.gate] = -b / np.sqrt(2) if d.hz == 50 else -b
            v[9:, self.gate] = b / np.sqrt(2) if d.hz == 50 else 0
        y = self.pole(self.resample(y), t["luma_hz"])
        u, v = self.pole(self.resample(u), t["chroma_hz"]), self.pole(self.resample(v * self.switch), t["chroma_hz"])
        return y, u * self.s0 + v * self.c0, u * self.c0 - v * self.s0

    def field(self, k, raster, palette):
        """The k-th field's samples; the first is line 0's half amplitude of sync."""
        key = (raster.tobytes(), palette.tobytes())
        if self.cached is None or self.cached[0] != key:
            self.cached = (key, self.parts(raster, palette))
        y, a, b = self.cached[1]
        at = k * self.seconds
        th = 2 * np.pi * ((self.t["fsc"] * at) % 1)
        w = y + np.float32(np.cos(th)) * a + np.float32(np.sin(th)) * b
        w = self.pole(w, self.t["out_hz"])
        return self.spoil(w, at)

    def spoil(self, w, at):
        """What the output stage, its supply and the cable do."""
        fs, f, t = self.rate, self.faults, self.t
        m = {k: f[k]["made"] for k in f}
        if "clipping" in f:
            w = np.minimum(w, np.float32(m["clipping"]["at"]))
        if "low-bandwidth" in f:
            w = self.pole(w, m["low-bandwidth"]["hz"])
        if "ringing" in f:
            b, a = iirpeak(m["ringing"]["hz"], m["ringing"]["q"], fs)
            w = w + np.float32(m["ringing"]["part"]) * lfilter(b.astype(np.float32), a.astype(np.float32), w)
        if "ghost" in f:
            w = w + np.float32(m["ghost"]["part"]) * np.roll(w, int(round(m["ghost"]["delay_us"] * 1e-6 * fs)))
        j = np.arange(self.length, dtype=np.float32)
        turn = lambda hz, phase=0.0: np.sin(np.float32(2 * np.pi * hz / fs) * j + np.float32((2 * np.pi * hz * at + phase) % (2 * np.pi)))
        if "fixed-bars" in f:
            x = m["fixed-bars"]
            s = np.sin(2 * np.pi / f["fixed-bars"]["period_px"] * self.px + x["phase"])
            w = w + np.float32(x["part"] / 2) * (np.sign(s) * np.float32(0.8) if x["square"] else s).astype(np.float32)
        if "interference" in f:
            w = w + np.float32(m["interference"]["part"] / 2) * turn(f["interference"]["frequency_hz"]).astype(np.float32)
        hum, hz, phase = (m["hum"]["part"], m["hum"]["hz"], m["hum"]["phase"]) if "hum" in f else (t["hum"], self.d.hz, 1.0)
        if hum:
            s = turn(hz, phase)
            w = w * (1 + np.float32(hum * 0.3) * s) + np.float32(hum * 0.45) * s
        snr = min(t["snr"] or 99, m["noise"]["snr_db"] if "noise" in f else 99)
        if snr < 90:
            w = w + self.noise.standard_normal(self.length, dtype=np.float32) * np.float32(10 ** (-snr / 20))
        return w.astype(np.float32)
