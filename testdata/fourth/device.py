"""A capture device: clamp, gain control, colour decoder of one of five kinds, scaler, timing, codes of ITU-R BT.601.

The waveform of a field is taken to the frequency domain once; luma comes back at 13.5 MHz of the line, colour as a
baseband about the subcarrier at a quarter of the waveform's rate, by cutting out that part of the spectrum.
"""
import math

import numpy as np
from scipy import fft

KINDS = ("notch", "notch", "peaking", "comb2", "comb3", "adaptive")


class Device:
    """One device set up for one display; same() gives another of the same sort."""

    def __init__(self, d, rng, faults=(), size=None, kind=None):
        self.d = d
        self.f = {f["kind"]: f for f in faults if f["class"] == "signal"}
        self.kind = kind or KINDS[rng.integers(len(KINDS))]
        if self.kind == "comb2" and d.attr and not d.pal:  # 227.27 cycles a line: devices leave their one-line comb off there
            self.kind = "comb3"
        self.chroma_hz = rng.uniform(0.55e6, 1.3e6)
        self.luma_hz = rng.uniform(4.4e6, 5.8e6)
        self.notch_hz = rng.uniform(0.5e6, 1.1e6)
        self.peak = rng.uniform(0.1, 0.35) if self.kind == "peaking" else 0.0
        self.scaler = rng.uniform(0.02, 0.12) if rng.random() < 0.4 else 0.0
        self.full_range = bool(rng.random() < 0.25)
        self.order = int(rng.random() < 0.25)  # 1: the later field lies on the upper lines
        self.second_cut = int(rng.random() < 0.12)  # the second field cut a line off the first
        self.size = size or self._size(rng)
        self.settings(rng)

    def _size(self, rng):
        full = (720, 2 * self.d.active)
        if rng.random() < 0.06:
            return (704, full[1])  # the middle 704 of the same samples
        if not self.d.pal and rng.random() < 0.06:
            return (640, 480)
        return full

    def settings(self, rng):
        """What differs between two devices of a sort: position, levels, hue, noise, timing."""
        self.gain = rng.uniform(0.94, 1.05)
        self.brightness = rng.uniform(-4, 6)  # codes
        self.saturation = rng.uniform(0.86, 1.14)
        self.hue = math.radians(rng.uniform(-4, 4))
        self.agc = rng.uniform(0.6, 1.0)  # how far the sync height sets the gain
        self.clamp = rng.uniform(0.05, 0.6)  # share of a line's porch in the clamp
        self.delay = rng.uniform(-0.1, 0.12)  # us, colour against luma
        self.x_off = rng.uniform(-3, 3)  # samples
        self.first = int((22 if self.d.pal else 20) + rng.integers(-2, 3))  # first line kept
        self.noise = rng.uniform(0.001, 0.004)
        self.jitter = rng.uniform(0.0, 0.07)  # samples
        self.setup = 0.075 if not self.d.pal and rng.random() < 0.2 else 0.0

    def same(self, rng):
        other = object.__new__(Device)
        other.__dict__.update(self.__dict__)
        other.f = {}
        other.settings(rng)
        return other

    def prepare(self, out):
        """Filters for a machine's output, whose line and subcarrier the device follows."""
        self.out = out
        rate = out.n_line / self.d.line_s
        hz = np.arange(out.n // 2 + 1) * rate / out.n
        fsc = out.bin * rate / out.n
        low = np.exp(-0.5 * (np.maximum(hz - 0.8 * self.luma_hz, 0) / (0.13 * self.luma_hz)) ** 2)
        trap = 1 - np.exp(-((hz - fsc) / self.notch_hz) ** 4)
        bump = 1 + self.peak * np.exp(-((hz - 2.6e6) / 1.0e6) ** 2)
        self.low = (low * bump).astype(np.float32)
        self.trap = trap.astype(np.float32)
        self.nq = out.n // 4
        off = fft.fftfreq(self.nq, 4 / rate)
        base = np.exp(-0.3466 * (off / self.chroma_hz) ** 2)  # -3 dB at chroma_hz
        self.base = base.astype(np.float32)
        self.pick = (out.bin + np.round(off * out.n / rate).astype(int))
        self.out_n = out.rows * self.d.samples
        self.wide = np.exp(-0.3466 * (off / max(self.chroma_hz, 0.9e6)) ** 2).astype(np.float32)
        self.level = None

    def _clamped(self, w, rng):
        """Black to 0 and the sync height to its nominal, as far as the device does that."""
        t = self.out.t
        porch = w[:, (t > 8.2) & (t < 9.0)].mean(axis=1)
        tip = w[:, (t > 1.0) & (t < 4.0)].mean(axis=1)
        level = np.empty_like(porch)
        now = porch[10:40].mean() if self.level is None else self.level
        for k, v in enumerate(porch):
            if 5 <= k < self.d.lines - 1:  # the long pulse has no porch
                now += self.clamp * (v - now)
            level[k] = now
        self.level = now
        nominal = 3 / 7 if self.d.pal else 0.4
        height = float(np.median(porch[10:] - tip[10:]))
        gain = min(max(nominal / max(height, 0.02), 0.6), 1.7) ** self.agc
        if "sync-weak" in self.f:
            gain = 1.12
        return (w - level[:, None]) * np.float32(gain)

    def decode(self, w, rng):
        """Luma, U, V of a field's waveform: rows x samples of the whole line at 13.5 MHz of the line, unscaled."""
        out, d = self.out, self.d
        w = w + np.float32(self.noise) * rng.standard_normal(w.shape, np.float32)
        w = np.clip(w, -0.7, 1.45)
        w = self._clamped(w, rng)
        spec = fft.rfft(w.ravel())
        z = fft.ifft(spec[self.pick] * self.base) * (2j * self.nq / out.n)
        z = z.reshape(out.rows, -1).astype(np.complex64)
        phase, strength = self._burst(z)
        z = z * np.complex64(np.exp(-1j * phase))
        if d.pal:
            z = np.where(out.switch > 0, z, np.conj(z))
        colour = 1.0 if strength > 0.04 else 0.0
        nominal = 3 / 14 if d.pal else 0.2
        acc = min(max(nominal / max(strength, 1e-3), 0.4), 4.0)
        if self.kind in ("comb2", "comb3", "adaptive") and colour:
            z, luma = self._combed(spec, z, phase)
        else:
            luma = spec * (self.low * self.trap)
            if d.pal and self.kind != "peaking":  # the delay line of a PAL decoder
                z = 0.5 * (z + np.roll(z, 1, axis=0))
        y = fft.irfft(luma[:self.out_n // 2 + 1] * (self.out_n / out.n), self.out_n).astype(np.float32).reshape(out.rows, d.samples)
        z = z * np.complex64(np.exp(1j * self.hue) * acc * self.saturation * colour)
        return y, z

    def _burst(self, z):
        """Phase of the subcarrier against the device's and the burst's strength; V swings, so its mean lies on -U."""
        per_us = z.shape[1] / (self.d.line_s * 1e6)
        window = z[10:self.d.lines - 4, round(6.3 * per_us):round(7.3 * per_us)].mean(axis=1)
        n = len(window) & ~1
        mean = window[:n].mean()
        strength = abs(mean) * (math.sqrt(2) if self.d.pal else 1)
        return float(np.angle(mean) - math.pi), float(strength)

    def _combed(self, spec, z, phase):
        """Colour averaged over lines, and luma as what is left when that colour is made again and taken off."""
        out, d = self.out, self.d
        above, below = np.roll(z, 1, axis=0), np.roll(z, -1, axis=0)
        if self.kind == "comb2":
            mean = 0.5 * (z + above)
        elif self.kind == "comb3":
            mean = 0.25 * above + 0.5 * z + 0.25 * below
        else:  # the neighbour that agrees better has the greater weight
            da, db = np.abs(z - above), np.abs(z - below)
            wa = (db + 0.01) / (da + db + 0.02)
            near = wa * above + (1 - wa) * below
            mean = 0.5 * z + 0.5 * near
        again = np.where(out.switch > 0, mean, np.conj(mean)) if d.pal else mean
        again = fft.fft((again * np.complex64(np.exp(1j * phase))).ravel())
        luma = spec * 1
        luma[self.pick] -= again * (0.92 * out.n / self.nq / 2j)
        if self.kind == "adaptive":  # a shallow trap behind the comb
            luma *= 0.5 + 0.5 * self.trap
        return mean, luma * self.low

    def frame_lines(self, y, z, n, rng):
        """The lines a device keeps of a field, in 720 samples, with its timing errors; colour at half of that."""
        d, out = self.d, self.out
        rows = d.active
        start = self.first + (self.second_cut if n & 1 else 0)
        shift = np.full(rows, self.x_off) + self.jitter * rng.standard_normal(rows)
        if "sync-weak" in self.f:
            start, shift = self._unsteady(y, start, shift, n, rng)
        lines = (start + np.arange(rows)) % d.lines
        left = (132 if d.pal else 122)
        pos = (left + shift)[:, None] + np.arange(720)[None, :]
        luma = _sample(y, lines, pos)
        if self.scaler:
            pad = np.pad(luma, ((0, 0), (1, 1)), mode="edge")
            luma = luma * (1 + 2 * self.scaler) - self.scaler * (pad[:, :-2] + pad[:, 2:])
        ratio = z.shape[1] / d.samples
        cpos = ((left + shift)[:, None] + 2 * np.arange(360)[None, :] - self.delay * 13.5) * ratio
        colour = _sample(z, lines, cpos)
        if self.size[0] == 704:
            return luma[:, 8:712], colour[:, 4:356]
        if self.size[0] == 640:
            every = np.arange(rows)
            luma = _sample(luma, every, np.tile((np.arange(640) + 0.5) * 1.125 - 0.5, (rows, 1)))
            colour = _sample(colour, every, np.tile(((2 * np.arange(320) + 0.5) * 1.125 - 0.5) / 2, (rows, 1)))
        return luma, colour

    def _unsteady(self, y, start, shift, n, rng):
        """Line and field timing that a device makes of weak sync pulses."""
        p = self.f["sync-weak"]["_"]
        s = p["strength"]
        rows = len(shift)
        walk = rng.standard_normal(rows).astype(np.float32)
        for k in range(1, rows):
            walk[k] += 0.75 * walk[k - 1]
        if p["mode"] == "jitter":
            shift = shift + (0.6 + 2.2 * s) * walk
        elif p["mode"] == "tear":
            bright = y[(start + np.arange(rows)) % self.d.lines, 150:].mean(axis=1)
            pull = np.convolve(np.maximum(bright - np.median(bright), 0), np.exp(-np.arange(20) / 6))[:rows]
            flag = (8 + 40 * s) * (1 + 0.5 * math.sin(1.3 * n)) * np.exp(-np.arange(rows) / (10 + 25 * s))
            shift = shift + flag + 12 * s * pull + 0.3 * walk
            for _ in range(rng.poisson(2 * s + 0.6)):
                at, h = int(rng.integers(rows)), int(rng.integers(3, 25))
                part = np.arange(min(h, rows - at))
                shift[at:at + h] += rng.normal(0, 10 + 40 * s) * np.exp(-part / (h / 2))
        else:
            p["at"] = p.get("at", 0.0) + (1 + 14 * s) * (1 + 0.2 * rng.standard_normal())
            start = start + int(p["at"])
            shift = shift + 0.4 * walk
        return start, shift

    def codes(self, luma, colour):
        """Eight-bit Y (rows x 720), Cb, Cr (rows x 360)."""
        y = 16 + 219 * self.gain * (luma - self.setup) / (1 - self.setup) + self.brightness
        u, v = colour.real, colour.imag
        cb = 128 + 224 * self.gain * u * (0.5 / 0.886 / 0.493)
        cr = 128 + 224 * self.gain * v * (0.5 / 0.701 / 0.877)
        if self.full_range:
            y, cb, cr = (y - 16) * 255 / 219, 128 + (cb - 128) * 255 / 224, 128 + (cr - 128) * 255 / 224
            return [np.clip(np.rint(a), 0, 255).astype(np.uint8) for a in (y, cb, cr)]
        return [np.clip(np.rint(a), 1, 254).astype(np.uint8) for a in (y, cb, cr)]

    def geometry(self):
        """Pitch and origin in the device's samples, first line of the picture in its first field."""
        d, out = self.d, self.out
        left = 132 if d.pal else 122
        x = (out.first_px + d.left) * d.pitch - left - self.x_off
        pitch = d.pitch
        if self.size[0] == 704:
            x -= 8
        elif self.size[0] == 640:
            x, pitch = (x + 0.5) * 640 / 720 - 0.5, pitch * 640 / 720
        return pitch, x, out.top_line + d.top - self.first


def _sample(a, lines, pos):
    """Values of rows at fractional places by cubic convolution (Keys, a = -0.5)."""
    base = np.floor(pos).astype(np.int32)
    u = (pos - base).astype(np.float32)
    flat, width = a.ravel(), a.shape[1]
    at = lines[:, None] * width + np.clip(base, 1, width - 3)
    w = (((-0.5 * u + 1) * u - 0.5) * u, (1.5 * u - 2.5) * u * u + 1, ((-1.5 * u + 2) * u + 0.5) * u, (0.5 * u - 0.5) * u * u)
    return sum(wk * flat.take(at + k - 1) for k, wk in enumerate(w))
