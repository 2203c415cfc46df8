"""Holds waveform, decode and address map to figures from outside: BT.1700, BT.470, BT.471, BT.601, SMPTE 170M; memory data sheets."""
import numpy as np

import device
import faults
import fonts
import gen
import machine
import screens
import wave
from profiles import NAMES, Display

# 100/0/100/0 bars (BT.471): luma mV, chroma p-p mV, angle, codes of BT.601; bits green, red, blue.
BARS = {7: (700.0, 0, None, (235, 128, 128)), 6: (620.2, 627.3, 167.11, (210, 16, 146)), 5: (490.7, 885.1, 283.48, (170, 166, 16)),
        4: (410.9, 826.8, 240.66, (145, 54, 34)), 3: (289.1, 826.8, 60.66, (106, 202, 222)), 2: (209.3, 885.1, 103.48, (81, 90, 240)),
        1: (79.8, 627.3, 347.11, (41, 240, 110)), 0: (0, 0, None, (16, 128, 128))}
bad = []


def near(what, got, want, by):
    if not abs(got - want) <= by:
        bad.append(what)
        print(f"WRONG {what}: {got:.4f}, should be {want:.4f} within {by}")


def bars(d):
    """A raster of eight bars at full brightness over all that is seen."""
    k = 7 - np.arange(d.seen_w) * 8 // d.seen_w
    return np.tile((k | 8).astype(np.uint8), (d.seen_h, 1)), d._attr()


def waveform(name):
    """Sync, burst and bars of a nominal machine, on the volts' scale."""
    d = Display(name)
    w = wave.Wave(d, wave.nominal(d), 8 * d.fsc, [])
    x = w.field(0, *bars(d)) * (700 if d.hz == 50 else 100 / 0.14)  # 714.3 mV to white at 525 lines
    fs, line = w.rate, d.line_pixels / d.clock
    at = lambda n, us: int(round((n * line + us * 1e-6) * fs))
    near(name + " sync depth, mV", x[at(60, 1):at(60, 4)].mean(), -300 if d.hz == 50 else -285.7, 0.5)
    low = x[at(60, -1):at(60, 8)] < (-150 if d.hz == 50 else -142.9)
    near(name + " sync width, us", low.sum() / fs * 1e6, 4.7, 0.2 if d.hz == 50 else 0.1)
    n = 100
    burst = x[at(n, 5.0):at(n, 8.6)]
    near(name + " burst p-p, mV", burst.max() - burst.min(), 300 if d.hz == 50 else 285.7, 12)
    on = np.flatnonzero(abs(burst) > 40) / fs * 1e6 + 5.0
    near(name + " burst start, us", on[0], 5.6 if d.hz == 50 else 5.308, 0.17)  # the pixel clock's grid comes on top of 0.1
    near(name + " burst length, cycles", (on[-1] - on[0]) * d.fsc / 1e6, 10 if d.hz == 50 else 9, 1)
    j = np.arange(w.length)
    z = x * np.exp(-2j * np.pi * d.fsc / fs * j)  # 2i z is U + i s V
    def chroma(n, a, b):
        k = 8 * int((b - a) * 1e-6 * fs / 8)
        return 2j * z[at(n, a):at(n, a) + k].mean()
    for n in (100, 101):
        s = w.switch[n, 0] if d.hz == 50 else 1
        b = chroma(n, 5.9, 7.4)
        near(f"{name} burst angle, line {n}", np.degrees(np.angle(b)) % 360, (135 if s > 0 else 225) if d.hz == 50 else 180, 2)
        for i in range(8):
            c = 7 - i
            left = (w.x0 + (i + 0.25) * d.seen_w / 8) / d.clock * 1e6
            right = (w.x0 + (i + 0.75) * d.seen_w / 8) / d.clock * 1e6
            mv, pp, angle, _ = BARS[c]
            v = 1 if d.hz == 50 else 714.3 / 700
            k = 8 * int((right - left) * 1e-6 * fs / 8)
            near(f"{name} luma of {c}", x[at(n, left):at(n, left) + k].mean(), mv * v, 2)
            q = chroma(n, left, right)
            near(f"{name} chroma of {c}", 2 * abs(q), pp * v, 12)
            if angle is not None:
                near(f"{name} angle of {c}, line {n}", (np.degrees(np.angle(q)) - (angle if s > 0 else -angle) + 180) % 360 - 180, 0, 1.5)
    near(name + " field rate", 1 / w.seconds, {"attr-256x192-50": 50.080128, "attr-256x192-60": 60.114504, "text-40x25-50": 50.124568, "text-40x25-60": 59.826097}[name], 2e-5)


def decode(name):
    """Codes that come out of each nominal device."""
    d = Display(name)
    for sort in ("plain", "trap", "line", "adaptive"):
        t = dict(device.nominal(d), sort=sort)
        dev = device.Device(d, t)
        w = wave.Wave(d, wave.nominal(d), dev.rate, [])
        for k in range(3):
            planes = dev.field(w.field(k, *bars(d)), w.seconds)
        pitch = d.samples / d.line_pixels
        for i in range(8):
            x = int((w.x0 + (i + 0.5) * d.seen_w / 8) * pitch - dev.first)
            rows = slice(40, 200)
            for plane, at, want, what in zip(planes, (x, x // 2, x // 2), BARS[7 - i][3], ("Y", "Cb", "Cr")):
                near(f"{name} {sort} {what} of {7 - i}", plane[rows, at - 4:at + 5].mean(), np.clip(want, 1, 254), 2.6)
        # an edge in its place: the last bar's left edge but one, white to yellow is faint, so red to blue's neighbour in luma
        y = planes[0][100].astype(float)
        edge = (w.x0 + 2 * d.seen_w / 8) * pitch - dev.first
        lo, hi = BARS[6][3][0], BARS[5][3][0]
        k = np.arange(int(edge) - 12, int(edge) + 12)
        cross = k[np.flatnonzero((y[k] - (lo + hi) / 2 > 0) & (y[k + 1] - (lo + hi) / 2 <= 0))]
        near(f"{name} {sort} edge at {edge:.1f}", cross[np.argmin(abs(cross - edge))] if len(cross) else -1, edge, 2.5)


def signals(name):
    """A fault of the signal has the sign, period and frequency that its truth says."""
    d = Display(name)
    grey = np.full((d.seen_h, d.seen_w), 7, np.uint8), d._attr()

    def planes(f, picture):
        dev = device.Device(d, device.nominal(d))
        w = wave.Wave(d, wave.nominal(d), dev.rate, [dict(f, **{"class": "signal"})])
        dev.field(w.field(0, *picture), w.seconds)
        return dev.field(w.field(1, *picture), w.seconds), w.field(1, *picture), w

    (_, cb, cr), _, w = planes({"kind": "hue-shift", "degrees": 25.0, "made": {}}, bars(d))
    x = int(((w.x0 + 5.5 * d.seen_w / 8) * d.samples / d.line_pixels - (132 if d.hz == 50 else 122)) / 2)  # the red bar
    u, v = (cb[40:200, x - 4:x + 5].mean() - 128) * 0.873596, (cr[40:200, x - 4:x + 5].mean() - 128) * 1.229554
    near(name + " hue of red, turned by 25", np.degrees(np.arctan2(v, u)), 128.48, 2.5)
    bar = {"kind": "fixed-bars", "period_px": 8, "made": {"part": 0.08, "phase": 0.0, "square": False}}
    row = planes(bar, grey)[0][0][:, 60:660].mean(0)
    f = np.abs(np.fft.rfft((row - row.mean()) * np.hanning(len(row)), 1 << 14))
    near(name + " period of bars, px", (1 << 14) / np.argmax(f) / (d.samples / d.line_pixels), 8, 0.05)
    hz = 813000.0
    _, x, w = planes({"kind": "interference", "frequency_hz": hz, "made": {"part": 0.1}}, grey)
    clean = wave.Wave(d, wave.nominal(d), w.rate, []).field(1, *grey)
    f = np.abs(np.fft.rfft(x - clean))
    near(name + " frequency, Hz", np.argmax(f) * w.rate / len(x), hz, 100)


def addresses():
    """Figures of the address map: all of 6912 once; a row has 54, with 48 + 6; a column 128; cells reached with a pin at 0."""
    d = Display(NAMES[0])
    y, c = np.mgrid[:192, :32]
    a = np.concatenate([d.bitmap_address(y, c).ravel(), np.arange(6144, 6912)])
    near("addresses", int(np.array_equal(np.sort(a), np.arange(6912))), 1, 0)
    for row in (0, 77, 127):
        near(f"row {row}", ((a & 127) == row).sum(), 54, 0)
        near(f"row {row} in the bitmap", ((a[:6144] & 127) == row).sum(), 48, 0)
    near("columns that hold screen", len(set(a >> 7)), 54, 0)
    near("address of line 33, column 5", int(d.bitmap_address(33, 5)), 1 << 8 | 4 << 5 | 5, 0)
    for k, n in enumerate([1728, 1792, 1792, 1920, 2048, 2048, 3456]):
        near(f"pin {k} at 0", len(set(a & ~(129 << k))), n, 0)


def chips():
    """A fault at a chip's read is where the map says."""
    d = Display(NAMES[0])
    rng = np.random.default_rng(5)
    canvas = screens.Bitmap(d, rng, "thin", 0, 7, 7, False)
    m = machine.Machine(d, canvas, fonts.generator("thin", "inverse"), 1)
    good = m.raster([], 0)[0][d.top:d.top + 192, d.left:d.left + 256]
    f = {"class": "ram-bit", "kind": "row-dead", "bit": 3, "row": 9, "level": 1, "made": {}, "_id": 0}
    got = m.raster([f], 0)[0][d.top:d.top + 192, d.left:d.left + 256]
    ys, xs = np.nonzero(got != good)
    bitmap = set(zip(ys.tolist(), xs.tolist()))
    want = {(y, 8 * c + 4) for y in range(192) for c in range(32) if d.bitmap_address(y, c) & 127 == 9}
    near("pixels of a dead row", len(want - bitmap), 0, 0)
    outside = {(y // 8, x // 8) for y, x in bitmap - want}
    near("colour cells of a dead row", len([1 for r, c in outside if (32 * r + c) & 127 != 9]), 0, 0)
    f = {"class": "ram-bit", "kind": "data-bit-stuck", "bit": 7, "level": 1, "made": {}, "_id": 0}
    at16 = [m.raster([f], k)[0][d.top + 9, d.left + 8:d.left + 16] for k in (0, 16)]
    near("bit 7 stuck: left pixel, and all flash", int((at16[0] != at16[1]).all()), 1, 0)


def plans():
    """Shares of the plan."""
    todo = [gen.plan(s) for s in range(1, 121)]
    near("good machines", sum(k == ["clean"] for k, _ in todo), 18, 0)
    near("pairs", sum(len(k) == 2 for k, _ in todo), 12, 0)
    near("kinds", len({x for k, _ in todo for x in k} - {"clean"}), len(faults.CLASS), 0)
    for n in NAMES:
        near("of " + n, sum(x == n for _, x in todo), 30, 0)


if __name__ == "__main__":
    for name in NAMES:
        waveform(name)
        decode(name)
        signals(name)
    addresses()
    chips()
    plans()
    print("all right" if not bad else f"{len(bad)} wrong")
    raise SystemExit(bool(bad))
