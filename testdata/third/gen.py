"""Captures of invented machines, faulty and good, with the truth beside them.

    gen.py FIRST COUNT OUT [--kinds A,B] [--pairs SHARE] [--reference SHARE] [--display NAME] [--clean SHARE] [--second-field SHARE]
"""
import argparse
import json
import os
import shutil
import subprocess

import numpy as np
from PIL import Image

import faults as catalogue
import fonts
import screens
import tv
from machine import Machine
from profiles import PROFILES, palette

BLOCK = 40  # of these 6 are clean and 4 pairs
LOGIC = [k for k in catalogue.ALL if catalogue.CLASS[k] != "signal"]


def single(n):
    """The n-th single fault's kind: each kind once in a round, in an order of the round's own."""
    kinds = list(catalogue.ALL)
    np.random.default_rng([11, n // len(kinds)]).shuffle(kinds)
    return kinds[n % len(kinds)]


def role(seed, a):
    """Kinds of this capture's faults."""
    r = np.random.default_rng([seed, 1])
    if a.kinds or a.pairs is not None or a.clean is not None:
        pool = [k for k in (a.kinds or "").split(",") if k] or catalogue.ALL
        if r.random() < (a.clean if a.clean is not None else 0):
            return []
        k = str(r.choice(pool))
        return [] if k == "clean" else [k] + ([second(r, k)] if r.random() < (a.pairs or 0) else [])
    block, at = divmod(seed - 1, BLOCK)
    order = np.random.default_rng([7, max(block, 0)]).permutation(BLOCK)[at]
    if order < 6:
        return []
    if order < 10:
        first = str(r.choice([k for k in LOGIC if k not in ("power-up-pattern", "blank-picture", "flash-dead", "border-latch")]))
        return [first, second(r, first)]
    return [single(block * 30 + order - 10)]


def second(r, first):
    signal = [k for k in catalogue.KINDS["signal"] if k not in ("no-signal", "colour-lost")]
    if catalogue.CLASS[first] == "signal":
        return str(r.choice([k for k in LOGIC if k not in ("power-up-pattern", "blank-picture", "flash-dead", "border-latch", "character-generator")]))
    if r.random() < 0.65:
        return str(r.choice(signal))
    avoid = {first, "power-up-pattern", "blank-picture", "flash-dead", "border-latch", "supply-or-all-lanes", "character-generator"}
    return str(r.choice([k for k in LOGIC if k not in avoid]))


def picture(m, fs, field, pal):
    """A number a pixel that tells colours apart."""
    a = np.array(m.palette(fs, pal))
    return (a @ [1.0, 10.0, 100.0]).round(4)[m.raster(fs, field)]


def looked_at(m, fs, fields):
    """A few fields that stand for all."""
    keys = {}
    for n in fields:
        keys.setdefault(m.key(fs, n), n)
    some = list(keys.values())
    return some[::max(1, len(some) // 12)]


def share(m, fs, f, fields, pal):
    """Greatest part of the picture that f changes beside the others and alone."""
    rest = [g for g in fs if g is not f]
    seen = looked_at(m, fs, fields)
    beside = max(float((picture(m, fs, n, pal) != picture(m, rest, n, pal)).mean()) for n in seen)
    alone = max(float((picture(m, [f], n, pal) != picture(m, [], n, pal)).mean()) for n in seen) if rest else beside
    return min(beside, alone)


def signal_shows(m, fs, f, fields, pal):
    a = np.array(m.palette(fs, pal))
    img = m.raster([g for g in fs if g["class"] != "signal"], fields[0])
    y, c = a[:, 0][img], np.hypot(a[:, 1], a[:, 2])[img]
    kind = f["kind"]
    if kind in ("colour-lost", "hue-shift"):
        return float((c > 0.05).mean())
    if kind == "clipping":
        return float((y > f["_q"]["at"] * 1.1).mean())
    if kind in ("level-high", "level-low"):
        return float((y > 0.3).mean())
    if kind in ("ringing", "low-bandwidth", "ghost"):
        return float((np.abs(np.diff(y, axis=1)) > 0.15).mean()) * 10
    return 1.0


def rivals(m, f, fields, pal):
    """Other faults that give this very picture."""
    if f["_q"].get("moving") or f["class"] == "signal" or f["kind"] == "power-up-pattern":
        return []
    p = m.p
    seen = looked_at(m, [f], fields)
    true = [picture(m, [f], n, pal) for n in seen]
    some = []
    for level in (0, 1):
        for b in range(8):
            some.append({"class": "ram-bit", "kind": "data-bit-stuck", "bit": b, "level": level, "memory": "screen"})
            some.append({"class": "video-logic", "kind": "line-counter", "counter_bit": b, "level": level, "_q": {"level": level}})
            v = np.arange(256)
            some.append({"class": "video-logic", "kind": "shift-register", "_q": {"table": ((v | 1 << b) if level else (v & ~(1 << b)) & 255).astype(np.uint8)}})
            if p.text:
                some.append({"class": "video-logic", "kind": "character-generator", "bit": b, "_q": {"mode": "bit", "level": level}})
                if 1 << b < len(m.font):
                    some.append({"class": "video-logic", "kind": "character-generator", "line": b + 3, "_q": {"mode": "code-line", "k": b, "level": level}})
        for k in range(10 if p.text else 13):
            some.append({"class": "ram-bit", "kind": "address-line-stuck", "lines": [k], "line": k, "lanes": list(range(8)), "level": level, "memory": "screen"})
            for b in range(8):
                some.append({"class": "ram-bit", "kind": "address-line-stuck", "lines": [k], "line": k, "lanes": [b], "level": level, "memory": "screen"})
        for comp in () if p.text else ("green", "red", "blue"):
            some.append({"class": "video-logic", "kind": "colour-path", "component": comp, "level": level})
    for which in ("odd", "even"):
        c = np.arange(p.w // 8)
        some.append({"class": "video-logic", "kind": "cell-fetch", "columns": which, "_q": {"bad": c % 2 == (which == "odd"), "mode": "stale", "from": c ^ 1, "rate": 1, "colours": True}})
    out = []
    own = {k: v for k, v in f.items() if k != "_q"}
    for g in some:
        named = {k: v for k, v in g.items() if k != "_q" and (p.text or k != "memory")}
        if g["kind"] == f["kind"] and all(own.get(k) == v for k, v in named.items()):
            continue
        if all(np.array_equal(t, picture(m, [g], n, pal)) for t, n in zip(true, seen)):
            if g["kind"] != f["kind"] or named != own:
                out.append(named)
    return out


def plain(v):
    if isinstance(v, dict):
        return {str(k): plain(x) for k, x in v.items() if k not in ("mem", "colour", "where", "time", "rest", "table", "bad", "from", "glyph", "gate")}
    if isinstance(v, np.ndarray):
        return v.tolist()
    return v.item() if isinstance(v, np.generic) else v


def design(seed, a):
    """Machine, faults, fields and all else of a capture, redrawn until each fault shows."""
    kinds = role(seed, a)
    for attempt in range(40):
        r = np.random.default_rng([seed, 2, attempt])
        names = [n for n in PROFILES if not a.display or n == a.display]
        if "flash-dead" in kinds:
            names = [n for n in names if n.startswith("attr")] or ["attr-256x192-50"]
        if "character-generator" in kinds:
            names = [n for n in names if n.startswith("text")] or ["text-40x25-50"]
        p = PROFILES[str(r.choice(names))]
        font = fonts.make(int(r.integers(4)), int(r.choice([128, 256])) if p.text else 256)
        kind = str(r.choice(screens.KINDS, p=screens.WEIGHT))
        screen = (screens.text if p.text else screens.attr)(kind, r, font)
        if kind == "fill" and set(kinds) & {"blank-picture", "flash-dead", "colour-lost", "hue-shift"}:
            continue
        if "blank-picture" in kinds and screen["border"] == 0:
            screen["border"] = int(r.choice([1, 5, 6, 7]))
        frames = int(r.integers(20 if "flash-dead" in kinds else 16, 31))
        numbers, n = [], int(r.integers(0, 32))
        drop = int(r.integers(4, frames)) if r.random() < 0.1 else -1
        for k in range(frames):
            n += 2 if k == drop else 0
            numbers.append((n, n + 1))
            n += 2
        fields = [v for pair in numbers for v in pair]
        m = Machine(p, screen, font, seed)
        subtle = [bool(r.random() < 0.25) for _ in kinds]
        fs = [catalogue.draw(k, m, r, s, fields[-1]) for k, s in zip(kinds, subtle)]
        for f in fs:
            if f["kind"] == "refresh-loss":
                for b in f["lanes"]:
                    f["_q"]["time"][b] = f["_q"]["time"][b] + fields[0] * (f["_q"]["time"][b] < 1e8)
            if f["kind"] == "border-latch" and not p.text and f["seen"] == f["expected"]:
                continue
        pal = palette(p)
        good = True
        for f, s in zip(fs, subtle):
            if f["class"] == "signal":
                f["_share"] = signal_shows(m, fs, f, fields, pal)
                good &= f["_share"] > 0.01
            else:
                f["_share"] = share(m, fs, f, fields, pal)
                good &= f["_share"] * 101376 >= (8 if s else 30 if f["kind"] in ("row-dead", "column-dead", "flash-dead") else 100)
        if "flash-dead" in kinds and not (screen["mem"][6144:6912] & 128).any():
            good = False
        if good:
            break
    return p, font, kind, screen, numbers, m, fs, subtle, pal


class Writer:
    def __init__(self, path, form, p, quality, four_twenty):
        self.path, self.form, self.p, self.four_twenty, self.count, self.pipe = path, form, p, four_twenty, 0, None
        if form in ("png", "still"):
            if form == "png":
                os.makedirs(path)
            return
        chroma = "420" if four_twenty else "422"
        pix = f"yuvj{chroma}p" if form == "avi" else f"yuv{chroma}p"
        codec = ["-c:v", "mjpeg", "-q:v", str(quality)] if form == "avi" else ["-c:v", "ffv1"]
        rate = "25" if p.pal else "30000/1001"
        self.pipe = subprocess.Popen(["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", pix, "-s", f"720x{2 * p.rows}", "-r", rate, "-i", "-",
                                      "-threads", "1", *codec, "-pix_fmt", pix, path], stdin=subprocess.PIPE)

    def add(self, y, u, v, full):
        if self.pipe:
            if self.four_twenty:
                u, v = ((c[0::2].astype(np.uint16) + c[1::2] + 1 >> 1).astype(np.uint8) for c in (u, v))
            for c in (y, u, v):
                self.pipe.stdin.write(np.ascontiguousarray(c))
            return
        wide = lambda c: np.stack([c, (c + np.concatenate([c[:, 1:], c[:, -1:]], 1)) / 2], 2).reshape(c.shape[0], 720)
        y, u, v = y.astype(np.float32), wide(u.astype(np.float32)) - 128, wide(v.astype(np.float32)) - 128
        if not full:
            y, u, v = (y - 16) * (255 / 219), u * (255 / 224), v * (255 / 224)
        rgb = np.stack([y + 1.402 * v, y - 0.344136 * u - 0.714136 * v, y + 1.772 * u], 2)
        path = self.path if self.form == "still" else f"{self.path}/{self.count:04d}.png"
        Image.fromarray(np.clip(np.rint(rgb), 0, 255).astype(np.uint8)).save(path, compress_level=1)
        self.count += 1

    def close(self):
        if self.pipe:
            self.pipe.stdin.close()
            if self.pipe.wait():
                raise SystemExit(f"{self.path}: the encoder failed")


def device_only(q, p, r, d):
    """What a device shows that has lost its input."""
    rows = 2 * p.rows
    if q["shows"] == "snow":
        y = 16 + 219 * np.abs(r.normal(0.25, 0.35, (rows, 760)))
        y = (y[:, :720] + y[:, 1:721] + 0.5 * y[:, 2:722]) / 2.5
        u = v = np.full((rows, 360), 128.0)
    else:
        c = {"blue": (41, 240, 110), "black": (16, 128, 128), "grey": (126, 128, 128)}[q["shows"]]
        y, u, v = (np.full((rows, w), k, float) for w, k in zip((720, 360, 360), c))
    return y, u, v


def record(path, form, p, m, fs, numbers, pal, d, r, enc):
    """Writes one capture."""
    machine_faults = [f for f in fs if f["class"] != "signal"]
    by = {f["kind"]: f for f in fs}
    enc.set_palette(m.palette(fs, pal))
    out = tv.Output(p, fs)
    w = Writer(path, form, p, int(r.integers(2, 7)), bool(r.random() < 0.35))
    snr = by["noise"]["_q"]["snr"] if "noise" in by else d.snr
    sigma = d.sigma(snr)
    cache = {}
    sw = by.get("sync-weak")
    bend, top = r.choice([-1, 1]), int(r.integers(20, 60))
    for pair in numbers:
        if "no-signal" in by:
            w.add(*(d.codes(c) for c in device_only(by["no-signal"]["_q"], p, r, d)), d.full_range)
            continue
        planes = [np.empty((2 * p.rows, k), np.uint8) for k in (720, 360, 360)]
        for k, n in enumerate(pair):
            key = m.key(fs, n)
            if key not in cache:
                if len(cache) > 3:
                    cache.clear()
                cache[key] = enc.field(m.raster(machine_faults, n))
            x, ref, odd = out.field(*cache[key], n, r, sigma)
            shift, roll = None, 0
            if sw:
                q = sw["_q"]
                line = np.arange(p.lines)
                shift = r.normal(0, q["jitter"] * tv.S / p.periods, p.lines)
                if q["mode"] == "roll":
                    roll = q["roll"] * n
                elif q["mode"] == "tear":
                    since = np.maximum(0, line - tv.first_line(p) + d.origin_y)
                    shift = shift + bend * q["tear"] * float(r.uniform(0.5, 1.4)) * tv.S / p.periods * np.exp(-since / top)
            else:
                shift = None
            a = d.field(x, ref, odd, k == 1, shift, roll)
            for plane, c in zip(planes, a):
                plane[k::2] = d.codes(c)
        w.add(*planes, d.full_range)
    w.close()


def make(seed, folder, a):
    p, font, kind, screen, numbers, m, fs, subtle, pal = design(seed, a)
    r = np.random.default_rng([seed, 3])
    sort = str(r.choice(["notch", "comb2", "comb3"]))
    d = tv.Device(p, r, sort, a.second_field)
    enc = tv.Encoder(p, pal, float(r.uniform(5e6, 7e6)), float(r.uniform(1.5e6, 3.5e6)))
    form = str(r.choice(["avi", "mkv", "png"], p=[0.78, 0.12, 0.10]))
    reference = bool(r.random() < (0.4 if a.reference is None else a.reference)) or any(f["kind"] in catalogue.NEEDS_REFERENCE for f in fs)
    for suffix in (".avi", ".mkv", ".json", ".font", "-ref.avi", "-ref.png"):
        if os.path.exists(f"{folder}/{seed}{suffix}"):
            os.remove(f"{folder}/{seed}{suffix}")
    shutil.rmtree(f"{folder}/{seed}", ignore_errors=True)
    record(f"{folder}/{seed}" + ("" if form == "png" else "." + form), form, p, m, fs, numbers, pal, d, r, enc)
    truth = {"seed": seed, "class": fs[0]["class"] if fs else "clean", "display": p.name, "screen": kind, "fill": screen["fill"], "frames": len(numbers)}
    if reference:
        still = bool(r.random() < 0.4) and not any(f["kind"] == "flash-dead" for f in fs)
        d2 = tv.Device(p, r, sort, a.second_field)
        d2.full_range = d.full_range  # of one sort: their codes have one range
        name = f"{seed}-ref." + ("png" if still else "avi")
        count = 1 if still else 20 if any(f["kind"] == "flash-dead" for f in fs) else 12
        start = int(r.integers(0, 16))
        enc2 = tv.Encoder(p, pal, float(r.uniform(5e6, 7e6)), float(r.uniform(1.5e6, 3.5e6)))
        record(f"{folder}/{name}", "still" if still else "avi", p, m, [], [(start + 2 * k, start + 2 * k + 1) for k in range(count)], pal, d2, r, enc2)
        truth["reference"] = name
    if p.text and r.random() < 0.6:
        truth["font"] = f"{seed}.font"
        with open(f"{folder}/{seed}.font", "wb") as f:
            f.write(font.tobytes())
    truth["device"] = d.describe()
    truth["faults"] = []
    fields = [v for pair in numbers for v in pair]
    for f, s in zip(fs, subtle):
        g = {k: v for k, v in f.items() if not k.startswith("_")}
        g["visible"] = bool(f["_share"] * 101376 >= 1 if f["class"] != "signal" else f["_share"] > 0.002)
        g["share"] = round(f["_share"], 6)
        g["rivals"] = rivals(m, f, fields, pal) if g["visible"] else []
        g["made"] = {**plain(f["_q"]), "subtle": s}
        truth["faults"].append(plain(g))
    with open(f"{folder}/{seed}.json", "w") as f:
        json.dump(truth, f, indent=1)
    return truth


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("first", type=int)
    ap.add_argument("count", type=int)
    ap.add_argument("out")
    ap.add_argument("--kinds")
    ap.add_argument("--pairs", type=float)
    ap.add_argument("--clean", type=float)
    ap.add_argument("--reference", type=float)
    ap.add_argument("--display")
    ap.add_argument("--second-field", type=float, default=0.0, help="share of devices that cut the second field a line off the first")
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    for seed in range(a.first, a.first + a.count):
        t = make(seed, a.out, a)
        print(seed, t["display"], t["screen"], "+".join(f["kind"] + ("" if f["visible"] else "(hidden)") for f in t["faults"]) or "clean",
              "REF" if "reference" in t else "", flush=True)


if __name__ == "__main__":
    main()
