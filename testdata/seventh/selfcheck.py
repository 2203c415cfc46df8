"""Checks against the standards and the catalogue, each worked out here by another way than the generator's. Ends with "all right"."""
import numpy as np

import device
import displays
import faults
import machine
import path
import screens

DISPLAYS = displays.load()
BARS = {(1, 1, 1): (235, 128, 128), (1, 1, 0): (210, 16, 146), (0, 1, 1): (170, 166, 16), (0, 1, 0): (145, 54, 34), (1, 0, 1): (106, 202, 222),
        (1, 0, 0): (81, 90, 240), (0, 0, 1): (41, 240, 110), (0, 0, 0): (16, 128, 128), (.75, 0, 0): (65, 100, 212), (0, .85, .85): (146, 160, 33)}


def bars():
    for rgb, want in BARS.items():
        y, cb, cr = displays.ycc(rgb)
        got = path.codes(*(np.array([q]) for q in (y, cb, cr)), False)
        assert all(abs(int(g[0]) - w) <= 1 for g, w in zip(got, want)), (rgb, got, want)
    for d in DISPLAYS.values():
        if d.kind == "text":
            for k, angle in ((4, 103.48), (12, 240.66), (9, 60.66)):
                y, cb, cr = displays.ycc(d.palette[k])
                u, v = .873596 * cb, 1.229554 * cr
                assert abs(np.degrees(np.arctan2(v, u)) % 360 - angle) < .1 and abs(np.hypot(u, v) - .2) < .001, (k, u, v)
                assert abs(y - (.70 if k > 9 else .35)) < 1e-6


def formula(y, c):
    """Bitmap address as the standard sheet writes it, not from the profile's list."""
    return (y >> 6) << 11 | (y & 7) << 8 | (y >> 3 & 7) << 5 | c


def addresses():
    for d in DISPLAYS.values():
        if d.kind == "attr":
            all_of = {d.bitmap_address(y, c) for y in range(192) for c in range(32)}
            assert all(d.bitmap_address(y, c) == formula(y, c) for y in range(192) for c in range(32))
            assert all_of == set(range(6144)) and d.colour_address(191, 31) == 6911 and d.colour_address(8, 0) == 6176


def quiet(d, rng, **keys):
    dev = device.Device(rng, d)
    dev.noise = dev.chroma_noise = dev.jitter = dev.offset = dev.hue = 0
    dev.gain = dev.saturation = 1.0
    dev.second_off = 0
    vars(dev).update(keys)
    return dev


def flat(d, colour):
    """A raster all in one colour."""
    return np.full((d.seen_h, d.seen_w), colour, np.uint8), displays.ycc(d.palette)


def field(dev, raster, signal=(), f=0):
    p = path.placer(dev, signal)
    r = np.random.default_rng(1)
    return path.finish(p, p.place(*raster), f, dev, signal, path.Noise(r, dev), r)


def halves(line):
    """Places where a line crosses half of its height."""
    s = line.astype(float)
    m = (s.max() + s.min()) / 2
    i = np.flatnonzero((s[:-1] < m) != (s[1:] < m))
    return i + (m - s[i]) / (s[i + 1] - s[i])


def places():
    for k, d in enumerate(DISPLAYS.values()):
        for n in range(4):
            dev = quiet(d, np.random.default_rng([k, n]))
            r = flat(d, 0)
            white = 15 if d.kind == "attr" else 3
            r[0][d.top:d.top + d.height, d.left:d.left + d.width] = white
            y = field(dev, r)[0]
            t = dev.truth()
            e = halves(y[d.field_height // 2])
            # A device's trap may make flat tops uneven, so a fifth of a sample is allowed. Sample i is at x = i.
            assert abs(e[0] - t["origin_x"]) < .2 and abs((e[-1] - e[0]) / d.width - t["pitch_x"]) < .003, (d.name, e, t)
            rows = np.flatnonzero(y[:, dev.width // 2] > 125)
            assert rows[0] == t["origin_y"] and len(rows) == d.height, (rows[0], t)
            if dev.scale == 1 and dev.width in (720, 704):
                assert abs(t["pitch_x"] - {448: 864 / 448 if d.pal else 858 / 448, 504: 864 / 504, 520: 1.65}[d.line_pixels]) < 1e-9


def recovered(raster):
    """Bytes of bitmap memory from a raster in white on black."""
    on = (raster[0][48 if len(raster[0]) == 288 else 24:][:192, 48:48 + 256] & 7) == 7
    return np.packbits(on.reshape(192, 32, 8), -1)[..., 0]


def expected(mem, t, y, c):
    """What line y, column c should show under a fault, worked out for one byte."""
    k = t["kind"]
    if k == "line-counter":
        y = y | 1 << t["counter_bit"] if t["level"] else y & ~(1 << t["counter_bit"])
        return int(mem[formula(y, c)])
    a = formula(y, c)
    v = int(mem[a])
    put = lambda b, to: v | 1 << b if to else v & ~(1 << b)
    if k == "data-bit-stuck":
        return put(t["bit"], t["level"])
    if k == "row-dead":
        return put(t["bit"], t["level"]) if a % 128 == t["row"] else v
    if k == "column-dead":
        return put(t["bit"], t["level"]) if a // 128 == t["column"] else v
    for line in t["lines"]:
        a = a | 1 << line if t["level"] else a & ~(1 << line)
    return sum(((int(mem[a]) if b in t["lanes"] else v) >> b & 1) << b for b in range(8))


def chips():
    """Faults of chips, bus and counter against a slow reading byte by byte, on a screen of noise in white on black."""
    d = DISPLAYS["attr-256x192-50"]
    rng = np.random.default_rng(5)
    s = screens.draw(rng, d, "fill")
    s.mem = rng.integers(0, 256, 16384, dtype=np.uint8)
    s.mem[6144:8192], s.border = 0x47, 0
    # Colour cells are kept out of it: faults that would move them read 0x47 wherever they look, but for a lane of their own.
    for kind in ("data-bit-stuck", "address-line-stuck", "row-dead", "column-dead", "line-counter"):
        for _ in range(12):
            t = faults.draw(rng, d, kind, s, 50)
            white = dict(t)
            r = machine.raster(s, [white], 0)
            good = machine.memory_reads(s, [white], 0)[0]
            got = recovered(r) if all(good[d.colour_address(machine.counters(d, [t]), 0)] == 0x47) and (good[6144:6912] == 0x47).all() else None
            if got is None:  # colours moved as well: read the bytes below the palette
                y, c = machine.counters(d, [t])[:, None], np.arange(32)[None]
                got = good[d.bitmap_address(y, c)]
            want = np.array([[expected(s.mem, t, y, c) for c in range(32)] for y in range(192)])
            assert (got == want).all(), (t, np.argwhere(got != want)[:5])
    for bit in range(3):  # the same bit of colour bytes: ink blue, red, green
        idx = machine.raster(s, [{"kind": "data-bit-stuck", "bit": bit, "level": 0}], 0)[0]
        assert set(np.unique(idx)) == {0, 8, 15 - (1 << bit)}, np.unique(idx)


def text():
    """Text displays: a code's bit, a cell's address, the generator's lines."""
    d = DISPLAYS["text-40x25-60"]
    s = screens.draw(np.random.default_rng(3), d, "dump")
    s.mem[:1000] = np.arange(1000) % 256
    s.colour[:], s.background, s.border = 1, 0, 0
    rows = lambda r: np.packbits(r[0][20:220, 42:362].reshape(25, 8, 40, 8) == 1, -1)[..., 0].transpose(0, 2, 1).reshape(1000, 8)
    for t, code in (({"kind": "data-bit-stuck", "bit": 3, "level": 1}, lambda a: s.mem[a] | 8), ({"kind": "row-dead", "bit": 0, "row": 5, "level": 0},
                    lambda a: s.mem[a] & 254 if a % 128 == 5 else s.mem[a]), ({"kind": "address-line-stuck", "lines": [4], "lanes": list(range(8)), "level": 0},
                    lambda a: s.mem[a & ~16])):
        got = rows(machine.raster(s, [t], 0))
        assert all((got[a] == s.font[code(a)]).all() for a in range(1000)), t
    got = rows(machine.raster(s, [{"kind": "character-generator", "line": 5, "level": 1}], 0))
    assert all((got[a] == s.font[s.mem[a] | 4]).all() for a in range(1000))
    same, loose = faults.rivals(s, {"kind": "data-bit-stuck", "bit": 2, "level": 1})
    assert {"class": "video-logic", "kind": "character-generator", "line": 5, "level": 1} in same and not loose, (same, loose)
    same, _ = faults.rivals(s, {"kind": "character-generator", "line": 1, "level": 0})
    assert any(r["kind"] == "line-counter" and r["counter_bit"] == 1 for r in same)


def signals():
    for name in ("attr-256x192-50", "text-40x25-60"):
        d = DISPLAYS[name]
        dev = quiet(d, np.random.default_rng(2), width=720, start=0, step=1.0, scale=1.0, full_range=False, trap=0, cross=0, dots=0, y0=0, deinterlace="woven")
        grey = flat(d, 7 if d.kind == "attr" else 2)
        for px in (4, 8, 16):
            y = field(dev, grey, [{"kind": "fixed-bars", "period_px": px, "part": .1, "phase": 0, "second": 0}])[0][100, 60:660].astype(float)
            spectrum = np.abs(np.fft.rfft((y - y.mean()) * np.hanning(600), 1 << 16))
            got = (1 << 16) / spectrum.argmax() / d.pitch
            assert abs(got - px) < .03 * px, (px, got)
        for hz in (130 * d.line_hz + 4000, 60300.0):
            t = [{"kind": "interference", "frequency_hz": hz, "part": .1, "phase": 0}]
            a = np.array([field(dev, grey, t, f)[0][20:220, 300].astype(float) for f in (0, 1)])
            n = np.arange(200)
            turn = [np.sum((row - row.mean()) * np.exp(-2j * np.pi * (hz / d.line_hz % 1) * n)) for row in a]
            assert abs(turn[0]) > 100 * 10 and abs(np.angle(turn[1] / turn[0] * np.exp(-2j * np.pi * (hz / d.field_hz % 1)))) < .1, (hz, turn)
        for degrees in (-40, 25):
            before, after = (field(dev, flat(d, 4), t) for t in ([], [{"kind": "hue-shift", "degrees": degrees}]))
            angle = [np.degrees(np.arctan2(1.229554 * (float(q[2][100, 180]) - 128), .873596 * (float(q[1][100, 180]) - 128))) for q in (before, after)]
            assert abs((angle[1] - angle[0] - degrees + 180) % 360 - 180) < 2, (degrees, angle)
        low = field(dev, grey, [{"kind": "level-low", "gain": .5, "colour": 1}])[0][100, 360]
        full = field(dev, grey)[0][100, 360]
        assert abs((int(low) - 16) * 2 - (int(full) - 16)) <= 2, (low, full)
        r = flat(d, 0)
        white = 15 if d.kind == "attr" else 3
        r[0][:, 200:210] = white
        delay = 2e-6
        y = field(dev, r, [{"kind": "ghost", "part": .3, "late": delay, "shared": 0}])[0][100].astype(float) - 16
        middle = dev.x0 + 205 * d.pitch + delay * d.sample_hz
        assert abs(y[int(round(middle))] / y[int(round(dev.x0 + 205 * d.pitch))] - .3) < .03
        parts = np.array([device.Placer(dev).y.sum(0)[360], 1.0])
        assert abs(parts[0] - 1) < .01, parts


if __name__ == "__main__":
    for check in (bars, addresses, places, chips, text, signals):
        check()
        print(check.__name__)
    print("all right")
