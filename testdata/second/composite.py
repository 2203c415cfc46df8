"""From raster to composite waveform, on a grid of three samples a pixel period.

One picture is filtered once (luma, and chroma as a complex envelope about the
subcarrier, so that the path's response at the subcarrier acts on it); each field then
only turns the subcarrier on. White is 1, blanking 0."""
import numpy as np
from scipy import fft

from profiles import BLANK, SYNC, BURST

UP = 3


class Encoder:
    def __init__(self, p, rng, faults=(), neutral=False):
        self.p, self.faults = p, [f for f in faults if f["class"] == "signal"]
        u = (lambda a, b: (a + b) / 2) if neutral else rng.uniform
        self.S = p.n * UP
        self.clock = p.clock * (1 + u(-5e-5, 5e-5))
        self.line_rate = self.clock / p.n
        self.fs = self.line_rate * self.S
        self.fsc = p.fsc() * (self.clock / p.clock if p.text else 1 + u(-4e-5, 4e-5))
        if not p.pal and not p.text and not neutral and rng.random() < .5:
            # Some bitmap machines for 525/60 take the subcarrier of the dot clock's divider.
            self.fsc = 227.5 * self.line_rate
        self.sync = 3 / 7 if p.pal else .4
        self.burst_amp = (150 / 700 if p.pal else .2) * u(.88, 1.12)
        self.setup = 0 if p.pal or neutral or rng.random() < .7 else .075
        self.chroma_gain = u(.9, 1.1)
        self.chroma_bw = u(1.5e6, 3e6)
        self.chroma_delay = u(-60e-9, 60e-9)
        self.driver_bw = 9e6 if neutral else rng.uniform(5.5e6, 9e6)
        self.gamma = 1 if neutral else rng.uniform(.96, 1.04)
        self.hue = 0 if neutral else np.radians(rng.uniform(-3, 3))
        self.phase0 = u(0, 2 * np.pi)
        self.level = 1.0
        for f in self.faults:
            if f["kind"] in ("level-high", "level-low"):
                self.level *= f["_strength"]
        x = np.arange(self.S) / self.S
        cyc = self.fsc / self.line_rate
        lines = np.arange(p.lines)
        self.cycles = cyc
        # Subcarrier at each sample of a field, line phase reduced first to keep precision.
        self.E = (np.exp(2j * np.pi * (cyc * lines % 1))[:, None] * np.exp(2j * np.pi * cyc * x)[None]).astype(np.complex64)
        self.switch = np.where(lines % 2 == 0, 1, -1) if p.pal else np.ones(p.lines, int)
        self.cache = {}

    def fault(self, kind):
        return [f for f in self.faults if f["kind"] == kind]

    def response(self, f):
        """Of the whole output path at frequency f (Hz, signed), complex."""
        h = 1 / np.sqrt(1 + (f / self.driver_bw) ** 6) + 0j
        for k in self.fault("low-bandwidth"):
            h = h / (1 + 1j * f / k["_hz"]) ** k["_poles"]
        for k in self.fault("ringing"):
            # A resonance beside the straight path: rings after each edge.
            r, q = f / k["_hz"], k["_q"]
            h = h * (1 + k["_strength"] * (1j * r / q) / (1 - r * r + 1j * r / q))
        for k in self.fault("ghost"):
            h = h * (1 + k["_strength"] * np.exp(-2j * np.pi * f * k["_delay"]))
        return h

    def picture(self, raster, lut):
        """(luma, chroma x subcarrier) of one raster, filtered."""
        key = hash(raster.tobytes())
        if key in self.cache:
            return self.cache[key]
        p = self.p
        y = np.zeros(19, np.float32)
        z = np.zeros(19, np.complex64)
        y[:16] = self.setup + (1 - self.setup) * np.sign(lut[:, 0]) * np.abs(lut[:, 0]) ** self.gamma
        z[:16] = (lut[:, 1] + 1j * lut[:, 2]) * self.chroma_gain * (1 - self.setup)
        turn = self.hue + sum(np.radians(f["degrees"]) for f in self.fault("hue-shift"))
        z[:16] *= np.exp(1j * turn)                   # before the V switch: the encoder's axes
        y[BLANK], y[SYNC], y[BURST] = 0, -self.sync, 0
        y[:16] *= self.level
        z[:16] *= self.level
        z[BURST] = self.burst_amp * (np.exp(1j * np.radians(135)) if p.pal else -1)
        for f in self.fault("colour-lost"):
            if f["_mode"] in ("no burst", "no chroma"):
                z[BURST] = 0
            if f["_mode"] == "no chroma":
                z[:] = 0
        ch = z[raster]
        ch[self.switch < 0] = ch[self.switch < 0].conj()
        lum = y[raster].repeat(UP, 1)
        ch = ch.repeat(UP, 1)
        fr = np.arange(self.S // 2 + 1) * self.line_rate
        lum = fft.irfft(fft.rfft(lum, axis=1) * self.response(fr).astype(np.complex64), self.S, axis=1)
        fb = fft.fftfreq(self.S, 1 / self.fs)
        h = np.exp(-.3466 * (fb / self.chroma_bw) ** 2 - 2j * np.pi * fb * self.chroma_delay)
        ch = fft.ifft(fft.fft(ch, axis=1) * (h * self.response(fb + self.fsc)).astype(np.complex64), axis=1)
        out = (lum.astype(np.float32), (ch * self.E).astype(np.complex64))
        if len(self.cache) > 6:
            self.cache.clear()
        self.cache[key] = out
        return out

    def field(self, raster, lut, n, rng, noise):
        """Composite samples (lines, S) of machine field n, and its subcarrier phase at the start."""
        p = self.p
        lum, w = self.picture(raster, lut)
        ph = self.phase0 + 2 * np.pi * (self.cycles * p.lines * n % 1)
        if any(f["_mode"] == "subcarrier off" for f in self.fault("colour-lost")):
            # The oscillator is off frequency, by some cycles in a few lines: no lock.
            ramp = (np.arange(p.lines)[:, None] + np.arange(self.S)[None] / self.S) * .137
            w = w * np.exp(2j * np.pi * ramp).astype(np.complex64)
        c = lum + np.float32(np.cos(ph)) * w.imag + np.float32(np.sin(ph)) * w.real
        t0 = n * p.lines / self.line_rate
        tl = t0 + np.arange(p.lines) / self.line_rate
        for f in self.fault("hum"):
            s = f["_strength"] / 2 * np.sin(2 * np.pi * f["_hz"] * tl + 1)[:, None].astype(np.float32)
            # The supply moves the gain of the picture and, in part, its foot against blanking.
            x0, x1 = p.left * UP, (p.left + p.w + 2 * p.bx) * UP
            g = np.float32(f["_gain_share"])
            c[:, x0:x1] += s * g * c[:, x0:x1] + s * (1 - g)
        for f in self.fault("fixed-bars"):
            ph_ = (np.arange(self.S) / UP / f["period_px"] + f["_phase"]) % 1
            wave = np.sin(2 * np.pi * ph_) if f["_shape"] == "sine" or f["period_px"] < 4 else \
                np.clip(3 * np.sin(2 * np.pi * ph_), -1, 1)
            c += (f["_strength"] / 2 * wave).astype(np.float32)
        for f in self.fault("interference"):
            a = 2 * np.pi * f["frequency_hz"]
            e = np.exp(1j * ((a * tl) % (2 * np.pi)))[:, None] * np.exp(1j * a * np.arange(self.S) / self.fs)[None]
            c += (f["_strength"] / 2 * e.imag).astype(np.float32)
        sigma = noise
        colour = 0
        for f in self.fault("noise"):
            sigma, colour = np.hypot(sigma, f["_strength"]), f["_colour"]
        g = rng.standard_normal(c.shape, dtype=np.float32) * np.float32(sigma * np.sqrt(self.fs / 2 / 5.5e6))
        if colour:
            g[:, 1:] = (g[:, 1:] - .6 * g[:, :-1])
        c += g
        for f in self.fault("clipping"):
            c = np.minimum(c, f["_strength"])
        return c
