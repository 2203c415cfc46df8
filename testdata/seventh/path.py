"""Faults of the signal path, each made on the image in the way it shows, and the device's last steps: levels, noise, codes."""
import numpy as np
from scipy.ndimage import convolve1d

import device


def response(faults):
    """What the path does to edges, over frequency; None where it does nothing."""
    parts = [t for t in faults if t["kind"] in ("ringing", "low-bandwidth", "ghost")]
    if not parts:
        return None

    def r(f):
        out = np.ones_like(f, dtype=complex)
        for t in parts:
            if t["kind"] == "ringing":  # a resonance; beyond it the path falls off
                q = f / t["hz"]
                out = out / (1 - q ** 2 + 1j * q / t["q"])
            elif t["kind"] == "low-bandwidth":
                out = out / (1 + 1j * f / t["hz"]) ** t["poles"]
            else:
                out = (out + t["part"] * np.exp(-2j * np.pi * f * t["late"]) / (1 + 1j * f / 4e6)) / (1 + max(0, t["part"]) * t["shared"])
        return out
    return r


def placer(dev, faults):
    killed = killed_by(faults)
    return device.Placer(dev, response(faults), trapped=killed != "dots")


def killed_by(faults):
    return next((t["left"] for t in faults if t["kind"] == "colour-lost"), None)


def seconds(d, dev, f):
    """Time of each sample of field f since the first."""
    line = np.arange(d.field_height)[:, None] / d.line_hz
    return f / d.field_hz + line + dev.grid()[None] / d.sample_hz


def tone(p, f, t, dev, y, cb, cr):
    """A sine on the composite: what luma passes of it, and what is taken for colour near the subcarrier."""
    d = dev.d
    hz = t["frequency_hz"] if t["kind"] == "interference" else d.clock / t["period_px"]
    if t["kind"] == "interference":
        wave = np.exp(2j * np.pi * ((hz * seconds(d, dev, f)) % 1) + 1j * t["phase"]).astype(np.complex64)
    else:  # the same on all lines
        x = (dev.grid() - dev.x0) / (d.pitch * dev.scale)
        wave = np.broadcast_to(np.exp(2j * np.pi * x / t["period_px"] + 1j * t["phase"]), y.shape)
    passed = np.interp(hz, *(lambda q: (q, device.luma_response(dev, q)))(np.linspace(0, 7e6, 400)))
    y = y + np.float32(t["part"] * passed) * wave.real
    if t.get("second"):  # not a clean sine
        y = y + np.float32(t["part"] * t["second"]) * (wave ** 2).real * np.float32(2 * hz < dev.luma_hz)
    seen = float(device.bell(np.float64(hz - d.fsc), dev.chroma_hz)) * dev.cross
    if seen > .02:
        b = t["part"] * seen * wave[:, ::2] * np.conj(p.carrier[:, ::2] * p.field_phase(f))
        cb, cr = cb - b.imag / .873596, cr + b.real * p.switch / 1.229554
    return y, cb, cr


class Noise:
    """Noise as wide as luma and as narrow as colour, from one long strip each, a new stretch a field."""

    def __init__(self, rng, dev):
        n = dev.d.field_height * dev.width
        self.rng, self.n = rng, n
        taps = np.sinc(np.arange(-6, 7) * dev.luma_hz / (dev.d.sample_hz / dev.step) * 2) * np.hanning(15)[1:-1]
        bell = np.exp(-.5 * (np.arange(-8, 9) / 1.6) ** 2)
        self.luma = self.strip(6 * n, taps)
        self.colour = self.strip(6 * n, bell)

    def strip(self, n, taps):
        s = self.rng.standard_normal(n, np.float32)
        return convolve1d(s, (taps / np.sqrt((taps ** 2).sum())).astype(np.float32))

    def take(self, which, n):
        o = int(self.rng.integers(0, len(which) - n))
        return which[o:o + n]

    def add(self, dev, y, cb, cr, sigma, sigma_c):
        h, w = y.shape
        y = y + self.take(self.luma, self.n).reshape(h, w) * np.float32(sigma)
        half = cb.size
        return (y, cb + self.take(self.colour, half).reshape(cb.shape) * np.float32(sigma_c),
                cr + self.take(self.colour, half).reshape(cb.shape) * np.float32(sigma_c * .8))


def moved(a, by):
    """Lines moved to the right by so many samples each, between samples by straight lines."""
    h, w = a.shape
    at = np.clip(np.arange(w)[None] - by[:, None], 0, w - 1.001)
    i = at.astype(int)
    k = (at - i).astype(np.float32)
    return np.take_along_axis(a, i, 1) * (1 - k) + np.take_along_axis(a, i + 1, 1) * k


def displacement(rng, t, h, f):
    """Samples by which each line of a field with weak sync lies off."""
    if t["mode"] == "jitter":
        e = rng.normal(0, t["samples"], h)
        for i in range(1, h):
            e[i] = t["memory"] * e[i - 1] + np.sqrt(1 - t["memory"] ** 2) * e[i]
        return e
    out = rng.normal(0, .15, h)
    if t["mode"] == "tear":
        for place in t["places"]:  # a loop that was thrown off comes back over some lines
            if rng.random() < t["often"]:
                at = int(place + rng.normal(0, 3))
                n = np.arange(h) - at
                out += np.where(n >= 0, t["samples"] * rng.normal(1, .35) * np.exp(-np.maximum(n, 0) / t["lines"]), 0)
    return out


def rolled(t, f):
    return int(round(t["lines_a_field"] * f + t["start"])) if t["mode"] == "roll" else 0


def finish(p, planes, f, dev, faults, noise, rng):
    """8-bit planes of field f."""
    d = dev.d
    y, cb, cr = p.decoded(planes, f, killed_by(faults))
    sigma, sigma_c, gain, ceiling, floor, turn, sat = dev.noise, dev.chroma_noise, 1.0, None, None, dev.hue, dev.saturation
    for t in faults:
        k = t["kind"]
        if k in ("interference", "fixed-bars"):
            y, cb, cr = tone(p, f, t, dev, y, cb, cr)
        elif k == "hum":
            a = 2 * np.pi * t["hz"] * (f / d.field_hz + np.arange(d.field_height) / d.line_hz) + t["phase"]
            y = y + (t["part"] / 2 * (np.sin(a) + t["second"] * np.sin(2 * a + 1)))[:, None].astype(np.float32)
        elif k == "noise":
            sigma, sigma_c = t["sigma"], t["sigma"] * t["colour"]
        elif k == "hue-shift":
            turn = turn + t["degrees"]
        elif k in ("level-high", "level-low"):
            gain, sat = t["gain"], sat * t["colour"]
        elif k == "clipping":
            gain, ceiling, floor = t["gain"], t.get("ceiling"), t.get("floor")
    if gain != 1 or ceiling is not None or floor is not None:
        y = y * np.float32(gain)
        if ceiling is not None:
            y = np.minimum(y, ceiling)
        if floor is not None:
            y = np.maximum(y - np.float32(floor), 0) / np.float32(1 - floor)
    a = np.radians(turn)
    u, v = .873596 * cb, 1.229554 * cr
    cb, cr = ((u * np.cos(a) - v * np.sin(a)) / .873596).astype(np.float32), ((u * np.sin(a) + v * np.cos(a)) / 1.229554).astype(np.float32)
    by = None
    for t in faults:
        if t["kind"] == "sync-weak":
            by = displacement(rng, t, d.field_height, f)
    if by is not None:
        y, cb, cr = moved(y, by), moved(cb, by / 2), moved(cr, by / 2)
    else:  # a small one, by the slope
        e = rng.normal(0, dev.jitter, d.field_height).astype(np.float32)[:, None]
        y = y - e * np.gradient(y, axis=1)
    y, cb, cr = noise.add(dev, y * np.float32(dev.gain) + np.float32(dev.offset), cb * np.float32(sat * dev.gain), cr * np.float32(sat * dev.gain), sigma, sigma_c)
    return codes(y, cb, cr, dev.full_range)


def codes(y, cb, cr, full):
    ky, oy, kc = (255, 0, 255) if full else (219, 16, 224)
    lo, hi = (0, 255) if full else (1, 254)
    return tuple(np.clip(np.rint(q), lo, hi).astype(np.uint8) for q in (oy + ky * y, 128 + kc * cb, 128 + kc * cr))
