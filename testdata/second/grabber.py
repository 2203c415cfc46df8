"""A capture device: clamp, gain control, one of four decoders, scaler, 8-bit codes.

  notch   luma through a notch at the subcarrier, or a low pass below it
  comb1   chroma averaged with the line before, put back on the subcarrier and taken off
  comb2   the same with the line above or below, whichever is alike; else a notch
  trap    a wide trap, then peaking of the middle frequencies

Works on whole lines in the frequency domain; the chroma envelope on a grid four times
coarser. Codes are BT.601, 16..235, or stretched to 0..255 by devices that do so."""
import numpy as np
from scipy import fft

from composite import UP

KINDS = ("notch", "comb1", "comb2", "trap")
DEC = 4


class Grabber:
    def __init__(self, enc, rng, kind=None, neutral=False):
        p = enc.p
        self.p, self.enc = p, enc
        u = (lambda a, b: (a + b) / 2) if neutral else rng.uniform
        self.kind = kind or KINDS[rng.integers(4)]
        self.luma_bw = u(4.6e6, 6.2e6) if p.pal else u(4.1e6, 6.0e6)
        if neutral:
            self.luma_bw = 5.2e6
        self.notch_bw = u(.45e6, .9e6) * (2 if self.kind == "trap" else 1)
        self.low_pass = not neutral and self.kind == "notch" and rng.random() < .25
        self.peak = u(.15, .6) if self.kind == "trap" else (0 if neutral or rng.random() < .7 else rng.uniform(0, .25))
        self.peak_hz = u(2.2e6, 3.4e6)
        self.chroma_bw = u(.5e6, 1.35e6)
        self.chroma_delay = 0 if neutral else rng.uniform(-110e-9, 110e-9)
        self.agc = neutral or rng.random() < .8
        self.acc = neutral or rng.random() < .7
        self.delay_line = p.pal and (neutral or rng.random() < .85)
        self.gain, self.offset = (1, 0) if neutral else (rng.uniform(.92, 1.07), rng.uniform(-5, 5))
        self.sat = 1 if neutral else rng.uniform(.8, 1.2)
        self.hue = 0 if neutral else np.radians(rng.uniform(-3, 3) if p.pal else rng.uniform(-6, 6))
        self.c_off = (0, 0) if neutral else tuple(rng.uniform(-1.5, 1.5, 2))
        self.setup = 0 if p.pal else (enc.setup if neutral or rng.random() < .8 else .075 - enc.setup)
        self.clamp_lines = 1 if neutral else int(rng.choice([1, 1, 6, 400]))
        self.noise = .0005 if neutral else float(np.exp(rng.uniform(np.log(.0018), np.log(.0075))))
        self.bits = 10 if neutral else int(rng.choice([8, 9, 10]))
        self.killer = u(.12, .3)
        self.pll_ns = 0 if neutral else rng.uniform(.5, 5)
        self.linear = not neutral and rng.random() < .25       # scaler: two taps, aliases a little
        self.ppm = 0 if neutral else rng.uniform(-200, 200)
        self.full_range = not neutral and rng.random() < .3
        S = enc.S
        self.step = S / p.line_samples / (1 + self.ppm * 1e-6)
        first = 132 if p.pal else 122
        shift = 0 if neutral else rng.uniform(-9, 12)
        self.p0 = (first + shift) * S / p.line_samples
        v = 5 if p.pal else 4
        self.first_line = p.top - (p.cap_lines - p.h - 2 * p.by) // 2 + (0 if neutral else int(rng.integers(-v, v + 1)))
        self.second_later = 0 if neutral or rng.random() < .85 else int(rng.choice([-1, 1]))
        self.bottom_first = not neutral and rng.random() < .5
        self.filters()

    # -- truth ------------------------------------------------------------
    def pitch_x(self):
        return UP / self.step

    def origin_x(self):
        """Left edge of the first picture pixel; a sample held stands about its own place."""
        return (UP * (self.p.left + self.p.bx) - .5 - self.p0) / self.step

    def origin_y(self, half):
        return self.p.top + self.p.by - self.first_line - (self.second_later if half else 0)

    # -- filters ----------------------------------------------------------
    def filters(self):
        e = self.enc
        f = np.arange(e.S // 2 + 1) * e.line_rate
        lp = 1 / (1 + (f / self.luma_bw) ** 16)
        pk = 1 + self.peak * np.exp(-((f - self.peak_hz) / 1.1e6) ** 2)
        notch = 1 - np.exp(-((f - e.fsc) / self.notch_bw) ** 2)
        if self.low_pass:
            notch = 1 / (1 + (f / (e.fsc - .9e6)) ** 12)
        self.h_notch = (lp * pk * notch).astype(np.float32)
        self.h_full = (lp * pk).astype(np.float32)
        self.M = e.S // DEC
        self.k0 = round(e.fsc / e.line_rate)
        k = np.arange(-(self.M // 2) + 1, self.M // 2)
        self.k = k
        fb = (self.k0 + k) * e.line_rate - e.fsc
        self.h_sep = (1 / (1 + (fb / 1.7e6) ** 8)).astype(np.float32)
        fo = fft.fftfreq(self.M, 1 / (e.fs / DEC))
        self.h_out = (np.exp(-.3466 * (fo / self.chroma_bw) ** 2) *
                      np.exp(-2j * np.pi * fo * self.chroma_delay)).astype(np.complex64)
        x = np.arange(self.M) * DEC
        self.dem = (2j * np.exp(2j * np.pi * self.k0 * x / e.S)[None] * e.E[:, ::DEC].conj()).astype(np.complex64)
        b0, b1 = self.p.burst
        self.gate = slice(b0 * UP // DEC + 2, b1 * UP // DEC - 1)

    # -- decode -----------------------------------------------------------
    def separate(self, c):
        """Composite (lines, S) -> Y (lines, S), U + jV (lines, M), in units of white."""
        p, e = self.p, self.enc
        tip = c[:, 8:p.sync_w * UP - 8].mean(1)
        porch = c[:, p.burst[1] * UP + 10:p.left * UP - 10].mean(1)
        body = slice(12, p.lines - 1)
        height = np.median(porch[body] - tip[body])
        g = e.sync / max(height, .05) if self.agc else 1.0
        g = float(np.clip(g, .4, 3))
        n = min(self.clamp_lines, p.lines)
        if n >= p.lines:
            black = np.full(p.lines, np.median(porch[body]))
        else:
            black = np.convolve(np.pad(porch, (n, n), "edge"), np.ones(n) / n, "same")[n:-n] if n > 1 else porch
            black = .7 * black + .3 * np.median(porch[body])
        c = (c - black[:, None].astype(np.float32)) * np.float32(g)
        q = np.float32((1 << self.bits) / 2.2)        # ADC: 2.2 of white over all codes
        c = np.round(np.clip(c, -.6, 1.6) * q) / q
        X = fft.rfft(c, axis=1)
        bins = np.zeros((p.lines, self.M), np.complex64)
        bins[:, self.k % self.M] = X[:, self.k0 + self.k] * self.h_sep
        z = fft.ifft(bins, axis=1) * self.dem * np.float32(self.M / e.S)
        burst = z[:, self.gate].mean(1)
        b = burst[body]
        if p.pal:
            pair = (b[1:] + b[:-1]) / 2
            # Which lines swing which way: of the two readings take the one the bursts fit.
            ref = -pair.mean()
            ref = ref / (abs(ref) + 1e-9)
            alt = np.where(np.arange(12, p.lines - 1) % 2 == 0, 1, -1)
            s0 = 1 if (np.imag(b * ref.conj()) * alt).sum() >= 0 else -1
            switch = np.where(np.arange(p.lines) % 2 == 0, s0, -s0)
            locked = abs(pair.mean()) * np.sqrt(2)
        else:
            ref = -b.mean()
            locked = abs(ref)
            ref = ref / (abs(ref) + 1e-9)
            switch = np.ones(p.lines, int)
        nominal = 150 / 700 if p.pal else .2
        kill = locked < self.killer * nominal
        uv = z * np.complex64(ref.conj())
        uv[switch < 0] = uv[switch < 0].conj()
        near = uv
        if self.kind in ("comb1", "comb2") and not kill:
            up, dn = np.roll(uv, 1, 0), np.roll(uv, -1, 0)
            if self.kind == "comb1":
                near = (uv + up) / 2
                sure = None
            else:
                du, dd = abs(uv - up), abs(uv - dn)
                near = (uv + np.where(du < dd, up, dn)) / 2
                sure = (np.minimum(du, dd) < .12).mean(1)[:, None]     # a line's trust in its comb
            r = near.copy()
            r[switch < 0] = r[switch < 0].conj()
            r = fft.fft(r * np.complex64(ref) * self.dem.conj() / 4, axis=1) * np.float32(e.S / self.M)
            Xc = X.copy()
            Xc[:, self.k0 + self.k] -= r[:, self.k % self.M]
            H = Xc * self.h_full
            if sure is not None:
                H = sure.astype(np.float32) * H + (1 - sure).astype(np.float32) * X * self.h_notch
        else:
            H = X * (self.h_full if kill and self.kind != "trap" else self.h_notch)
        if self.delay_line and self.kind in ("notch", "trap"):
            near = (uv + np.roll(uv, 1, 0)) / 2
        y = fft.irfft(H, e.S, axis=1)
        acc = nominal / max(locked, 1e-3) if self.acc else 1.0
        near = fft.ifft(fft.fft(near, axis=1) * self.h_out, axis=1)
        near = near * np.float32(0 if kill else np.clip(acc, .5, 3))
        return y, near

    def sample(self, a, pos, move=None):
        """Values of rows of a at positions pos (and moved by so many samples a row)."""
        n = a.shape[1]
        if move is not None and np.abs(move).max() > .4:
            at = pos[None] + move[:, None]
            i = np.floor(at).astype(int)
            t = (at - i).astype(np.float32)
            rows = np.arange(len(a))[:, None]
            get = lambda d: a[rows, (i + d) % n]
        else:
            i = np.floor(pos).astype(int)
            t = (pos - i).astype(np.float32)[None]
            get = lambda d: a[:, (i + d) % n]
        if self.linear:
            out = get(0) * (1 - t) + get(1) * t
        else:                                          # four-point Lagrange
            out = (get(-1) * (-t * (t - 1) * (t - 2) / 6) + get(0) * ((t + 1) * (t - 1) * (t - 2) / 2) +
                   get(1) * (-(t + 1) * t * (t - 2) / 2) + get(2) * ((t + 1) * t * (t - 1) / 6))
        if move is not None and np.abs(move).max() <= .4:
            out = out + move[:, None].astype(np.float32) * np.gradient(out, axis=1) / np.float32(pos[1] - pos[0])
        return out

    def field(self, c, half, rng, roll=0, move=None):
        """One recorded field: Y (rows, 720), Cb, Cr (rows, 360) as float codes."""
        y, uv = self.separate(c)
        p = self.p
        rows = (self.first_line + (self.second_later if half else 0) + roll + np.arange(p.cap_lines)) % p.lines
        pos = self.p0 + self.step * np.arange(720)
        jit = rng.normal(0, self.pll_ns * 1e-9 * self.enc.fs, p.cap_lines) if self.pll_ns else np.zeros(p.cap_lines)
        if move is not None:
            jit = jit + move * self.step
        jit = None if not jit.any() else jit
        y = self.sample(y[rows], pos, jit)
        uv = self.sample(uv[rows], pos[::2] / DEC, None if jit is None else jit / DEC)
        return self.codes(y, uv)

    def codes(self, y, uv):
        s = self.setup
        y = (y - s) / (1 - s) * self.gain
        uv = uv / (1 - s) * self.sat * np.exp(1j * self.hue)
        Y = 16 + 219 * y + self.offset
        cb = 128 + 224 * uv.real / .873596 + self.c_off[0]
        cr = 128 + 224 * uv.imag / 1.229554 + self.c_off[1]
        if self.full_range:
            Y, cb, cr = (Y - 16) * 255 / 219, 128 + (cb - 128) * 255 / 224, 128 + (cr - 128) * 255 / 224
        return Y, cb, cr

    def describe(self):
        keys = ("kind luma_bw notch_bw peak chroma_bw chroma_delay agc acc delay_line gain offset sat setup clamp_lines "
                "noise bits ppm full_range second_later bottom_first linear pll_ns").split()
        d = {k: getattr(self, k) for k in keys}
        d["hue_deg"] = float(np.degrees(self.hue))
        return d


def to8(a, full):
    lo, hi = (0, 255) if full else (1, 254)
    return np.clip(np.round(a), lo, hi).astype(np.uint8)
