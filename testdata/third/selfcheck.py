"""Holds the generator to the standards' numbers: levels, angles, timing, pitch, origin, the address map."""
import numpy as np

import tv
from machine import Machine
from profiles import PROFILES, palette
from screens import bitmap_address

FAILED = []


def near(what, a, b, tolerance):
    ok = abs(a - b) <= tolerance
    print(f"{'ok  ' if ok else 'BAD '}{what}: {a:.4f}, due {b:.4f} +- {tolerance}")
    if not ok:
        FAILED.append(what)


def bars(p):
    """Eight bars over all that is seen, white to black."""
    n = p.left + p.w + p.right
    order = np.array([15, 14, 13, 12, 11, 10, 9, 0]) if not p.text else np.array([3, 11, 13, 12, 15, 10, 14, 0])
    return np.tile(order[np.arange(n) * 8 // n], (p.above + p.h + p.below, 1)).astype(np.uint8), order


CODES = {7: (235, 128, 128), 6: (210, 16, 146), 5: (170, 166, 16), 4: (145, 54, 34), 3: (106, 202, 222), 2: (81, 90, 240), 1: (41, 240, 110), 0: (16, 128, 128)}

for p in PROFILES.values():
    print(p.name)
    pal = palette(p)
    enc, out = tv.Encoder(p, pal, 6e6, 3e6), tv.Output(p, [])
    raster, order = bars(p)
    r = np.random.default_rng(1)
    y, c = enc.field(raster)
    x, ref, odd = out.field(y, c, 0, r, 0)
    us = np.arange(tv.S) / enc.fs * 1e6
    row = x[100]
    tip = row[(us > 1) & (us < 4)].mean()
    near("sync tip, parts of white", tip, -3 / 7 if p.pal else -0.4, 0.002)
    down = np.where((row[:-1] > tip / 2) & (row[1:] <= tip / 2))[0][0], np.where((row[:-1] <= tip / 2) & (row[1:] > tip / 2))[0][0]
    near("sync width, us", us[down[1]] - us[max(down[0], 0)] if down[1] > down[0] else us[down[1]] - 0.05, 4.7, 0.12)
    burst = row[(us > 6) & (us < 7.4)]
    near("burst p-p", np.ptp(burst), 0.4286 if p.pal else 0.4, 0.02)
    near("line, us", tv.S / enc.fs * 1e6, 1e6 * p.periods / p.clock, 1e-6)
    t = np.arange(tv.S) / enc.fs
    for k, index in enumerate(order):
        if p.text or index == 0:
            continue
        n = p.left + p.w + p.right
        a = int(((k + 0.3) * n / 8 - p.left + enc.zero) * enc.rate)
        b = int(((k + 0.75) * n / 8 - p.left + enc.zero) * enc.rate)
        seg = 700 * x[100:140, a:b]
        g, rr, bb = index >> 2 & 1, index >> 1 & 1, index & 1
        yy = 0.299 * rr + 0.587 * g + 0.114 * bb
        amp = np.hypot(0.493 * (bb - yy), 0.877 * (rr - yy))
        near(f"  bar {index & 7} greatest, mV of 700", seg.max(), 700 * (yy + amp), 7)
        near(f"  bar {index & 7} least", seg.min(), 700 * (yy - amp), 7)
    for sort in ("notch", "comb2", "comb3"):
        d = tv.Device(p, np.random.default_rng(5), sort)
        d.gain, d.offset, d.saturation, d.hue, d.full_range, d.headroom = 1, 0, 1, 0, False, 2
        yy, u, v = d.field(x, ref, odd, False)
        for k, index in enumerate(order):
            n = p.left + p.w + p.right
            at = d.origin_x + ((k + 0.5) * n / 8 - p.left) * d.pitch_x
            i = slice(int(at) - 8, int(at) + 8)
            j = slice(int(at / 2) - 4, int(at / 2) + 4)
            m = slice(p.rows // 2 - 40, p.rows // 2 + 40)
            got = [float(z.mean()) for z in (yy[m, i], u[m, j], v[m, j])]
            if p.text:
                w = pal[index]
                due = (16 + 219 * w[0], 128 + 224 * w[1] / (0.493 * 1.772), 128 + 224 * w[2] / (0.877 * 1.402))
            else:
                due = CODES[index & 7]
            for name, gg, dd in zip(("Y", "Cb", "Cr"), got, due):
                if abs(gg - dd) > 2:
                    near(f"  {sort} bar {index} {name}", gg, dd, 2)
        print(f"ok  {sort} bars' codes" if not FAILED else f"    {sort} bars looked at")
    # a hue turned in the machine comes out with its sign
    f = {"class": "signal", "kind": "hue-shift", "degrees": 30.0, "_q": {}}
    x2, ref2, odd2 = tv.Output(p, [f]).field(y, c, 3, r, 0)
    d = tv.Device(p, np.random.default_rng(6), "comb2")
    d.hue, d.full_range = 0, False
    _, u, v = d.field(x2, ref2, odd2, False)
    n = p.left + p.w + p.right
    k = 5
    at = int((d.origin_x + ((k + 0.5) * n / 8 - p.left) * d.pitch_x) / 2)
    uv = (u[100:140, at].mean() - 128) * 0.493 * 1.772 + 1j * (v[100:140, at].mean() - 128) * 0.877 * 1.402
    was = np.degrees(np.arctan2(pal[order[k]][2], pal[order[k]][1]))
    near("hue turned by 30", (np.degrees(np.angle(uv)) - was) % 360, 30, 1.5)
    # a white column of the picture is where the truth says
    raster[:] = 0
    raster[p.above:p.above + p.h, p.left] = 3 if p.text else 15
    raster[p.above:p.above + p.h, p.left + p.w - 1] = 3 if p.text else 15
    y, c = enc.field(raster)
    x, ref, odd = out.field(y, c, 1, r, 0)
    d = tv.Device(p, np.random.default_rng(9), "notch")
    yy, _, _ = d.field(x, ref, odd, False)
    line = yy[p.rows // 2]
    line = line - np.median(line)
    i = np.arange(720)
    for side, px in ((i < 360, 0.5), (i >= 360, p.w - 0.5)):
        w = np.where(side & (line > 0.2 * line[side].max()), line, 0)
        near(f"column at px {px}", (w * i).sum() / w.sum(), d.origin_x + px * d.pitch_x, 0.15)
    at = int(round(d.origin_x + 0.5 * d.pitch_x))
    near("first line", np.where(yy[:, at] > yy[:, at].max() / 2)[0][0], d.origin_y, 0)
    noisy, ref, odd = out.field(*enc.field(np.zeros_like(raster)), 1, r, d.sigma(40))
    yy, _, _ = d.field(noisy, ref, odd, False)
    flat = yy[60:200, 200:600] / (255 / 219 if d.full_range else 1)
    near("S/N of luma, dB", 20 * np.log10(219 / flat.std()), 40, 1.5)

s = sorted(list(bitmap_address(np.arange(192)[:, None], np.arange(32)[None]).ravel()) + list(range(6144, 6912)))
near("addresses of the screen", len(set(s)), 6912, 0)
near("of one row", sum(a & 127 == 5 for a in s), 54, 0)
for k, n in enumerate([1728, 1792, 1792, 1920, 2048, 2048, 3456]):
    near(f"reached with pin {k} at 0", len({a & ~(129 << k) for a in s}), n, 0)
p = PROFILES["attr-256x192-50"]
mem = np.zeros(16384, np.uint8)
mem[6144:6912] = 7
m = Machine(p, {"mem": mem, "border": 0, "fill": None}, None, 1)
for bit in range(8):
    img = m.raster([{"class": "ram-bit", "kind": "data-bit-stuck", "bit": bit, "level": 1}], 0)[p.above:p.above + p.h, p.left:p.left + p.w]
    lane = [x for x in range(8) if (img[:, x::8] & 7 == 7).all()]
    near(f"stuck bit {bit} shows in pixel column", lane[0] if bit not in (0, 1, 2) or lane else -1, 7 - bit, 0)
    rest = img[0, (8 - bit) % 8]
    near("  and its paper is", int(rest), {3: 1, 4: 2, 5: 4}.get(bit, 0), 0)
print("FAILED: " + ", ".join(FAILED) if FAILED else "all right")
