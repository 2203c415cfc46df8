"""A capture device's particulars, and how it lays a raster on its grid: each machine pixel is a box in time, seen through a band limit.

Everything linear and the same on all lines (the device's own limit, its trap, and what the path does to edges) is one response over
frequency; its step response gives the share of each machine pixel in each sample.
"""
import numpy as np
from scipy.ndimage import gaussian_filter1d

FINE, SPAN = 16, 512  # places a sample, samples of the response


class Device:
    """Drawn once a capture; `like` makes another specimen of the same sort, at another position and other levels."""

    def __init__(self, rng, d, like=None):
        self.d = d
        w = like.width if like else int(rng.choice([720] * 15 + [704, 704, 640, 768])) if rng.random() < .9 else 720
        if (w == 640 and d.pal) or (w == 768 and not d.pal):
            w = 720
        self.width = w
        self.deinterlace = like.deinterlace if like else str(rng.choice(["woven"] * 20 + ["blend", "bob"]))
        self.bottom_first = like.bottom_first if like else bool(rng.random() < (.5 if not d.pal else .1))
        self.second_off = like.second_off if like else int(rng.choice([0] * 14 + [1]))
        self.full_range = like.full_range if like else bool(rng.random() < .15)
        self.comb = like.comb if like else bool(rng.random() < .25)
        self.trap = like.trap if like else rng.uniform(.6, 1) * (not self.comb)
        self.trap_hz = like.trap_hz if like else rng.uniform(.45e6, .9e6)
        self.cross = like.cross if like else rng.uniform(.05, .2) if self.comb else rng.uniform(.4, .9)
        self.dots = like.dots if like else rng.uniform(0, .2) if self.comb else rng.uniform(.4, 1)
        self.luma_hz = like.luma_hz if like else rng.uniform(4.4e6, 5.7e6)
        self.order = like.order if like else int(rng.integers(3, 7))
        self.chroma_hz = like.chroma_hz if like else rng.uniform(.6e6, 1.25e6)
        self.average = d.pal and (like.average if like else bool(rng.random() < .8))
        # What differs between two specimens.
        self.chroma_late = rng.uniform(-60e-9, 140e-9)
        self.gain, self.offset = rng.uniform(.94, 1.03), rng.normal(0, .006)
        self.saturation, self.hue = rng.uniform(.85, 1.1), rng.normal(0, 2.5)
        self.noise = float(np.exp(rng.normal(np.log(1.0), .4))) / 219  # as a part of white; 1 code is 47 dB
        self.chroma_noise = self.noise * rng.uniform(.7, 1.4)
        self.jitter = abs(rng.normal(0, .035)) + .01  # samples
        seen = d.seen_w * d.pitch
        self.x0 = (720 - seen) / 2 + rng.uniform(-9, 9)  # left edge of the seen raster in samples of 13.5 MHz
        self.scale = 1.0 if rng.random() < .7 else 1 + rng.uniform(-.004, .004)
        self.y0 = (d.field_height - d.seen_h) // 2 + int(rng.integers(-5, 6))
        self.phase = rng.uniform(0, 2 * np.pi)
        # Output samples: 720 or so of the line; 704 leaves out eight on each side, the others squeeze or stretch all of it.
        self.start, self.step = (8, 1.0) if w == 704 else (0, 720 / w)

    def grid(self, every=1):
        return self.start + np.arange(0, self.width, every) * self.step

    def truth(self):
        d, k = self.d, self.scale / self.step
        left = self.x0 + d.left * d.pitch * self.scale
        return {"pitch_x": d.pitch * k, "origin_x": (left - self.start) / self.step, "origin_y": self.y0 + d.top}


def frequencies(hz):
    return np.fft.rfftfreq(FINE * SPAN, 1 / (FINE * hz))


def luma_response(dev, f, trapped=True):
    """The device's own: a flat-topped low pass, and a hole at the subcarrier where it has a trap."""
    top = min(dev.luma_hz, .46 * dev.d.sample_hz / dev.step)
    r = 1 / np.sqrt(1 + (f / top) ** (2 * dev.order))
    if trapped:
        r = r * (1 - dev.trap * np.exp(-((f - dev.d.fsc) / dev.trap_hz) ** 2))
    return r / r[0]


def bell(f, hz):
    """A bell with half its power left at hz."""
    return np.exp(-.5 * np.log(2) * (f / hz) ** 2)


def shares(x, left, pitch, step, count):
    """Share of each of count pixels in each sample, from a step response on the fine grid centred on SPAN / 2."""
    edges = x[:, None] - (left + pitch * np.arange(count + 1))[None]
    at = np.clip((edges + SPAN / 2) * FINE, 0, len(step) - 1.001)
    i = at.astype(int)
    s = step[i] + (step[i + 1] - step[i]) * (at - i)
    return s[:, :-1] - s[:, 1:]


def step_of(spectrum):
    h = np.fft.fftshift(np.fft.irfft(spectrum, FINE * SPAN))
    return np.cumsum(h) - h / 2


def band_step(spectrum):
    """Step response of a one-sided (complex) filter, from its spectrum over np.fft.fftfreq."""
    h = np.fft.fftshift(np.fft.ifft(spectrum))
    return np.cumsum(h) - h / 2


class Placer:
    """Weights for one device and one path; path(f) is the path's response over frequency, 1 at f = 0."""

    def __init__(self, dev, path=None, trapped=True, encoder_hz=1.5e6):
        d, self.dev = dev.d, dev
        path = path or (lambda f: np.ones_like(f))
        hz, pitch = d.sample_hz, d.pitch * dev.scale
        f = frequencies(hz)
        x, x2 = dev.grid(), dev.grid(2)
        y = shares(x, dev.x0, pitch, step_of(luma_response(dev, f, trapped) * path(f)), d.seen_w)
        # Colour rides on the subcarrier, so the path acts on it as it does around there.
        late = np.exp(-2j * np.pi * f * dev.chroma_late)
        at = np.array([d.fsc])
        pass_c = complex(path(at)[0])
        around = (path(f + d.fsc) / pass_c + np.conj(path(np.abs(d.fsc - f)) / pass_c)) / 2  # burst goes the same way
        held = min(1, abs(pass_c) / .15)  # gain control for colour reaches so far
        c = shares(x2, dev.x0, pitch, step_of(bell(f, encoder_hz) * late * around * held), d.seen_w)
        both = np.fft.fftfreq(FINE * SPAN, 1 / (FINE * hz))
        one = np.where(both > 0, bell(both - d.fsc, dev.chroma_hz) * path(np.abs(both)) / pass_c * held, 0)
        b = shares(x2, dev.x0, pitch, band_step(one), d.seen_w)
        self.luma_part = np.float32(min(1, abs(pass_c)))
        self.y, self.c, self.b = (np.ascontiguousarray(m.T.astype(t)) for m, t in ((y, np.float32), (c, np.float32), (b, np.complex64)))
        self.b_re, self.b_im = np.ascontiguousarray(self.b.real), np.ascontiguousarray(self.b.imag)
        line = np.arange(d.field_height)[:, None]
        turn = 2 * np.pi * d.fsc
        self.theta = (turn * (dev.grid()[None] / hz + line / d.line_hz) + dev.phase).astype(np.float64)
        self.carrier = np.exp(1j * self.theta).astype(np.complex64)
        self.switch = np.where(line % 2, -1, 1).astype(np.float32) if d.pal else np.ones((d.field_height, 1), np.float32)

    def field_phase(self, f):
        return np.exp(2j * np.pi * ((self.dev.d.fsc / self.dev.d.field_hz * f) % 1)).astype(np.complex64)

    def place(self, idx, palette, shift=0):
        """Planes of a field: luma, Cb, Cr (parts of full), cross-colour and dots at field phase 0.

        shift moves the picture down by lines, round the whole field (blanking goes with it).
        """
        d, dev = self.dev.d, self.dev
        rows = np.arange(d.field_height) - dev.y0
        rows = (rows - shift) % d.field_lines if shift else rows
        inside = (rows >= 0) & (rows < d.seen_h)
        src = np.where(inside, rows, 0)
        kinds, same = np.unique(np.ascontiguousarray(idx).view(f"V{idx.shape[1]}").ravel(), return_inverse=True)  # lines that are alike are placed once
        ycc = palette.astype(np.float32)[kinds.view(np.uint8).reshape(len(kinds), -1)]
        src = same[src]
        m = [np.ascontiguousarray(ycc[..., i]) for i in range(3)]
        lum, cb, cr, bre, bim = m[0] @ self.y, m[1] @ self.c, m[2] @ self.c, m[0] @ self.b_re, m[0] @ self.b_im
        k = inside[:, None].astype(np.float32)
        y, cb, cr = lum[src] * k, cb[src] * k, cr[src] * k
        # Luma near the subcarrier, seen as colour: 2b = v - ju.
        base = 2 * (bre[src] + 1j * bim[src]) * k * np.conj(self.carrier[:, ::2])
        # Colour that the trap leaves in luma: quick changes of it.
        u, v = .873596 * cb, 1.229554 * cr * self.switch
        full = (v - 1j * u) * self.luma_part
        sigma = dev.d.sample_hz / 2 / dev.step / (np.sqrt(2) * np.pi * dev.trap_hz)
        rest = full - (gaussian_filter1d(full.real, sigma, axis=1) + 1j * gaussian_filter1d(full.imag, sigma, axis=1))
        return {"y": y, "cb": cb, "cr": cr, "cross": base.astype(np.complex64), "dots": rest.astype(np.complex64), "full": full.astype(np.complex64)}

    def decoded(self, p, f, killed=None):
        """Luma and colour of field f: dots added, colour narrowed, cross-colour added, lines averaged where the device does it.

        killed: None, "dots" (no burst: the whole of the colour stays in luma) or "bare" (no colour was sent).
        """
        dev, turn = self.dev, self.field_phase(f)
        if killed == "bare":
            return p["y"], np.zeros_like(p["cb"]), np.zeros_like(p["cr"])
        left = p["full"] if killed else p["dots"] * np.float32(dev.dots)
        y = p["y"] + (np.repeat(left, 2, 1)[:, :dev.width] * self.carrier * turn).real
        if killed:
            return y, np.zeros_like(p["cb"]), np.zeros_like(p["cr"])
        cross = p["cross"] * np.conj(turn) * np.float32(dev.cross)
        sigma = .1325 / dev.chroma_hz * dev.d.sample_hz / 2 / dev.step
        key = "narrow"
        if key not in p:
            p[key] = gaussian_filter1d(p["cb"], sigma, axis=1), gaussian_filter1d(p["cr"], sigma, axis=1)
        cb = p[key][0] - cross.imag / .873596
        cr = p[key][1] + cross.real * self.switch / 1.229554
        if dev.average:
            cb[1:], cr[1:] = (cb[1:] + cb[:-1]) / 2, (cr[1:] + cr[:-1]) / 2
        return y, cb, cr
