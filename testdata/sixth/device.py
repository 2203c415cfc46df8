"""A capture device: line lock, clamp, gain control, colour decoder, BT.601 sampling, scaler, 8-bit 4:2:2 codes."""
import numpy as np
from scipy import signal
from scipy.ndimage import uniform_filter1d

from wave import POST, PRE

CHUNK = 36       # luma sample pairs that one product of matrices gives
MARGIN = 24      # samples on either side that the filters reach


def tastes(r, d):
    """A device's own habits."""
    comb_fits = abs((2 if d.pal else 1) * d.fsc / d.line_hz % 1 - 0.5) < 0.06
    decoder = str(r.choice(["notch", "notch-narrow", "comb", "adaptive"], p=[.35, .2, .2, .25]))
    return {"decoder": "notch" if decoder == "comb" and not comb_fits else decoder, "comb_fits": comb_fits,
            "chroma_hz": r.uniform(0.55e6, 1.3e6), "luma_hz": r.uniform(4.6e6, 6.0e6), "delay_line": bool(d.pal and r.random() < 0.75),
            "contrast": r.normal(1, 0.05), "black": r.normal(0, 2.0), "saturation": r.normal(1, 0.1), "hue": r.normal(0, 2.5),
            "agc": r.uniform(0, 1), "clamp": r.uniform(0.25, 1.0), "loop": r.uniform(0.08, 0.4), "slicer": r.uniform(0.01, 0.05),
            "x0": r.uniform(-5, 5), "y0": int(r.integers(-2, 3)), "order": int(r.random() < 0.25), "step": int(r.random() < 1 / 12),
            "scale": 1.0 if r.random() < 0.75 else r.uniform(0.996, 1.004), "full_range": bool(r.random() < 0.2),
            "codes_noise": r.uniform(0.2, 0.7), "peaking": 0.0 if r.random() < 0.6 else r.uniform(0.1, 0.5),
            "size": (720, 704, 640)[int(r.choice(3, p=[.88, .05, .07]))]}


def response(hz, gain, fs, even, at):
    """A symmetric filter by its response; of even length it gives values half a sample on. `at` is subcarrier and the exact gain there:
    so short a filter would otherwise miss its null, and flat colour leave dots."""
    f = np.clip(np.array(hz) / (fs / 2), 0, 1)
    f[0], f[-1] = 0, 1
    g = np.array(gain, float)
    if even:
        g[-1] = 0
    h = signal.firwin2(32 if even else 33, f, g)
    n = np.arange(len(h)) - (len(h) - 1) / 2
    c = np.stack([np.ones(len(h)), np.cos(2 * np.pi * at[0] / fs * n)])  # the least change that sets both gains
    return h + c.T @ np.linalg.solve(c @ c.T, np.array([gain[0], at[1]]) - c @ h)


class Bank:
    """Filters whose outputs go on by 3 samples, as banded products: from `start` on, one column a filter."""

    def __init__(self, filters):
        k = len(filters)
        self.k, self.width = k, 3 * CHUNK + 2 * MARGIN
        m = np.zeros((self.width, CHUNK, k), np.float32)
        for j, (taps, ahead) in enumerate(filters):
            for o in range(CHUNK):
                at = MARGIN + 3 * o + ahead - len(taps) // 2
                m[at:at + len(taps), o, j] = taps
        self.m = m.reshape(self.width, CHUNK * k)

    def run(self, x, start, n):
        out = np.empty((x.shape[0], n * self.k), np.float32)
        for o in range(0, n, CHUNK):
            a = start + 3 * o - MARGIN
            out[:, o * self.k:(o + CHUNK) * self.k] = x[:, a:a + self.width] @ self.m
        return out


class Device:
    def __init__(self, d, std, t, colour, step):
        self.d, self.std, self.t, self.colour, self.step = d, std, t, colour, step
        fs, fsc = std.samples * d.line_hz, d.fsc
        hi, wide = t["luma_hz"], 0.35e6 if t["decoder"] == "notch-narrow" else 0.7e6
        peak = 1 + t["peaking"]
        lp = ([0, 2e6, 3.2e6, hi, hi + 1.3e6, fs / 2], [1, 1, peak, peak, 0, 0])
        notch = ([0, min(2e6, fsc - 2.2e6), fsc - wide - 0.9e6, fsc - wide / 2, fsc + wide / 2, fsc + wide + 0.5e6, fsc + wide + 1.8e6, fs / 2],
                 [1, 1, peak, 0, 0, 0.7 * peak, 0, 0])
        bp = ([0, fsc - 1.7e6, fsc - 0.6e6, fsc + 0.6e6, fsc + 1.7e6, fs / 2], [0, 0, peak, peak, 0, 0])

        def pair(shape, there):  # luma samples fall on every 1.5th sample; 33 taps have their middle on 16, 32 taps between 15 and 16
            return [(response(*shape, fs, even, (fsc, there)), 2 * even) for even in (False, True)]

        self.notch, self.low, self.band = Bank(pair(notch, 0)), Bank(pair(lp, peak)), Bank(pair(bp, peak))
        taps = signal.firwin(45, t["chroma_hz"], fs=fs, window=("kaiser", 5.0))
        self.tint = Bank([(taps, 0)])
        t_ = np.arange(PRE + std.samples + POST) * colour
        self.mix = (np.sin(t_) * 2).astype(np.float32), (np.cos(t_) * 2).astype(np.float32)
        self.position, self.gain, self.kill, self.black = 0.0, 1.0, False, None

    def lock(self, x, r, slicer, hold):
        """Times of the lines in samples, by a slicer at half of sync and a loop that smooths; `hold` is by how much the loop is pulled off."""
        soft = uniform_filter1d(x[:, :2 * PRE + 8], 7, axis=1)
        tip, blank = np.median(x[:, PRE + 25:PRE + 80]), np.median(x[:, :PRE - 10])
        below = soft < (tip + blank) / 2
        i = np.clip(below.argmax(axis=1), 1, soft.shape[1] - 1)
        rows = np.arange(len(x))
        a, b = soft[rows, i - 1], soft[rows, i]
        with np.errstate(divide="ignore", invalid="ignore"):
            frac = np.where(np.abs(a - b) > 1e-6, (a - (tip + blank) / 2) / (a - b), 0)
        seen = np.where(below.any(axis=1) & (below[:, 0] == 0), i - 1 + np.clip(frac, 0, 1) - PRE, 0) + slicer * r.standard_normal(len(x))
        out, p = np.empty(len(x)), self.position
        for k, e in enumerate(seen):
            p += self.t["loop"] * (e - p)
            out[k] = p
        self.position = p
        return out + hold, blank - tip

    def align(self, x, shift):
        """Each line moved left by `shift` samples: whole ones by index, the rest by a six-tap kernel."""
        whole = np.floor(shift).astype(int)
        frac = shift - whole
        n = x.shape[1]
        base = np.pad(x, ((0, 0), (200, 200)), mode="edge")
        out = np.zeros_like(x)
        start = np.clip(200 + whole, 3, 397)
        for k in range(-2, 4):
            w = np.sinc(frac - k) * np.sinc((frac - k) / 3)
            if np.all(start == start[0]):
                out += base[:, start[0] + k:start[0] + k + n] * w[:, None].astype(np.float32)
            else:
                at = (start + k)[:, None] + np.arange(n)[None, :]
                out += np.take_along_axis(base, at, axis=1) * w[:, None].astype(np.float32)
        return out

    def field(self, sig, field, tol, faults, r, made):
        """One field as luma (lines x 720) and chroma (lines x 360, U + jV), in parts of white."""
        d, t, s = self.d, self.t, self.std
        n = 288 if d.pal else 240
        weak = made.get("sync-weak", {})
        first = sig.first + t["y0"] + (t["step"] if field % 2 else 0) + int(weak.get("roll", 0) * field)
        rows = np.arange(first - 2, first + n + 1)
        x = sig.lines(rows, field, tol, faults, r)
        hold = np.zeros(len(rows))
        if weak.get("tear"):
            for _ in range(int(r.integers(1, 4))):
                a = int(r.integers(0, len(rows) - 30)) if r.random() < 0.6 else 0
                k = np.arange(len(rows) - a)
                hold[a:] += r.choice([-1, 1]) * r.uniform(0.4, 1) * weak["tear"] * np.exp(-k / r.uniform(10, 40))
        rough = weak.get("jitter", 0) / np.sqrt(t["loop"] / (2 - t["loop"]))  # so that the loop leaves that much
        times, height = self.lock(x, r, t["slicer"] + rough, hold)
        x = self.align(x, times + (t["x0"] * 1.5))
        porch = x[:, PRE + 164:PRE + 182].mean(axis=1) if d.pal else x[:, PRE + 163:PRE + 175].mean(axis=1)
        level, out = (porch.mean() if self.black is None else self.black), np.empty(len(porch))
        for k, p in enumerate(porch):
            level += (made.get("hum", {}).get("clamp", t["clamp"])) * (p - level)
            out[k] = level
        self.black = level
        x = x - out[:, None].astype(np.float32)
        wanted = np.clip(s.sync / max(height, 1), 0.85, 1.18)
        self.gain += (0.3 if field else 1.0) * (1 + t["agc"] * (wanted - 1) - self.gain)
        x = x * np.float32(self.gain / s.white)
        return self.colours(x, rows, field, times)

    def colours(self, x, rows, field, times):
        d, t = self.d, self.t
        start = PRE + 198 if d.pal else PRE + 183  # sample 0 is 132 (122) luma samples after 0H, BT.601
        comb = t["decoder"] in ("comb", "adaptive") and t["comb_fits"]
        back = 2 if d.pal else 1
        a, b = int(PRE + self.std.burst_us[0] * self.std.per_us) + 2, int(PRE + self.std.burst_us[1] * self.std.per_us) - 2
        u, v = x * self.mix[0], x * self.mix[1]
        # U + jV of each line turned by its phase: that of the machine's carrier, and of the moment its line was taken from.
        phase = self.step * (field * d.lines + rows) + self.colour * times
        burst = (u[:, a:b] + 1j * v[:, a:b]).mean(axis=1) * np.exp(-1j * phase)
        switch = np.where(rows % d.lines % 2, -1.0, 1.0)[:, None] if d.pal else np.ones((len(rows), 1))
        swing = np.sqrt(0.5) if d.pal else 1.0  # the bursts of two PAL lines add up to one along -U
        zero, want = -burst.mean(), self.std.burst / self.std.white
        amount = abs(zero) / swing
        self.kill = amount < 0.22 * want
        fix = abs(zero) / zero * min(want / amount, 4.0) * t["saturation"] if not self.kill else 0
        zu, zv = self.tint.run(u, start, 360), self.tint.run(v, start, 360)
        z = (zu + 1j * zv) * (fix * np.exp(-1j * phase))[:, None]
        z = np.where(switch > 0, z, np.conj(z)) * np.exp(1j * np.radians(t["hue"]))
        z = z.astype(np.complex64)
        mono = self.notch.run(x, start, 360)
        if comb:
            c = self.band.run(x, start, 360)
            y = self.low.run(x, start, 360)
            c[back:] = (c[back:] - c[:-back]) / 2
            y = y - c
            if t["decoder"] == "adaptive":
                diff = np.zeros(z.shape, np.float32)
                diff[back:] = np.abs(z[back:] - z[:-back])
                use = np.repeat(np.clip(1.3 - diff / 0.08, 0, 1), 2, axis=1)
                y = mono + use * (y - mono)
            mono = y
            if t["decoder"] == "comb":
                z[back:] = (z[back:] + z[:-back]) / 2
        if t["delay_line"]:
            z[1:] = (z[1:] + z[:-1]) / 2
        return mono[2:-1], z[2:-1]

    def codes(self, y, z, r):
        """8-bit codes of a field: luma, Cb, Cr. BT.601, or stretched to all of 0..255."""
        t = self.t
        u, v = z.real / 0.873596, z.imag / 1.229554   # to Cb', Cr' of full scale 1 (BT.601)
        y, u, v = self.scaled(y, 720), self.scaled(u, 360), self.scaled(v, 360)
        y = 16 + 219 * y * t["contrast"] + t["black"] + t["codes_noise"] * r.standard_normal(y.shape, dtype=np.float32)
        u, v = 128 + 224 * u * t["contrast"], 128 + 224 * v * t["contrast"]
        if t["full_range"]:
            y, u, v = (y - 16) * 255 / 219, 128 + (u - 128) * 255 / 224, 128 + (v - 128) * 255 / 224
            return [np.clip(np.round(p), 0, 255).astype(np.uint8) for p in (y, u, v)]
        return [np.clip(np.round(p), 1, 254).astype(np.uint8) for p in (y, u, v)]

    def places(self, n):
        """Where a scaled device's samples lie among the n BT.601 gives."""
        w, f = self.t["size"], n / 720
        if w == 704:
            return (np.arange(int(w * f)) + 8 * f) * self.t["scale"]
        step = 720 / w * self.t["scale"]
        return np.arange(int(w * f)) * step

    def scaled(self, x, n):
        if self.t["size"] == 720 and self.t["scale"] == 1.0:
            return x
        p = np.clip(self.places(n), 0, n - 1.001)
        i = p.astype(int)
        f = (p - i).astype(np.float32)
        at = [np.clip(i + k, 0, n - 1) for k in (-1, 0, 1, 2)]  # cubic, Catmull-Rom
        w = [(-f + 2 * f**2 - f**3) / 2, (2 - 5 * f**2 + 3 * f**3) / 2, (f + 4 * f**2 - 3 * f**3) / 2, (f**3 - f**2) / 2]
        return sum(x[:, a] * b for a, b in zip(at, w))
