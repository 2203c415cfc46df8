"""Holds waveform, decode, places and address map to the standards' and data sheets' figures. Ends "all right" or with status 1."""
import sys

import numpy as np

import device
import displays
import machine
import wave

BAD = []


def near(what, value, want, within):
    ok = abs(value - want) <= within
    print(f"{'ok ' if ok else 'BAD'} {what}: {value:.4g} (wants {want:.4g} +-{within:.2g})")
    if not ok:
        BAD.append(what)


def exact():
    """A machine without tolerances and noise."""
    t = wave.tolerances(np.random.default_rng(1))
    t.update(sync=1, white=1, burst=1, chroma=1, hue=0, lag_us=0, rise_us=0.001, start_us=0, noise=0, sub0=0.7, v_first=16)
    t.update(each_hue=np.zeros(16), each_gain=np.ones(16), each_luma=np.zeros(16))
    return t


def plain(d, decoder):
    t = device.tastes(np.random.default_rng(1), d)
    t.update(decoder=decoder, delay_line=False, contrast=1, black=0, saturation=1, hue=0, agc=1, clamp=1, slicer=0, x0=1.25, y0=0, order=0, step=0,
             scale=1.0, full_range=False, codes_noise=0, peaking=0, size=720, chroma_hz=1.0e6, luma_hz=5.5e6)
    return t


def bars(d):
    """Eight bars of a bright machine in the order of luma, as a raster; numbers of colours of `attr` displays."""
    w, h = d.left + d.w + d.right, d.top + d.h + d.bottom
    k = np.array([15, 14, 13, 12, 11, 10, 9, 8])
    return np.tile(k[np.minimum(np.arange(w) * 8 // w, 7)], (h, 1)).astype(np.uint8)


# 100/0/100/0 bars: luma mV, chroma p-p mV, phase, codes (BT.471, BT.601; 625/50)
BARS = {"white": (700, 0, None, (235, 128, 128)), "yellow": (620.2, 627.3, 167.11, (210, 16, 146)), "cyan": (490.7, 885.1, 283.48, (170, 166, 16)),
        "green": (410.9, 826.8, 240.66, (145, 54, 34)), "magenta": (289.1, 826.8, 60.66, (106, 202, 222)), "red": (209.3, 885.1, 103.48, (81, 90, 240)),
        "blue": (79.8, 627.3, 347.11, (41, 240, 110)), "black": (0, 0, None, (16, 128, 128))}


def waveform(d):
    tol = exact()
    sig = wave.Signal(d, bars(d), d.table, tol, [])
    s, r = sig.std, np.random.default_rng(2)
    rows = np.arange(100, 140)
    x = sig.lines(rows, 3, tol, [], r).astype(float)
    us = (np.arange(sig.width) - wave.PRE) / s.per_us
    scale = 700 / s.white
    tip = x[:, (us > 1) & (us < 4)].mean()
    near(f"{d.name} sync, mV", tip, -300 if d.pal else -285.714, 0.5)

    def crossing(y, level, after, falling):
        i = np.flatnonzero((us > after) & ((y < level) if falling else (y > level)))[0]
        return us[i - 1] + (level - y[i - 1]) / (y[i] - y[i - 1]) * (us[i] - us[i - 1])

    y = x.mean(axis=0)
    near("  leading edge, us", crossing(y, tip / 2, -0.9, True), 0, 0.01)
    near("  sync width, us", crossing(y, tip / 2, 1, False), 4.7, 0.02)
    # The carrier by least squares on one line: amplitude and phase of burst and bars.
    t = (np.arange(sig.width) - wave.PRE) / (s.per_us * 1e6)

    def carrier(row, a, b):
        k = (us > a) & (us < b)
        m = np.stack([np.sin(2 * np.pi * d.fsc * t[k]), np.cos(2 * np.pi * d.fsc * t[k]), np.ones(k.sum())], axis=1)
        u, v, mean = np.linalg.lstsq(m, row[k], rcond=None)[0]
        return u + 1j * v, mean

    b0, b1 = s.burst_us
    pair = [carrier(x[i], b0 + 0.3, b1 - 0.3)[0] for i in (0, 1)]
    near("  burst p-p, mV", 2 * abs(pair[0]), 300 if d.pal else 285.714, 3)
    turn = np.exp(-1j * (tol["sub0"] + sig.step * (3 * d.lines + rows[:2]) - 2 * np.pi * d.fsc * wave.PRE / (s.per_us * 1e6) * -1))
    angle = [np.degrees(np.angle(p * q)) % 360 for p, q in zip(pair, turn)]
    near("  burst of an even line, degrees", angle[0], 135 if d.pal else 180, 0.5)
    near("  burst of an odd line, degrees", angle[1], 225 if d.pal else 180, 0.5)
    env = np.abs(x[0] - y * 0)
    k = (us > 4.9) & (us < 9)
    on = us[k][np.flatnonzero(env[k] > 0.5 * abs(pair[0]))]
    near("  burst begins, us", on[0], b0, 0.15)
    near("  burst ends, us", on[-1], b1, 0.2)  # its last peak is up to half a cycle earlier
    wide = (d.left + d.w + d.right) / d.clock * 1e6 / 8
    for i, (name, (luma, pp, phase, _)) in enumerate(BARS.items()):
        z, mean = carrier(x[0], sig.left_us + (i + 0.2) * wide, sig.left_us + (i + 0.8) * wide)
        near(f"  {name} luma, mV", mean * scale, luma, 2)
        near(f"  {name} chroma p-p, mV", 2 * abs(z) * scale, pp, 6)
        if phase is not None:
            near(f"  {name} phase", np.degrees(np.angle(z * turn[0])) % 360, phase, 1)


def decode(d, decoder):
    tol, t = exact(), plain(d, decoder)
    sig = wave.Signal(d, bars(d), d.table, tol, [])
    dev = device.Device(d, sig.std, t, sig.colour, sig.step)
    r = np.random.default_rng(3)
    y, u, v = dev.codes(*dev.field(sig, 0, tol, [], r, {}), r)
    x0 = (sig.left_us * sig.std.per_us / 1.5) - (132 if d.pal else 122) - t["x0"]
    wide = (d.left + d.w + d.right) * (864 if d.pal else 858) / d.period / 8
    for i, (name, (_, _, phase, codes)) in enumerate(BARS.items()):
        a, b = int(x0 + (i + 0.3) * wide), int(x0 + (i + 0.7) * wide)
        got = [p[100:180, a // q:b // q].mean() for p, q in ((y, 1), (u, 2), (v, 2))]
        for label, g, w in zip(("Y", "Cb", "Cr"), got, codes):
            near(f"{d.name} {decoder} {name} {label}", g, w, 2)
        near(f"{d.name} {decoder} {name} dots left, codes", y[100:180, a:b].std(), 0, 1.5)  # PAL over two lines is 0.0032 of a cycle off
        if phase is not None:
            angle = np.degrees(np.arctan2(1.229554 * (got[2] - 128), 0.873596 * (got[1] - 128))) % 360
            near(f"{d.name} {decoder} {name} degrees", angle, phase, 1)


def places(d):
    """An edge of the picture lies where the truth would say."""
    tol, t = exact(), plain(d, "notch")
    out = np.full((d.top + d.h + d.bottom, d.left + d.w + d.right), 0, np.uint8)
    white = 15 if d.attr else 3
    out[d.top:d.top + d.h, d.left:d.left + d.w] = white
    sig = wave.Signal(d, out, d.table, tol, [])
    dev = device.Device(d, sig.std, t, sig.colour, sig.step)
    y = dev.codes(*dev.field(sig, 0, tol, [], np.random.default_rng(3), {}), np.random.default_rng(3))[0].astype(float)
    per = sig.std.per_us / 1.5
    for side, px in (("left", d.left), ("right", d.left + d.w)):
        want = (sig.left_us + px / d.clock * 1e6) * per - (132 if d.pal else 122) - t["x0"]
        row = y[d.top + 50:d.top + 150].mean(axis=0)
        a = int(want) - 6
        k = a + np.flatnonzero((row[a:a + 12] > 125.5) != (row[a] > 125.5))[0]
        near(f"{d.name} {side} edge, sample", k - 1 + (125.5 - row[k - 1]) / (row[k] - row[k - 1]), want, 0.15)
    column = y[:, 300] > 125
    near(f"{d.name} first line", np.flatnonzero(column)[0], d.top, 0)


def addresses():
    """Counts for the map of 6144 + 768 bytes, published with it."""
    y, c = np.arange(192)[:, None], np.arange(32)[None, :]
    bitmap = displays.bitmap_address(y, c).ravel()
    colour = np.unique(displays.colour_address(y, c))
    seen = np.concatenate([bitmap, colour])
    near("addresses in all", len(np.unique(seen)), 6912, 0)
    near("address of line 1", displays.bitmap_address(np.array(1), np.array(0)), 256, 0)
    near("address of line 8", displays.bitmap_address(np.array(8), np.array(0)), 32, 0)
    near("address of line 64", displays.bitmap_address(np.array(64), np.array(0)), 2048, 0)
    near("of one chip row, bitmap", np.sum(bitmap & 127 == 5), 48, 0)
    near("of one chip row, colours", np.sum(colour & 127 == 5), 6, 0)
    near("of one chip column", np.sum(seen >> 7 == 7), 128, 0)
    near("chip columns that hold screen", len(np.unique(seen >> 7)), 54, 0)
    for pin, want in enumerate((1728, 1792, 1792, 1920, 2048, 2048, 3456)):
        near(f"distinct cells with pin {pin} at 0", len(np.unique(machine.forced(seen, [pin, pin + 7], 0))), want, 0)


def main():
    addresses()
    for name in displays.NAMES:
        d = displays.load(name)
        places(d)
        if d.attr:
            waveform(d)
            for decoder in ("notch", "comb" if d.pal else "notch-narrow", "adaptive"):
                decode(d, decoder)
    print("all right" if not BAD else f"{len(BAD)} wrong")
    sys.exit(bool(BAD))


if __name__ == "__main__":
    main()
