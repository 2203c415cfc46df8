"""The capture device: sync separator with a loop, burst loop, four ways to part luma and chroma, clamp, gain, codes.

It samples at about four times subcarrier with a crystal of its own, so that demodulation is by 1, 0, -1, 0.
"""
import numpy as np
from scipy.ndimage import uniform_filter1d

CLAMP = (8.2e-6, 9.0e-6)  # of the back porch, after the burst


def traits(d, rng):
    """One device's ways and settings."""
    t = nominal(d)
    sort = str(rng.choice(["plain", "trap", "line", "adaptive"], p=[.25, .3, .2, .25]))
    t.update(sort=sort, ppm=rng.normal(0, 25e-6), peaking=float(rng.choice([0, 0, 0.1, 0.2, 0.35])), sharpen=float(rng.choice([0, 0, 0, 0.15, 0.3])),
             narrow=bool(rng.random() < 0.25), nearest=bool(rng.random() < 0.3), delay=rng.normal(0, 0.6), agc=bool(rng.random() < 0.7),
             agc_error=rng.normal(0, 0.025), acc=bool(rng.random() < 0.75), brightness=rng.normal(0, 2), contrast=1 + rng.normal(0, 0.035),
             saturation=1 + rng.normal(0, 0.07), hue=rng.normal(0, 3), setup=0.075 if d.hz == 60 and rng.random() < 0.4 else 0.0,
             clamp_lines=int(rng.choice([1, 7, 31])), shift=rng.normal(0, 3), top=int(rng.integers(-1, 2)), drift=rng.uniform(0, 0.15),
             jitter=rng.uniform(0.0, 0.06), tnr=float(rng.choice([0, 0, 0, 0.4, 0.65])), full=bool(rng.random() < 0.2), swap=bool(rng.random() < 0.3),
             cut=bool(rng.random() < 0.12), drop_line=bool(rng.random() < 0.03), repeat=bool(rng.random() < 0.05), kp=rng.uniform(0.1, 0.4),
             seed=int(rng.integers(1 << 30)), width=720, height=576 if d.hz == 50 else 480)
    u = rng.random()
    if u < 0.08:
        t["width"] = 704
    elif u < 0.14 and d.hz == 60:
        t["width"] = 640
    return t


def nominal(d):
    return dict(sort="trap", ppm=0.0, peaking=0.0, sharpen=0.0, narrow=False, nearest=False, delay=0.0, agc=True, agc_error=0.0, acc=True, brightness=0.0,
                contrast=1.0, saturation=1.0, hue=0.0, setup=0.0, clamp_lines=1, shift=0.0, top=0, drift=0.0, jitter=0.0, tnr=0.0, full=False, swap=False,
                cut=False, drop_line=False, repeat=False, kp=0.3, seed=2, width=720, height=576 if d.hz == 50 else 480)


class Device:
    def __init__(self, d, t, weak_sync=None):
        self.d, self.t, self.weak = d, t, weak_sync
        self.rate = 4 * d.fsc * (1 + t["ppm"])
        self.line = self.rate * (64e-6 if d.hz == 50 else 455 / 2 / d.fsc)
        self.lines = t["height"] // 2
        self.rng = np.random.default_rng([t["seed"], 4])
        self.at = self.v0 = None  # the loop's line time and where the field began
        self.period = self.line
        self.first = 132 if d.hz == 50 else 122  # of the 13.5 MHz samples after 0H, BT.601
        self.fields = 0
        self.last = {}
        self.free = (312.5 if d.hz == 50 else 262.5) + self.rng.normal(0, 2)

    # sync

    def separate(self, w, seconds):
        """Start of each line, in samples: a slicer, a loop that smooths, and a search for the long pulse."""
        fs, n = self.rate, len(w)
        low = uniform_filter1d(w, 9)
        tip = np.percentile(low[::11], 3)
        porch = np.percentile(low[::11], 12)  # between sync and black on most pictures
        cut = tip + 0.5 * (max(porch, tip + 0.05) - tip)
        for _ in range(2):
            below = low < cut
            fall = np.flatnonzero(below[1:] & ~below[:-1])
            if len(fall) < 50:
                break
            back = w.take((fall[:, None] + np.arange(int(8.2e-6 * fs), int(9e-6 * fs))).ravel(), mode="wrap")
            cut = 0.5 * (np.median(back) + tip)
        self.tip = float(tip)
        rise = np.flatnonzero(~below[1:] & below[:-1])
        edges = fall + (low[fall] - cut) / np.maximum(low[fall] - low[fall + 1], 1e-6)
        long = 12e-6 * fs
        after = np.searchsorted(rise, fall)
        wide = np.array([(rise[a] if a < len(rise) else n) - f for a, f in zip(after, fall)]) if len(fall) else np.array([])
        v = fall[wide > long]
        length = seconds * fs
        found = 0.0 if below[0] else (float(v[0]) if len(v) else None)
        if self.v0 is None:
            self.v0, self.at = found or 0.0, found or 0.0
        missed = self.weak and self.weak["way"] == "roll" and self.rng.random() < 0.97
        if found is not None and not missed:
            self.v0 = found
        else:  # it runs on by itself, near the standard's half lines
            self.v0 = (self.v0 + self.free * self.line - length) % length
        # the loop
        starts, t, p = np.empty(self.d.field_lines + 8), self.at, self.period
        errors = np.zeros(len(starts))
        if self.weak:
            bright = np.clip(w.take(np.arange(len(starts))[:, None] * int(self.line) + np.arange(200, 900, 20), mode="wrap").mean(1), 0, 1)
            us = self.weak["bend_us"] * 1e-6 * fs
            if self.weak["way"] == "tear":
                errors = us * 1.6 * (bright - 0.2) * (1 + 0.4 * self.rng.standard_normal()) + us * 0.06 * self.rng.standard_normal(len(starts))
            else:
                errors = us * (0.35 if self.weak["way"] == "jitter" else 0.08) * self.rng.standard_normal(len(starts))
        window, k = 0.12 * self.line, 0
        kp = self.t["kp"]
        edge_list = edges.tolist()
        for i in range(len(starts)):
            while k + 1 < len(edge_list) and abs(edge_list[k + 1] - t) <= abs(edge_list[k] - t):
                k += 1
            if edge_list and abs(edge_list[k] - t) < window:
                e = edge_list[k] - t + errors[i]
                t += kp * e
                p += 0.01 * kp * e
            starts[i] = t
            t += p
        whole = round((length - self.at) / p)
        self.at = starts[min(whole, len(starts) - 1)] - length
        self.period = p
        first = int(round((self.v0 - starts[0]) / p))
        return starts, first, p

    # one field

    def field(self, w, seconds):
        """Planes of codes before rounding: luma, and colour difference at half its width, 288 or 240 lines."""
        t, fs = self.t, self.rate
        starts, first, p = self.separate(w, seconds)
        top = (23 if self.d.hz == 50 else 19) + t["top"]
        rows = first + top + np.arange(-1, self.lines + 1)  # a line more on each side for the combs
        total = self.d.field_lines
        at = starts[rows % total] + (rows // total) * (seconds * fs)
        at = at + t["jitter"] * self.rng.standard_normal(len(at)) * fs / 13.5e6
        i0 = np.floor(at).astype(np.int64)
        m = int(self.line) + 12
        x = w.take(i0[:, None] + np.arange(m), mode="wrap")
        tip = float(np.median(w.take((at[:, None] + np.arange(1.5e-6 * fs, 3.5e-6 * fs)).astype(np.int64), mode="wrap")))
        y, u, v = self.part(x, i0, rows)
        porch = y[:, int(CLAMP[0] * fs):int(CLAMP[1] * fs)].mean(1)
        if t["clamp_lines"] > 1:
            porch = uniform_filter1d(porch, t["clamp_lines"], mode="nearest")
        gain = 1.0
        depth = {50: 300 / 700, 60: 0.4}[self.d.hz]
        if t["agc"]:
            gain = float(np.clip(depth / max(np.median(porch) - tip, 0.02), 0.75, 1.25))
        gain *= 1 + t["agc_error"]
        y = (y - porch[:, None]) * np.float32(gain)
        # on to the output's grid, line by line
        w_out, step = t["width"], p / self.d.samples
        unit = 720 / 640 if w_out == 640 else 1.0
        left = self.first + t["shift"] + (8 if w_out == 704 else 0) + t["drift"] * np.sin(self.fields * 0.21)
        grid = (at - i0)[:, None] + (left + np.arange(w_out) * unit) * step
        yy = cubic(y[1:-1], grid[1:-1])
        n = w_out // (4 if t["narrow"] else 2)
        cgrid = (at - i0)[:, None] + (left + t["delay"] + np.arange(n) * (unit * w_out / n)) * step
        take = nearest if t["nearest"] else linear
        cu, cv = take(u[1:-1] * np.float32(gain), cgrid[1:-1]), take(v[1:-1] * np.float32(gain), cgrid[1:-1])
        if t["narrow"]:
            cu, cv = cu.repeat(2, 1), cv.repeat(2, 1)
        if t["sharpen"]:
            yy = yy + np.float32(t["sharpen"]) * (2 * yy - np.roll(yy, 2, 1) - np.roll(yy, -2, 1)) / 2
        out = self.codes(yy, cu, cv)
        self.fields += 1
        return self.settle(out)

    def part(self, x, i0, rows):
        """Luma and colour difference of each line."""
        t, fs = self.t, self.rate
        m = x.shape[1]
        c4, s4 = np.resize(np.float32([1, 0, -1, 0]), m), np.resize(np.float32([0, 1, 0, -1]), m)
        zr, zi = x * c4, -x * s4
        wide = 8 if t["sort"] == "plain" else 4
        for size, origin in ((8, 0), (8, -1), (wide, 0), (wide, -1)) if not t["narrow"] else ((16, 0), (16, -1), (8, 0), (8, -1)):
            zr, zi = uniform_filter1d(zr, size, origin=origin), uniform_filter1d(zi, size, origin=origin)
        z = zr + 1j * zi
        j = int(6.7e-6 * fs)
        turn = np.exp(-0.5j * np.pi * (i0 % 4))  # to the crystal's own phase, which runs through all lines
        burst = z[:, j - 6:j + 7].mean(1) * turn
        pal = self.d.hz == 50
        smooth = uniform_filter1d(burst.real, 10, mode="mirror") + 1j * uniform_filter1d(burst.imag, 10, mode="mirror")
        parity = rows % 2
        if pal:  # the swing cancels over pairs: -K/sqrt 2 is left; X = Re(-i C e), so that burst is -i/2 of C
            lock = -2j * smooth
            sign = np.imag(2j * burst * np.conj(lock))
            even = sign[parity == 0].sum() - sign[parity == 1].sum() > 0
            switch = np.where((parity == 0) == even, 1, -1)
            level = 2 * abs(smooth) * np.sqrt(2)
        else:
            lock, switch, level = -2j * smooth, np.ones(len(rows)), 2 * abs(smooth)
        level = float(np.median(level))
        nominal = {50: 150 / 700, 60: 0.2}[self.d.hz]
        killed = level < 0.12 * nominal
        unit = lock / np.maximum(abs(lock), 1e-9)
        phase = (np.conj(unit) * turn).astype(np.complex64)[:, None]
        c = (2j * z * phase).astype(np.complex64)
        s = switch.astype(np.float32)[:, None]
        base = c.real + 1j * (s * c.imag)
        if killed:
            self.killed = True
            y = x if t["sort"] in ("line", "adaptive") else x - self.remade(c, phase, c4, s4)
            return y, np.zeros_like(x), np.zeros_like(x)
        self.killed = False
        if t["sort"] in ("line", "adaptive"):
            up, down = np.roll(base, 1, 0), np.roll(base, -1, 0)
            if t["sort"] == "line":
                comb = 0.5 * (base + up)
            else:
                du, dd = abs(base - up), abs(base - down)
                comb = np.where(du < dd, 0.5 * (base + up), 0.5 * (base + down))
                own = np.minimum(du, dd) > 0.15
                comb = np.where(own, base, comb)
            y = x - self.remade(comb.real + 1j * s * comb.imag, phase, c4, s4)
            base = comb
        else:
            y = x - self.remade(c, phase, c4, s4)
            if pal:  # the delay line of every PAL decoder
                base = 0.5 * (base + np.roll(base, 1, 0))
        if t["sort"] == "plain":  # the cheapest trap, two taps two samples apart
            y = 0.5 * (np.roll(x, 1, 1) + np.roll(x, -1, 1))
            y = y + 0.35 * (2 * y - np.roll(y, 4, 1) - np.roll(y, -4, 1)) / 2
        if t["peaking"]:
            y = y + np.float32(t["peaking"]) * (2 * y - np.roll(y, 3, 1) - np.roll(y, -3, 1)) / 2
        gain = min(nominal / max(level, 1e-6), 4.0) if t["acc"] else 1.0
        a = np.exp(1j * np.radians(t["hue"])) * t["saturation"] * gain
        base = base * np.complex64(a)
        return y, base.real, base.imag

    def remade(self, c, phase, c4, s4):
        """Colour put back on its carrier: Re(C / 2i / phase * e) twice."""
        q = c * np.complex64(-1j) * np.conj(phase)
        return q.real * c4 - q.imag * s4

    def codes(self, y, u, v):
        """BT.601 codes, with the settings; setup is taken off only where the device does."""
        t = self.t
        y = (y - t["setup"]) / (1 - t["setup"]) * t["contrast"]
        k = t["contrast"] / (1 - t["setup"])
        cb, cr = u * k * (0.5 / 0.886 / 0.493), v * k * (0.5 / 0.701 / 0.877)
        if t["full"]:
            return [255 * y + t["brightness"], 255 * cb + 128, 255 * cr + 128]
        return [16 + 219 * y + t["brightness"], 128 + 224 * cb, 128 + 224 * cr]

    def settle(self, out):
        """Noise reduction over time: small changes come in slowly."""
        out = [np.clip(p, 1, 254).astype(np.float32) for p in out]
        k = self.t["tnr"]
        if k:
            key = self.fields % 2
            if key in self.last:
                out = [np.where(abs(p - q) < 9, q + (1 - k) * (p - q), p).astype(np.float32) for p, q in zip(out, self.last[key])]
            self.last[key] = out
        return out


def taps(x, grid, offsets):
    k = np.floor(grid).astype(np.int64)
    base = np.arange(x.shape[0])[:, None] * x.shape[1]
    flat = np.ascontiguousarray(x).ravel()
    k = np.clip(k, 1, x.shape[1] - 3)
    return (grid - k).astype(np.float32), [flat[base + k + o] for o in offsets]


def cubic(x, grid):
    """Four-point interpolation (Catmull-Rom)."""
    f, (a, b, c, e) = taps(x, grid, (-1, 0, 1, 2))
    return b + 0.5 * f * (c - a + f * (2 * a - 5 * b + 4 * c - e + f * (3 * (b - c) + e - a)))


def linear(x, grid):
    f, (b, c) = taps(x, grid, (0, 1))
    return b + f * (c - b)


def nearest(x, grid):
    return taps(x, np.round(grid), (0,))[1][0]
