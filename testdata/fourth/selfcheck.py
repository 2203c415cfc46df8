"""Holds the waveform and the decode to the standards' figures, and the fetch to the address map; ends "all right".

Figures: ITU-R BT.1700 Tables 1 and 2 (625), SMPTE 170M (525), ITU-R BT.601 Table 1 and 3.5; bars by BT.471's names.
"""
import math
import sys

import numpy as np
from scipy import fft

import faults
import profiles
import rivals
import screens
import write
from device import Device
from machine import Machine
from profiles import NAMES, Display
from wave import FSC, Output

LIMITS = []


def hold(what, seen, due, allowed):
    good = abs(seen - due) <= allowed
    LIMITS.append(good)
    if not good:
        print(f"{what}: {seen:.4f}, due {due:.4f} within {allowed}")


def plain(d, kind="notch"):
    """An output and a device without tolerances."""
    rng = np.random.default_rng(1)
    out = Output(d, rng)
    out.sync, out.burst = (3 / 7, 3 / 14) if d.pal else (0.4, 0.2)
    out.white = out.chroma = 1.0
    out.noise, out.turn, out.setup, out.rise, out.chroma_rise, out.lag = 0.0, 0.0, 0.0, 0.08, 0.15, 0.0
    out.luma_off, out.chroma_off = 0.0, 1.0
    out.luma_map, out.chroma_map, out.base = out._spread(0.08, 0), out._spread(0.15, 0), out._base()
    device = Device(d, rng, size=(720, 2 * d.active), kind=kind)
    device.gain = device.saturation = device.agc = 1.0
    device.brightness = device.hue = device.noise = device.jitter = device.delay = device.x_off = device.scaler = device.setup = 0.0
    device.full_range, device.second_cut = False, 0
    device.prepare(out)
    return out, device


def waveform(d):
    """Sync, porch, burst and bars in the waveform itself."""
    out, _ = plain(d)
    bars = np.zeros(d.seen, np.uint8)
    colours = np.array([15, 14, 13, 12, 11, 10, 9, 8] if d.attr else [3, 5, 7, 6, 9, 4, 8, 0])
    bars[:] = np.repeat(colours, d.seen[1] // 8 + 1)[:d.seen[1]]
    w = out.field(bars, d.lut, 0, np.random.default_rng(0))
    row = w[out.top_line + 60]
    white_mv = 700 if d.pal else 714.2857
    fine = np.interp(np.linspace(0, out.t[-1], 200000), out.t, row)
    us = np.linspace(0, out.t[-1], 200000)
    tip, porch = row[(out.t > 1) & (out.t < 4)].mean(), row[(out.t > 8.3) & (out.t < 8.9)].mean()
    hold("sync, mV", (tip - porch) * white_mv, -300 if d.pal else -285.71, 0.5)
    half = us[(us < 5.4) & (fine > (tip + porch) / 2)]
    hold("sync width, us", half[half > 2].min(), 4.7, 0.2 if d.pal else 0.1)
    gate = out.gates[30]
    on = out.t[gate > 0.5]
    hold("burst start, us", on.min(), 5.6 if d.pal else 5.308, 0.1)
    hold("burst length, us", on.max() - on.min(), 2.25 if d.pal else 2.514, 0.23)
    burst = row[(out.t > 6.2) & (out.t < 7.3)] - porch
    hold("burst p-p, mV", np.sqrt(8 * np.mean(burst ** 2)) * white_mv, 300 if d.pal else 285.71, 8)
    hold("subcarrier, ppm", (out.cycles / d.line_s / FSC[d.pal] - 1) * 1e6, 0, 70 if d.attr else 5)
    hold("setting to a bin, ppm", (out.bin / out.rows / out.cycles - 1) * 1e6, 0, 10)
    spec = np.abs(fft.rfft((out.gates * (out.sin if d.pal else out.cos)).ravel()))
    hold("subcarrier of the waveform", np.argmax(spec) / out.rows / out.cycles, 1, 1e-4)
    # Each bar by a fit of a constant and a subcarrier over its middle, phase against the burst's.
    cos, sin = out.cos[out.top_line + 60], out.sin[out.top_line + 60]
    sign = float(out.switch[out.top_line + 60, 0]) if d.pal else 1.0
    phase = out.phase0
    c, s = cos * math.cos(phase) - sin * math.sin(phase), sin * math.cos(phase) + cos * math.sin(phase)
    px = (out.t * 1e-6 * d.clock) - out.first_px
    for k, i in enumerate(colours):
        width = d.seen[1] // 8 + 1
        at = (px > k * width + 8) & (px < min((k + 1) * width, d.seen[1]) - 8)
        a = np.stack([np.ones(at.sum()), s[at], c[at]], axis=1)
        y, u, v = np.linalg.lstsq(a, row[at] - porch, rcond=None)[0]
        want = d.lut[i]
        hold(f"{d.name} bar {i} luma, mV", y * 700, want[0] * 700, 1.5)
        hold(f"{d.name} bar {i} chroma p-p, mV", math.hypot(u, v) * 1400, math.hypot(want[1], want[2]) * 1400, 9)
        if math.hypot(want[1], want[2]) > 0.05:
            angle = math.degrees(math.atan2(sign * v, u)) - math.degrees(math.atan2(want[2], want[1]))
            hold(f"{d.name} bar {i} angle", (angle + 180) % 360 - 180, 0, 1.0)
    hold("line, us", d.line_s * 1e6, 64 if d.pal else 63.5556, 0.07)


def decode(d, kind):
    """The codes of bright bars, and the pitch and origin of the raster in them."""
    out, device = plain(d, kind)
    bars = np.zeros(d.seen, np.uint8)
    colours = [15, 14, 13, 12, 11, 10, 9, 8] if d.attr else [3, 5, 7, 6, 9, 4, 8, 0]
    width = d.width // 8
    bars[:, d.left:d.left + d.width] = np.repeat(colours, width)
    lut = d.lut.copy()
    if d.attr:
        for i, codes in zip(range(15, 7, -1), ((235, 128, 128), (210, 16, 146), (170, 166, 16), (145, 54, 34), (106, 202, 222),
                                              (81, 90, 240), (41, 240, 110), (16, 128, 128))):
            y, u, v = lut[i]
            hold("BT.601 luma", 16 + 219 * y, codes[0], 0.6)
            hold("BT.601 Cb", 128 + 224 * u / 0.493 * 0.5 / 0.886, codes[1], 0.6)
            hold("BT.601 Cr", 128 + 224 * v / 0.877 * 0.5 / 0.701, codes[2], 0.6)
    rng = np.random.default_rng(2)
    w = out.field(bars, lut, 0, rng)
    luma, colour = device.frame_lines(*device.decode(w, rng), 0, rng)
    y, cb, cr = device.codes(luma, colour)
    pitch, x, line = device.geometry()
    for k, i in enumerate(colours):
        at = slice(round(x + pitch * (k * width + 12)), round(x + pitch * ((k + 1) * width - 12)))
        half = slice(at.start // 2 + 2, at.stop // 2 - 2)
        rows = slice(line + 40, line + 100)
        want = lut[i]
        hold(f"{d.name} {kind} {i} Y", y[rows, at].mean(), 16 + 219 * want[0], 2.5)
        hold(f"{d.name} {kind} {i} Cb", cb[rows, half].mean(), 128 + 224 * want[1] / 0.493 * 0.5 / 0.886, 4)
        hold(f"{d.name} {kind} {i} Cr", cr[rows, half].mean(), 128 + 224 * want[2] / 0.877 * 0.5 / 0.701, 4)
    frame = np.full(d.seen, 0, np.uint8)
    bright = 15 if d.attr else 3
    frame[d.top:d.top + d.height, d.left:d.left + d.width] = bright
    w = out.field(frame, lut, 1, rng)
    luma, _ = device.frame_lines(*device.decode(w, rng), 0, rng)
    mid = luma[line + 20:line + 100].mean(axis=0)

    def cross(a, rising):
        k = np.flatnonzero((a[:-1] < 0.5) & (a[1:] >= 0.5) if rising else (a[:-1] >= 0.5) & (a[1:] < 0.5))[0]
        return k + (0.5 - a[k]) / (a[k + 1] - a[k])
    hold(f"{d.name} {kind} origin", cross(mid, True), x, 0.15)
    hold(f"{d.name} {kind} width", cross(mid, False) - cross(mid, True), d.width * d.samples / d.pixels, 0.15)
    column = luma[:, round(x) + 200]
    hold(f"{d.name} {kind} first line", np.flatnonzero(column > 0.5)[0], line, 0)
    hold(f"{d.name} {kind} lines", (column > 0.5).sum(), d.height, 0)


def memory():
    """The address map of bitmap displays, and what single address lines move."""
    y, c = np.mgrid[:192, :32]
    a = profiles.bitmap_address(y, c)
    every = np.concatenate([a.ravel(), profiles.colour_address(*np.mgrid[0:192:8, 0:32]).ravel()])
    hold("addresses", len(np.unique(every)), 6912, 0)
    bits = [(y >> k & 1) for k in (7, 6, 2, 1, 0, 5, 4, 3)] + [(c >> k & 1) for k in (4, 3, 2, 1, 0)]
    hold("bitmap address", np.abs(a - sum(b << (12 - k) for k, b in enumerate(bits))).max(), 0, 0)
    for k, due in enumerate((1728, 1792, 1792, 1920, 2048, 2048, 3456)):  # distinct cells with a pin at 0
        hold(f"pin {k}", len(np.unique(every & ~(129 << k))), due, 0)
    hold("a row's share", ((every & 127) == 5).sum(), 54, 0)
    d = Display(NAMES[0])
    rng = np.random.default_rng(3)
    s = screens.Screen(d, rng, "mosaic")
    good = Machine(d, s).raster(0)[d.top:d.top + 192, d.left:d.left + 256]
    for bit in range(8):  # a stuck lane: one column in eight, where the colours hold
        f = {"class": "ram-bit", "kind": "data-bit-stuck", "bit": bit, "level": 1, "_": {}}
        bad = Machine(d, s, [f])
        cells = bad.read(profiles.bitmap_address(y, c), 0)
        hold(f"lane {bit}", np.abs(cells.astype(int) - (s.mem[a] | 1 << bit)).max(), 0, 0)
    for line, counter in ((5, 3), (6, 4), (7, 5)):  # design's twins: all lanes of A5..A7 and counter bits 3..5
        f = {"class": "ram-bit", "kind": "address-line-stuck", "lines": [line], "lanes": list(range(8)), "level": 0, "_": {}}
        found, _ = rivals.find(d, s, f, 1, 0)
        hold(f"A{line} and counter bit {counter}", sum(r["kind"] == "line-counter" and r["counter_bit"] == counter for r in found), 1, 0)
    ink = s.mem[profiles.colour_address(y, c)] & 7
    lit = np.unpackbits(s.mem[a][:, :, None], axis=2)
    hold("bit 7 is the left pixel", (lit[..., 0] == (s.mem[a] >> 7)).mean(), 1, 0)
    shown = good.reshape(192, 32, 8) & 7
    hold("ink where lit", (shown == ink[..., None])[lit > 0].mean(), 1, 0)
    hold("kinds", len(faults.KINDS), 31, 0)
    grey = [np.full((4, 8), 128, np.uint8), np.full((4, 4), 128, np.uint8), np.full((4, 4), 128, np.uint8)]
    hold("grey to R", float(write.rgb(grey, False)[0, 0, 0]), 130, 0.5)  # 1.164384 x 112


def main():
    for name in NAMES:
        d = Display(name)
        waveform(d)
        for kind in ("notch", "peaking", "comb2", "comb3", "adaptive"):
            decode(d, kind)
    memory()
    if not all(LIMITS):
        sys.exit(f"{LIMITS.count(False)} of {len(LIMITS)} wrong")
    print(f"{len(LIMITS)} figures, all right")


if __name__ == "__main__":
    main()
