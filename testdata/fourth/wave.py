"""From raster to the composite waveform of one machine: its own line, field and subcarrier, levels in parts of white less blanking.

The rate is 18 MHz of the machine's own line (4/3 of the device's 13.5), so a line is 1152 or 1144 samples. What a field holds
is I(t) + cos(phase) P(t) + sin(phase) Q(t): luma, sync and stripes in I, chroma at two subcarrier phases in P and Q, so that a
still picture is encoded once and each field costs two products. Figures: ITU-R BT.1700, SMPTE 170M.
"""
import math

import numpy as np
from scipy import fft
from scipy.special import erf

FSC = {True: 4433618.75, False: 5e6 * 63 / 88}


def edge(t, at, rise):
    """A step at a time with a 10 to 90 % rise (of a Gaussian: 2.563 sigma)."""
    return 0.5 * (1 + erf((t - at) / (rise / 2.563) / math.sqrt(2)))


class Output:
    """One machine's composite output: tolerances, faults, and the field's constant parts."""

    def __init__(self, d, rng, faults=()):
        self.d = d
        self.f = {f["kind"]: f for f in faults if f["class"] == "signal"}
        self.n_line = d.samples * 4 // 3
        self.rows = d.lines if d.lines % 8 == 0 else 264  # a length that transforms well; the rows beyond the field's are not looked at
        self.n = self.rows * self.n_line
        self.t = (np.arange(self.n_line) / self.n_line * d.line_s * 1e6)  # us after 0H
        # The field begins with the long pulse; the seen raster ends some lines before the next.
        self.top_line = d.lines - d.seen[0] - int(rng.integers(1, 4))
        centre = (132 + 360 if d.pal else 122 + 360) + rng.uniform(-10, 10)  # in the device's samples after 0H
        self.first_px = (centre / d.pitch - d.seen[1] / 2)  # of the seen raster, in pixels after 0H
        self.setup = 0.075 if not d.pal and rng.random() < 0.25 else 0.0
        self.sync = (3 / 7 if d.pal else 0.4) * rng.uniform(0.95, 1.06)
        self.burst = (3 / 14 if d.pal else 0.2) * rng.uniform(0.92, 1.08)
        self.white = rng.uniform(0.96, 1.03)
        self.chroma = rng.uniform(0.9, 1.08)
        self.rise = rng.uniform(0.05, 0.11)  # us, of the luma output
        self.chroma_rise = max(self.rise, rng.uniform(0.06, 0.35))  # machines that switch chroma unfiltered are common
        self.lag = rng.uniform(-0.03, 0.06)  # us, chroma against luma
        self.noise = rng.uniform(0.003, 0.009)
        ppm = rng.uniform(-60, 60) * 1e-6
        locked = not d.attr  # the text displays divide pixel clock and subcarrier from one crystal
        fsc = FSC[d.pal] * (1 + (0 if locked else ppm))
        self.cycles = (455 / 2 if not d.pal else 567 / 2) if locked else fsc * d.line_s  # a line
        self.bin = round(self.cycles * self.rows)
        self.advance = 2 * math.pi * (self.cycles * d.lines % 1)
        self.phase0 = rng.uniform(0, 2 * math.pi)
        if "hue-shift" in self.f:
            self.turn = math.radians(self.f["hue-shift"]["degrees"])
        else:
            self.turn = math.radians(rng.uniform(-4, 4))
        # Resistors of the colour stage: each index a little off, in luma, and in chroma's size and angle.
        self.luma_off = rng.normal(0, 0.008, 16)
        self.chroma_off = (1 + rng.normal(0, 0.03, 16)) * np.exp(1j * np.radians(rng.normal(0, 1.5, 16)))
        carrier = 2 * np.pi * ((self.bin * np.arange(self.n, dtype=np.int64)) % self.n) / self.n
        self.cos = np.cos(carrier).astype(np.float32).reshape(self.rows, self.n_line)
        self.sin = np.sin(carrier).astype(np.float32).reshape(self.rows, self.n_line)
        self.switch = np.where(np.arange(self.rows) & 1, -1, 1).astype(np.float32)[:, None] if d.pal else np.float32(1)
        self.luma_map = self._spread(self.rise, 0)
        self.chroma_map = self._spread(self.chroma_rise, self.lag)
        self.base = self._base()
        self.response = self._response()
        self.kept = {}

    def _spread(self, rise, lag):
        """Seen pixel to samples of its line: a box as long as the pixel through a Gaussian output stage."""
        px_us = self.d.line_s * 1e6 / self.d.pixels
        starts = (self.first_px + np.arange(self.d.seen[1] + 1)) * px_us + lag
        steps = edge(self.t[None, :], starts[:, None], rise)
        return (steps[:-1] - steps[1:]).astype(np.float32)

    def _base(self):
        """Sync, burst and stripes; sync and picture apart, for faults that touch one of them."""
        d, t = self.d, self.t
        line_us = d.line_s * 1e6
        pulse = edge(t, 0, 0.2) - edge(t, 4.7, 0.2) + edge(t, line_us, 0.2)
        broad = edge(t, 0, 0.2) - edge(t, line_us - 4.7, 0.2) + edge(t, line_us, 0.2)
        sync = np.tile(pulse, (self.rows, 1))
        sync[:3 if d.pal else 4] = broad
        start, length = (5.6, 2.25) if d.pal else (19 / 3.579545, 9 / 3.579545)
        gate = edge(t, start, 0.3) - edge(t, start + length, 0.3)
        gates = np.tile(gate, (self.rows, 1))
        gates[:8] = 0
        if "colour-lost" in self.f:
            gates[:] *= 0.02 if self.f["colour-lost"]["_"]["how"] == "no burst" else 1
        self.gates = gates.astype(np.float32)
        return (-self.sync * sync).astype(np.float32)

    def _stripes(self):
        f = self.f.get("fixed-bars")
        if not f:
            return 0.0
        px = self.t * self.d.clock * 1e-6
        a = 2 * np.pi * px / f["period_px"] + f["_"]["phase"]
        wave = np.sin(a) / 2 if f["_"]["shape"] == "sine" else np.exp(3 * (np.cos(a) - 1)) - 0.24
        return (f["_"]["size"] * wave).astype(np.float32)[None, :]

    def _response(self):
        """What the output and cable do to everything, as a transfer function; None when nothing is wrong there."""
        hz = np.arange(self.n // 2 + 1) / (self.n * self.d.line_s / self.n_line)
        h = None
        if "ringing" in self.f:  # a resonance that steps set off: second-order low-pass part beside the straight way
            p = self.f["ringing"]["_"]
            x = hz / p["hz"]
            h = (1 - p["size"]) + p["size"] / (1 - x * x + 1j * x / p["q"])
        if "low-bandwidth" in self.f:
            h = 1 / (1 + 1j * hz / self.f["low-bandwidth"]["_"]["hz"])
            h = 0.94 * h + 0.06  # some of the chroma gets past
        if "ghost" in self.f:
            p = self.f["ghost"]["_"]
            h = 1 + p["size"] * np.exp(-2j * np.pi * hz * p["delay"])
        return None if h is None else h.astype(np.complex64)

    def _parts(self, raster, lut):
        """I, P, Q of a raster."""
        key = (raster.tobytes(), lut.tobytes())
        if key in self.kept:
            return self.kept[key]
        d = self.d
        span = slice(self.top_line, self.top_line + d.seen[0])
        black = (1 - self.setup) * lut
        y = (black[:, 0] * (1 + self.luma_off) + self.setup).astype(np.float32)[raster] * np.float32(self.white)
        turn = np.exp(1j * self.turn) * self.white * self.chroma
        uv = (black[:, 1] + 1j * black[:, 2]) * turn * self.chroma_off
        if "colour-lost" in self.f and self.f["colour-lost"]["_"]["how"] == "no chroma":
            uv = uv * 0
        still = np.zeros((self.rows, self.n_line), np.float32)
        still[span] = y @ self.luma_map
        picture_gain = 1.0
        for kind in ("level-high", "level-low"):
            if kind in self.f:
                picture_gain = self.f[kind]["_"]["gain"]
        stripes = self._stripes()
        if np.ndim(stripes):
            still[span] += stripes * (self.t > 9) * (self.t < self.t[-1] - 1.2)
        u, v = np.zeros_like(still), np.zeros_like(still)
        u[span] = uv.real.astype(np.float32)[raster] @ self.chroma_map
        v[span] = uv.imag.astype(np.float32)[raster] @ self.chroma_map
        angle = math.radians(135 if d.pal else 180)
        u += self.gates * np.float32(self.burst * math.cos(angle))
        v += self.gates * np.float32(self.burst * math.sin(angle))
        v *= self.switch
        i = self.base + picture_gain * still
        pq = [picture_gain * (u * self.sin + v * self.cos), picture_gain * (u * self.cos - v * self.sin)]
        out = [i] + pq
        if self.response is not None:
            out = [fft.irfft(fft.rfft(x.ravel()) * self.response, self.n).astype(np.float32).reshape(x.shape) for x in out]
        if len(self.kept) > 3:
            self.kept.clear()
        self.kept[key] = out
        return out

    def field(self, raster, lut, n, rng):
        """The waveform of field n, rows x samples, in parts of white less blanking."""
        i, p, q = self._parts(raster, lut)
        phase = self.phase0 + self.advance * n
        w = i + np.float32(math.cos(phase)) * p + np.float32(math.sin(phase)) * q
        start = n * self.d.field_s
        if "hum" in self.f:
            h = self.f["hum"]["_"]
            mains = (50 if self.d.pal else 60) * (2 if h["twice"] else 1)
            t = start + np.arange(self.rows) * self.d.line_s
            wave = (h["size"] / 2 * np.sin(2 * np.pi * mains * t + h["phase"])).astype(np.float32)[:, None]
            picture = (self.t > 9.0).astype(np.float32)  # the clamp of the machine's own encoder hides it in the porch
            w = w + h["gain"] * wave * np.maximum(w, 0) + (1 - h["gain"]) * wave * picture + 0.15 * wave
        if "clipping" in self.f:
            c = self.f["clipping"]["_"]
            over = w - np.float32(c["at"])
            soft = np.float32(c["soft"])
            w = np.float32(c["at"]) + np.where(over < 0, over, soft * np.tanh(over / soft))
        if "interference" in self.f:
            x = self.f["interference"]
            t = (start + np.arange(self.rows)[:, None] * self.d.line_s) + (self.t * 1e-6)[None, :]
            w = w + (x["_"]["size"] / 2 * np.sin(2 * np.pi * x["frequency_hz"] * t + x["_"]["phase"])).astype(np.float32)
        w = w + np.float32(self.noise) * rng.standard_normal(w.shape, np.float32)
        if "noise" in self.f:
            x = self.f["noise"]["_"]
            more = rng.standard_normal(w.shape, np.float32)
            if x["pink"]:  # noise of a supply or a starved stage lies lower
                more[:, 1:] += more[:, :-1]
                more[:, 2:] += 0.7 * more[:, :-2]
                more *= np.float32(1 / math.sqrt(1 + 1.7 ** 2 + 0.7 ** 2) * 1.3)
            w += np.float32(x["sigma"]) * more
        return w
