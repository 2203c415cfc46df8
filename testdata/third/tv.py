"""The composite waveform of a raster, and a line-locked device that decodes it.

A line is 1024 samples from 0H (about 16 MHz), in parts of white, blanking 0. U sin + V cos; on 625 V changes sign each line.
"""
import numpy as np
import scipy.fft as fft

S = 1024
def first_line(p):
    """The machine line of the first picture line."""
    return 66 if p.pal else 40



class Encoder:
    def __init__(self, p, pal, luma_hz, chroma_hz):
        self.p = p
        self.fs = S * p.line_rate
        self.zero = (9.778e-6 if p.pal else 9.037e-6) * p.clock + p.origin[0] / p.pitch  # pixels from 0H to the picture's first
        self.rate = S / p.periods  # samples a pixel
        n = p.left + p.w + p.right
        edges = (np.arange(n + 1) - p.left + self.zero) * self.rate
        grid = np.arange(S + 1) - 0.5
        # the share of each sample that each pixel covers
        box = np.maximum(0, np.minimum(edges[1:, None], grid[None, 1:]) - np.maximum(edges[:-1, None], grid[None, :-1]))
        f = fft.rfftfreq(S, 1 / self.fs)
        sp = fft.rfft(box, axis=1)
        self.luma = fft.irfft(sp * np.exp(-0.3466 * (f / luma_hz) ** 2), S, axis=1).astype(np.float32)
        self.chroma = fft.irfft(sp * np.exp(-0.3466 * (f / chroma_hz) ** 2), S, axis=1).astype(np.float32)
        self.set_palette(pal)

    def set_palette(self, pal):
        a = np.array(pal, np.float32)
        self.y, self.c = a[:, 0], (a[:, 1] + 1j * a[:, 2]).astype(np.complex64)

    def field(self, raster):
        """Luma and complex chroma (U + iV) of all lines of a field."""
        p = self.p
        top = first_line(p) - p.above
        y, c = np.zeros((p.lines, S), np.float32), np.zeros((p.lines, S), np.complex64)
        n = len(raster)
        y[top:top + n] = self.y[raster] @ self.luma
        if np.abs(self.c[np.unique(raster)]).max() > 1e-6:
            cc = self.c[raster]
            c[top:top + n].real = np.ascontiguousarray(cc.real) @ self.chroma
            c[top:top + n].imag = np.ascontiguousarray(cc.imag) @ self.chroma
        return y, c


class Carrier:
    """The subcarrier over a field, and the sign of V by line."""

    def __init__(self, p):
        self.p = p
        self.cycles = p.subcarrier / p.line_rate
        k = np.arange(p.lines)
        self.lines = np.mod(self.cycles * k, 1)
        self.sample = np.exp(2j * np.pi * self.cycles * np.arange(S) / S).astype(np.complex64)

    def field(self, n):
        start = (self.cycles * self.p.lines * n) % 1
        ref = np.exp(2j * np.pi * (self.lines + start)).astype(np.complex64)[:, None] * self.sample
        odd = ((np.arange(self.p.lines) + self.p.lines * n) % 2).astype(bool) if self.p.pal else None
        return ref, odd


def switch(z, odd):
    if odd is not None:
        z[odd] = np.conj(z[odd])
    return z


def sync_and_burst(p, fs):
    """A blank line without burst, and the burst's envelope."""
    t = np.arange(S) / fs
    edge = lambda at, rise: 0.5 + 0.5 * np.tanh((t - at) / (0.45 * rise))
    tip = -3 / 7 if p.pal else -0.4
    sync = tip * (edge(0.05e-6, 0.2e-6) - edge(4.75e-6, 0.2e-6))
    start, length = (5.6e-6, 10 / p.subcarrier) if p.pal else (19 / p.subcarrier, 9 / p.subcarrier)
    envelope = edge(start, 0.3e-6) - edge(start + length, 0.3e-6)
    return sync.astype(np.float32), envelope.astype(np.float32), (start, length)


def burst_phasor(p):
    return (150 / 700) * np.exp(1j * np.radians(135)) if p.pal else 0.2 * np.exp(1j * np.pi)


class Output:
    """The machine's output stage: what its faults do to the waveform."""

    def __init__(self, p, faults):
        self.p, self.faults = p, {f["kind"]: f for f in faults if f["class"] == "signal"}
        self.fs = S * p.line_rate
        self.carrier = Carrier(p)
        self.sync, self.envelope, self.window = sync_and_burst(p, self.fs)
        f = fft.rfftfreq(S, 1 / self.fs)
        h = np.ones(len(f), complex)
        for k, g in self.faults.items():
            q = g["_q"]
            if k == "ringing":
                h = h / (1 - (f / q["f0"]) ** 2 + 1j * f / (q["f0"] * q["q"]))
            elif k == "low-bandwidth":
                h = h / (1 + 1j * f / q["fc"]) ** q["order"]
            elif k == "ghost":
                h = h * (1 + q["amount"] * np.exp(-2j * np.pi * f * q["delay"])) / (1 + q["amount"])
        self.h = h.astype(np.complex64) if len(h) and not np.allclose(h, 1) else None

    def field(self, y, c, n, r, sigma):
        p, g = self.p, self.faults
        ref, odd = self.carrier.field(n)
        gain, burst_gain = 1.0, 1.0
        for k in ("level-high", "level-low"):
            if k in g:
                gain = g[k]["_q"]["gain"]
                burst_gain = gain if g[k]["_q"]["burst"] else 1.0
        b = burst_phasor(p) * burst_gain
        if "colour-lost" in g:
            b = 0
        turn = np.exp(1j * np.radians(g["hue-shift"]["degrees"])) if "hue-shift" in g else 1.0
        z = c * np.complex64(gain * turn) if gain != 1 or turn != 1 else c.copy()
        z[9:] += np.complex64(b) * self.envelope
        x = (switch(z, odd) * ref).imag
        x += y * np.float32(gain) if gain != 1 else y
        x += self.sync
        if "clipping" in g:
            x = np.minimum(x, np.float32(g["clipping"]["_q"]["at"]))
        if self.h is not None:
            x = fft.irfft(fft.rfft(x, axis=1) * self.h, S, axis=1)
        if "fixed-bars" in g:
            q, per = g["fixed-bars"]["_q"], g["fixed-bars"]["period_px"]
            a = 2 * np.pi * np.arange(S) * p.periods / S / per + q["phase"]
            x = x + (q["pp"] / 2 * (np.sin(a) + q["harmonic"] * np.sin(2 * a + 1))).astype(np.float32)
        t0 = n * p.lines / p.line_rate
        if "interference" in g:
            f, q = g["interference"]["frequency_hz"], g["interference"]["_q"]
            start = np.exp(1j * (2 * np.pi * np.mod(f * (t0 + np.arange(p.lines) / p.line_rate), 1) + q["phase"]))
            x = x + np.float32(q["pp"] / 2) * (start[:, None].astype(np.complex64) * np.exp(2j * np.pi * f * np.arange(S) / self.fs).astype(np.complex64)).imag
        if "hum" in g:
            q = g["hum"]["_q"]
            mains = (50 if p.pal else 60) * q["mains"]
            w = q["pp"] / 2 * np.sin(2 * np.pi * mains * (t0 + np.arange(p.lines) / p.line_rate) + q["phase"])
            x = x + w[:, None].astype(np.float32)
        x = x + np.float32(sigma) * r.standard_normal(x.shape, np.float32)
        return x, ref, odd


class Device:
    """A cheap grabber: its clamp, gain, comb, bandwidths, scaler and codes."""

    def __init__(self, p, r, sort, second=0.0):
        self.p, self.sort = p, sort
        self.fs = S * p.line_rate
        self.pitch_x = p.pitch * (1 + float(r.uniform(-0.003, 0.003)))
        self.origin_x = p.origin[0] + float(r.uniform(-12, 12))
        self.origin_y = p.origin[1] + int(r.integers(-6, 7))
        self.second = int(r.choice([-1, 1])) if r.random() < second else 0  # the second field a line off
        self.gain, self.offset = float(r.uniform(0.94, 1.05)), float(r.uniform(-0.015, 0.015))
        self.saturation = float(r.uniform(0.85, 1.12))
        self.hue = 0.0 if p.pal else float(r.uniform(-4, 4))
        self.full_range = bool(r.random() < 0.3)
        self.trap = float(r.uniform(0.7e6, 1.1e6) if p.pal else r.uniform(0.55e6, 0.85e6))  # the trap is 3 dB down 1.5 times as far out
        self.chroma_hz = float(r.uniform(0.6e6, 1.2e6))
        self.luma_hz = float(r.uniform(4.2e6, 5.7e6))
        self.sharp = float(r.uniform(0.05, 0.2)) if r.random() < 0.3 else 0.0
        self.chroma_late = float(r.uniform(-50e-9, 70e-9))
        self.delay_line = p.pal and (sort != "notch" or r.random() < 0.8)
        self.headroom = float(r.uniform(1.25, 1.6))
        self.snr = float(r.uniform(38, 50))
        self.trap_without_burst = bool(r.random() < 0.5)
        self.jitter = float(r.uniform(1e-9, 5e-9))
        f = fft.fftfreq(S, 1 / self.fs)
        self.low = np.exp(-0.3466 * np.abs(f / self.trap) ** 3).astype(np.float32)
        zero = (9.778e-6 if p.pal else 9.037e-6) * p.clock + p.origin[0] / p.pitch
        at = lambda x: ((x - self.origin_x) / self.pitch_x + zero) * S / p.periods
        fr = fft.rfftfreq(S, 1 / self.fs)
        h = 1 / np.sqrt(1 + (fr / self.luma_hz) ** 12) * (1 + self.sharp * (1 - np.cos(2 * np.pi * fr * 130e-9)) / 2)
        self.ry = self.kernel(at(np.arange(720)), h)
        self.rc = self.kernel(at(np.arange(0, 720, 2)) - self.chroma_late * self.fs, np.exp(-0.3466 * (fr / self.chroma_hz) ** 2))
        self.noise_gain = None
        _, _, (start, length) = sync_and_burst(p, self.fs)
        self.b0, self.b1 = int((start + 0.2 * length) * self.fs), int((start + 0.9 * length) * self.fs)
        self.expected = None

    def kernel(self, at, h):
        k = np.arange(S // 2 + 1)
        ph = np.exp(-2j * np.pi * np.outer(at, k) / S) * h
        return np.ascontiguousarray(fft.irfft(ph, S, axis=1).T.astype(np.float32))

    def sigma(self, snr):
        """Noise on the waveform that gives this S/N in the decoded luma."""
        if self.noise_gain is None:
            x = np.float32(0.01) * np.random.default_rng(3).standard_normal((self.p.lines, S), np.float32)
            ref, odd = Carrier(self.p).field(0)
            b = switch(np.full((self.p.lines, S), np.complex64(burst_phasor(self.p))) * sync_and_burst(self.p, self.fs)[1], odd)
            y, _, _ = self.field(x + (b * ref).imag, ref, odd, False)
            self.noise_gain = float((y[:, 150:650] / (255 / 219 if self.full_range else 1)).std() / 219 / 0.01 / self.gain)
        return 10 ** (-snr / 20) / self.noise_gain / max(self.gain, 0.1)

    def field(self, x, ref, odd, second, shift=None, roll=0):
        """Codes of one field: luma (rows, 720), chroma (rows, 360) twice, not yet rounded."""
        p = self.p
        x = np.minimum(x, np.float32(self.headroom))
        z = fft.fft(np.complex64(2j) * x * np.conj(ref), axis=1)
        z *= self.low
        z = switch(fft.ifft(z, axis=1, overwrite_x=True), odd)
        burst = z[30:-4, self.b0:self.b1].mean()
        if self.expected is None:  # what a right burst gives through the same filter
            env = sync_and_burst(p, self.fs)[1]
            e = fft.ifft(fft.fft(env) * self.low).real[self.b0:self.b1].mean()
            self.expected = burst_phasor(p) * e
        killed = abs(burst) < 0.06 * abs(self.expected)
        if self.sort == "comb2":
            zc = 0.5 * (z + np.roll(z, 1, 0))
        elif self.sort == "comb3":
            zc = 0.5 * z + 0.25 * (np.roll(z, 1, 0) + np.roll(z, -1, 0))
        else:
            zc = z
        if killed and not self.trap_without_burst:
            y = x
        else:
            y = x - (switch(zc.copy(), odd) * ref).imag
        if self.delay_line and self.sort == "notch":
            zc = 0.5 * (z + np.roll(z, 1, 0))
        if killed:
            zc = None
        else:
            k = self.expected / burst
            limit = min(abs(k), 6.0) / abs(k)
            zc = zc * np.complex64(k * limit * self.saturation * np.exp(1j * np.radians(self.hue)))
        if shift is not None:
            f = fft.rfftfreq(S)
            ph = np.exp(-2j * np.pi * f[None, :] * shift[:, None])
            y = fft.irfft(fft.rfft(y, axis=1) * ph.astype(np.complex64), S, axis=1)
            if zc is not None:
                f = fft.fftfreq(S)
                zc = fft.ifft(fft.fft(zc, axis=1) * np.exp(-2j * np.pi * f[None, :] * shift[:, None]).astype(np.complex64), axis=1)
        first = first_line(p) - self.origin_y + (self.second if second else 0) + int(round(roll))
        rows = (first + np.arange(p.rows)) % p.lines
        y = y[rows] @ self.ry
        y = 16 + 219 * (self.gain * y + self.offset)
        if zc is None:
            u = v = np.full((p.rows, 360), 128, np.float32)
        else:
            zc = zc[rows]
            u = 128 + 224 * (np.ascontiguousarray(zc.real) @ self.rc) / (0.493 * 1.772)
            v = 128 + 224 * (np.ascontiguousarray(zc.imag) @ self.rc) / (0.877 * 1.402)
        if self.full_range:
            y, u, v = (y - 16) * (255 / 219), (u - 128) * (255 / 224) + 128, (v - 128) * (255 / 224) + 128
        return y, u, v

    def codes(self, a):
        lo, hi = (0, 255) if self.full_range else (1, 254)
        return np.clip(np.rint(a), lo, hi).astype(np.uint8)

    def describe(self):
        return {"sort": self.sort, "pitch_x": self.pitch_x, "origin_x": self.origin_x, "origin_y": self.origin_y, "full_range": self.full_range,
                "second_field_lines": self.second, "gain": self.gain, "saturation": self.saturation, "snr_db": self.snr,
                "luma_hz": self.luma_hz, "chroma_hz": self.chroma_hz}
