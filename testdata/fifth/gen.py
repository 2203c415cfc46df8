"""Makes captures with their truth.

    gen.py FIRST COUNT OUT [--kinds a,b] [--display NAME] [--pairs 0] [--reference 0|1]
"""
import argparse
import json
import os

import numpy as np

import device
import faults
import fonts
import rivals
import screens
import wave
import write
from machine import Machine
from profiles import NAMES, Display

BLOCK = 120
STILL = ("data-bit-stuck", "address-line-stuck", "row-dead", "column-dead", "colour-path", "border-latch", "line-counter", "shift-register",
         "blank-picture", "character-generator", "power-up-pattern", "ringing", "low-bandwidth", "ghost", "fixed-bars", "colour-lost", "hue-shift",
         "level-high", "level-low", "clipping", "clean")


def plan(seed):
    """What capture `seed` shows, and on which display: in every 120, 18 good ones, 12 pairs, the kinds in turn, displays in equal parts."""
    block, at = divmod(seed - 1, BLOCK)
    rng = np.random.default_rng([block, 77])
    kinds = list(faults.CLASS)
    todo = [["clean"]] * 18
    logic = [k for k in kinds if faults.CLASS[k] in ("ram-bit", "video-logic") and k not in ("border-latch", "flash-dead", "blank-picture")]
    signals = ["noise", "hum", "fixed-bars", "interference", "ringing", "hue-shift", "ghost", "level-low"]
    first, second = rng.permutation(len(logic)), rng.permutation(len(signals))
    todo = todo + [[logic[first[i % len(logic)]], signals[second[i % len(signals)]]] for i in range(12)]
    order = rng.permutation(len(kinds))
    todo = todo + [[kinds[order[i % len(kinds)]]] for i in range(BLOCK - len(todo))]
    left = {n: BLOCK // 4 for n in NAMES}
    shown = [None] * BLOCK
    for i in sorted(range(BLOCK), key=lambda i: todo[i][0] not in faults.ONLY):  # those with one sort of display first
        only = faults.ONLY.get(todo[i][0], "")
        names = [n for n in NAMES if n.startswith(only) and left[n] > 0]
        n = max(names, key=lambda n: (left[n], rng.random()))
        shown[i] = n
        left[n] -= 1
    k = rng.permutation(BLOCK)[at]
    return todo[k], shown[k]


def flashing(canvas, rng):
    """Some words that flash."""
    for _ in range(int(rng.integers(1, 4))):
        r, c, n = int(rng.integers(24)), int(rng.integers(24)), int(rng.integers(4, 12))
        canvas.colour[r, c:c + n] |= 128
        canvas.put(c, r, screens.phrase(rng, n, False)[:n], *(int(x) for x in (canvas.ink, canvas.paper)), True)


def invent(d, kinds, seed, attempt):
    """A machine, its screen and its faults."""
    rng = np.random.default_rng([seed, attempt])
    only = None
    if attempt > 4 or rng.random() < 0.3 and any(k in ("hue-shift", "colour-lost", "clipping", "colour-path") for k in kinds):
        only = screens.RICH
    canvas, name, byte, sort, rule = screens.draw(d, rng, only)
    if "blank-picture" in kinds and canvas.border in (0, 8):
        canvas.border = int(rng.integers(1, 8))
    if d.kind == "attr" and name not in ("fill", "blank") and ("flash-dead" in kinds or rng.random() < 0.12):
        flashing(canvas, rng)
    if d.kind == "text" and name in ("boot", "directory", "listing", "editor", "cursor") and rng.random() < 0.5:
        canvas.cursor = 40 * int(rng.integers(6, 24)) + int(rng.integers(2))
    table = fonts.generator(rule, sort)
    m = Machine(d, canvas, table, seed)
    fs = [faults.draw(k, d, m, rng, i) for i, k in enumerate(k for k in kinds if k != "clean")]
    if "power-up-pattern" in kinds:
        name, byte = "power-up", None
    return m, fs, name, byte, sort


def look(m, fs, fields):
    """Rasters of each field; one for all where nothing moves."""
    moving = any("_runs" in f or f["kind"] in ("data-bit-weak", "refresh-loss", "supply-or-all-lanes", "cell-fetch", "cell-snow") for f in fs)
    out, last = [], None
    for k in range(-2, fields):
        phase = m.phase(k)
        if moving or last is None or phase != last[0]:
            last = (phase, m.raster(fs, k))
        out.append(last[1])
    return out


def differ(a, b):
    """The greatest share of pixels that differ in a field."""
    best = 0.0
    for (r, p), (s, q) in zip(a[2:], b[2:]):
        same = r is s and p is q
        if not same:
            best = max(best, float(np.mean((r != s) if p is q else np.any(p[r] != q[s], axis=-1))))
    return best


def acts(f, m, seen):
    """Whether a fault of the signal has something to act on."""
    r, p = seen[2]
    c = p[r]
    kind = f["kind"]
    if kind in ("hue-shift", "colour-lost"):
        return bool(np.mean(np.hypot(c[..., 1], c[..., 2]) > 0.05) > 0.03)
    if kind in ("ringing", "low-bandwidth", "ghost"):
        return bool(np.mean(abs(np.diff(c[..., 0], axis=1)) > 0.25) > 0.003)
    if kind in ("level-high", "level-low"):
        return bool(np.mean(c[..., 0] > 0.25) > 0.02)
    if kind == "clipping":
        return bool(np.mean(c[..., 0] > f["made"]["at"] + 0.06) > 0.01)
    return True


def shows(d, f, fs, seen, machine_t, device_t):
    """Whether the device's codes show a fault of the signal: white that is clipped hides bars, say."""
    if f["kind"] in ("no-signal", "sync-weak"):
        return True
    quiet = dict(machine_t, snr=None)
    planes = []
    for some in (fs, [g for g in fs if g is not f]):
        dev = device.Device(d, dict(device_t, jitter=0.0, tnr=0.0))
        w = wave.Wave(d, quiet, dev.rate, some)
        dev.field(w.field(0, *seen[0]), w.seconds)
        planes.append(dev.field(w.field(1, *seen[1]), w.seconds))
    apart = [abs(np.round(a) - np.round(b)) for a, b in zip(*planes)]
    return any(np.mean(a >= 3) > 0.004 or np.mean(a >= 1) > 0.06 for a in apart)


def capture(d, m, fs, seen, machine_t, device_t, frames):
    """Frames of codes through waveform and device."""
    bad = {f["kind"]: f for f in fs if f["class"] == "signal"}
    if "no-signal" in bad:
        return nothing(bad["no-signal"]["made"]["puts_up"], device_t, frames), None
    dev = device.Device(d, device_t, bad["sync-weak"]["made"] if "sync-weak" in bad else None)
    w = wave.Wave(d, machine_t, dev.rate, fs)
    out, pair = [], []
    for k in range(2 * frames + 2):
        planes = dev.field(w.field(k, *seen[k]), w.seconds)
        if k >= 2:
            pair.append(planes)
        if len(pair) == 2:
            out.append(write.weave(pair[0], pair[1], device_t))
            pair = []
    if device_t["repeat"] and frames > 4:
        k = device_t["seed"] % (frames - 2) + 1
        out[k] = out[k - 1]
    unit = 640 / 720 if device_t["width"] == 640 else 1.0
    left = dev.first + device_t["shift"] + (8 if device_t["width"] == 704 else 0)
    pitch = d.samples / d.line_pixels
    place = dict(pitch_x=round(pitch * unit, 5), origin_x=round(((w.x0 + d.left) * pitch - left) * unit, 2),
                 origin_y=float(w.y0 + d.top - (23 if d.hz == 50 else 19) - device_t["top"]))
    return out, place


def nothing(what, t, frames):
    """What the device puts up when no sync comes."""
    rng = np.random.default_rng(t["seed"])
    h, w, out = t["height"], t["width"], []
    for _ in range(frames):
        y, cb, cr = np.full((h, w), 16, np.uint8), np.full((h, w // 2), 128, np.uint8), np.full((h, w // 2), 128, np.uint8)
        if what == "blue":
            y[:], cb[:], cr[:] = 35, 212, 114
        elif what == "grey":
            y[:] = 110
        elif what == "snow":
            y = np.clip(rng.normal(95, 42, (h, w)) + np.roll(rng.normal(0, 25, (h, w)), 1, 1), 1, 254).astype(np.uint8)
        out.append([y, cb, cr])
    return out


def way_of_keeping(rng, kinds, fs):
    u = rng.random()
    steady = all(k in STILL for k in kinds) and not any("_runs" in f for f in fs)
    if u < 0.2 and steady:
        return {"as": "png"}
    if u < 0.35:
        return {"as": "ffv1"}
    if u < 0.45:
        return {"as": "huffyuv"}
    return {"as": "mjpeg", "q": int(rng.choice([2, 3, 4, 5, 7, 10, 14])), "half": bool(rng.random() < 0.35)}


def plain(x):
    """For JSON: no numpy, nothing that begins with an underscore."""
    if isinstance(x, dict):
        return {k: plain(v) for k, v in x.items() if not k.startswith("_") and k != "colours"}
    if isinstance(x, (list, tuple)):
        return [plain(v) for v in x]
    if isinstance(x, (np.integer, np.bool_)):
        return x.item()
    return round(float(x), 5) if isinstance(x, (float, np.floating)) else x


def one(seed, folder, args):
    kinds, display = plan(seed)
    if args.kinds:
        kinds = [args.kinds.split(",")[seed % len(args.kinds.split(","))]]
    display = args.display or display
    if args.pairs == 0:
        kinds = kinds[:1]
    for k in kinds:  # a kind that only one sort of display has
        if not display.startswith(faults.ONLY.get(k, "")):
            display = next(n for n in NAMES if n.startswith(faults.ONLY[k]) and n.endswith(display[-2:]))
    d = Display(display)
    rng = np.random.default_rng([seed, 9])
    frames = 22 if "flash-dead" in kinds else 12
    hidden_too = rng.random() < 0.02
    mt, dt = wave.traits(d, rng), device.traits(d, rng)
    if "hum" in kinds:
        dt["clamp_lines"] = 211  # a clamp that is quick takes hum away
    for attempt in range(14):
        m, fs, name, byte, sort = invent(d, kinds, seed, attempt)
        seen = look(m, fs, 2 * frames)
        good = look(m, [f for f in fs if f["class"] == "cpu-side"], 2 * frames)
        for f in fs:
            if f["class"] in ("signal", "cpu-side"):
                f["visible"] = acts(f, m, seen) and (f["class"] == "cpu-side" or shows(d, f, fs, seen, mt, dt))
            else:
                alone = differ(look(m, [f], 2 * frames), good)
                f["share"] = round(alone, 5)
                f["visible"] = alone > 0.0003 and differ(seen, look(m, [g for g in fs if g is not f], 2 * frames)) > 0
        if hidden_too or all(f["visible"] for f in fs):
            break
    for f in fs:
        rivals.find(f, m)
    keep = way_of_keeping(rng, kinds, fs)
    n = int(rng.integers(1, 4)) if keep["as"] == "png" else frames
    shots, place = capture(d, m, fs, seen, mt, dt, n)
    key = str(seed)
    truth = dict(seed=seed, display=display, **{"class": fs[0]["class"] if fs else "clean"}, faults=plain(fs), screen=name, fill=byte, reference=None, font=None,
                 frames=n, file=write.save(folder, key, shots, keep, d.hz, dt["full"]))
    truth.update(place or dict(pitch_x=None, origin_x=None, origin_y=None))
    must = any(k in ("border-latch", "flash-dead") or k == "blank-picture" and fs[0]["made"]["with"] == "border" for k in kinds)
    wanted = rng.random() < 0.38 if args.reference is None else args.reference == 1
    if must or wanted and "power-up-pattern" not in kinds:
        other = device.traits(d, rng)
        for k in ("sort", "width", "narrow", "nearest", "full", "swap", "cut", "peaking", "sharpen"):  # another of the same sort
            other[k] = dt[k]
        other["repeat"] = False
        single = "flash-dead" not in kinds and rng.random() < 0.3
        count = 1 if single else frames if "flash-dead" in kinds else 6
        m.flash0 = int(rng.integers(40))  # the flash of another machine stands elsewhere
        good = look(m, [], 2 * frames)
        shots, _ = capture(d, m, [], good, wave.traits(d, rng), other, count)
        how = {"as": "png", "single": True} if single else {"as": "mjpeg", "q": int(rng.choice([2, 3, 5])), "half": False}
        truth["reference"] = write.save(folder, key + "-ref", shots, how, d.hz, other["full"])
        truth["reference_device"] = plain(other)
    if d.kind == "text" and rng.random() < 0.45:
        truth["font"] = key + ".font"
        with open(f"{folder}/{key}.font", "wb") as f:
            f.write(fonts.font_file(m.table, sort))
    truth.update(made_as=keep, machine=plain(mt), device=dict(plain(dt), full_range=dt["full"]))
    with open(f"{folder}/{key}.json", "w") as f:
        json.dump(truth, f, indent=1)
    return f"{key} {display} {name}: {'+'.join(kinds)}"


def main():
    p = argparse.ArgumentParser()
    p.add_argument("first", type=int)
    p.add_argument("count", type=int)
    p.add_argument("out")
    p.add_argument("--kinds")
    p.add_argument("--display", choices=NAMES)
    p.add_argument("--pairs", type=int)
    p.add_argument("--reference", type=int)
    args = p.parse_args()
    os.makedirs(args.out, exist_ok=True)
    for seed in range(args.first, args.first + args.count):
        print(one(seed, args.out, args), flush=True)


if __name__ == "__main__":
    main()
