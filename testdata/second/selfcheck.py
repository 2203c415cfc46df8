#!/usr/bin/env python3
"""75 % colour bars through coder and every decoder against BT.601's codes and the vectorscope's
angles (reference values computed here from the equations), and pitch and origin as the truth
states them, measured on a white block's edges. Also the address map and the waveform's levels."""
import numpy as np

import machine
from composite import Encoder, UP
from grabber import Grabber, KINDS, to8
from profiles import PROFILES
from screens import Screen, bitmap_address

BARS = [(1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0)]


def expected(r, g, b):
    y = .299 * r + .587 * g + .114 * b
    return (16 + 219 * y, 128 + 112 * (b - y) / .886, 128 + 112 * (r - y) / .701,
            np.degrees(np.arctan2(.877 * (r - y), .493 * (b - y))) % 360)


def blank(p):
    return machine.Machine(p, Screen("", np.zeros(16384, np.uint8), np.zeros(1024, np.uint8), 0,
                                     rom=np.zeros((256, 8), np.uint8)))


def bars(p, kind):
    rng = np.random.default_rng(5)
    m = blank(p)
    lut = np.zeros((16, 3))
    for i, c in enumerate(BARS):
        r, g, b = (.75 * v for v in c)
        y = .299 * r + .587 * g + .114 * b
        lut[i] = y, .493 * (b - y), .877 * (r - y)
    lut[15] = 1, 0, 0
    raster = m.field(0)
    x0, y0, w = p.left + p.bx, p.top + p.by, p.w // 8
    for i in range(8):
        raster[y0:y0 + p.h, x0 + i * w:x0 + (i + 1) * w] = i
    raster[:y0][raster[:y0] < 16] = 7
    enc = Encoder(p, rng, neutral=True)
    dev = Grabber(enc, rng, kind, neutral=True)
    worst, turn = 0, 0
    for n in range(2):
        c = enc.field(raster, lut, n, rng, 0)
        Y, cb, cr = (to8(q, False).astype(float) for q in dev.field(c, n & 1, rng))
        for i, col in enumerate(BARS):
            a = int(dev.origin_x() + (i + .5) * w * dev.pitch_x())
            rows = slice(dev.origin_y(0) + 40, dev.origin_y(0) + 140)
            got = [Y[rows, a - 8:a + 8].mean(), cb[rows, a // 2 - 4:a // 2 + 4].mean(), cr[rows, a // 2 - 4:a // 2 + 4].mean()]
            want = expected(*(.75 * v for v in col))
            worst = max(worst, *(abs(g - e) for g, e in zip(got, want)))
            if col not in ((1, 1, 1), (0, 0, 0)):
                ang = np.degrees(np.arctan2((got[2] - 128) * 1.229554, (got[1] - 128) * .873596)) % 360
                turn = max(turn, abs((ang - want[3] + 180) % 360 - 180))
    assert worst <= 3 and turn <= 3, (p.name, kind, worst, turn)
    if kind == "notch":                               # levels of the waveform
        line = c[p.top + p.by + 50]
        assert abs(line[20:p.sync_w * UP - 20].mean() + enc.sync) < .005
        gate = line[p.burst[0] * UP + 12:p.burst[1] * UP - 12]
        assert abs(gate.std() * np.sqrt(2) - (150 / 700 if p.pal else .2)) < .01, gate.std()
    return worst, turn


def edges(p, seed):
    """Pitch and origin, from half-height crossings of a white block on black, any device."""
    rng = np.random.default_rng(seed)
    m = blank(p)
    raster = m.field(0)
    x0, y0 = p.left + p.bx, p.top + p.by
    raster[raster < 16] = 0
    raster[y0:y0 + p.h, x0:x0 + p.w] = 15
    lut = np.zeros((16, 3))
    lut[15] = 1, 0, 0
    enc = Encoder(p, rng)
    dev = Grabber(enc, rng)
    got = []
    for n in range(4):
        Y = dev.field(enc.field(raster, lut, n, rng, dev.noise), n & 1, rng)[0]
        row = Y[dev.origin_y(n & 1) + 20:dev.origin_y(n & 1) + p.h - 20].mean(0)
        lo, hi = np.median(row[20:80]), np.median(row[300:420])
        half = (lo + hi) / 2
        up = np.argmax(row > half)
        dn = 719 - np.argmax(row[::-1] > half)
        got.append((up - 1 + (half - row[up - 1]) / (row[up] - row[up - 1]),
                    dn + (row[dn] - half) / (row[dn] - row[dn + 1])))
        col = Y[:, 300:400].mean(1) > half
        assert np.argmax(col) == dev.origin_y(n & 1), (np.argmax(col), dev.origin_y(n & 1))
        assert col.sum() == p.h
    a, b = np.mean(got, 0)
    # Sample i stands at x = i, and an edge where the held level changes.
    assert abs(a - dev.origin_x()) < .25 * dev.pitch_x(), (p.name, a, dev.origin_x())
    assert abs((b - a) / p.w - dev.pitch_x()) < .002, ((b - a) / p.w, dev.pitch_x())
    return abs(a - dev.origin_x())


def addresses():
    y, c = np.indices((192, 32))
    a = bitmap_address(y, c)
    assert sorted(a.reshape(-1)) == list(range(6144))
    assert bitmap_address(1, 0) == 256 and bitmap_address(8, 0) == 32 and bitmap_address(64, 0) == 2048
    p = PROFILES["attr-256x192-50"]
    s = Screen("", np.zeros(16384, np.uint8), np.zeros(1024, np.uint8), 0)
    s.mem[6144:6912] = 7
    for bit in range(8):
        f = {"class": "ram-bit", "kind": "data-bit-stuck", "bit": bit, "level": 1}
        r = machine.Machine(p, s, [f]).field(0)
        row = r[p.top + p.by, p.left + p.bx:p.left + p.bx + 16]
        assert (row[7 - bit] != row[(8 - bit) % 8]) and row[7 - bit] == row[15 - bit], (bit, row)
    # A pin at 0: the distinct bytes reached of 6912, from the reference sheet's section 6.4.
    used = np.r_[a.reshape(-1), np.arange(6144, 6912)]
    for k, n in enumerate((1728, 1792, 1792, 1920, 2048, 2048, 3456)):
        assert len(set(used & ~(129 << k))) == n


def main():
    addresses()
    for p in PROFILES.values():
        for kind in KINDS:
            w, t = bars(p, kind)
            print(f"{p.name} {kind}: bars within {w:.1f} codes, {t:.1f} degrees")
        print(f"{p.name}: origin within {max(edges(p, s) for s in range(12)):.2f} samples of the truth")


if __name__ == "__main__":
    main()
