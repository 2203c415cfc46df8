#!/usr/bin/env python3
"""gen.py START N OUTDIR [--kinds a,b] [--pairs P] [--reference P] [--clean P] [--display NAME]

Writes captures START..START+N-1 with their truth; the number is the seed. See README.md."""
import argparse
import copy
import json
import os
import time

import numpy as np

import faults as F
import fonts
import screens
import write
from composite import Encoder
from grabber import Grabber, to8
from machine import Machine
from profiles import PROFILES


def choose(rng, p, args):
    """Fault kinds of this capture: none, one, or two."""
    pool = F.kinds_for(p)
    if args.kinds:
        want = [k for k in args.kinds.split(",")]
        first = want[rng.integers(len(want))]
        if first == "clean":
            return []
        if first not in pool:
            return None
    else:
        if rng.random() < args.clean:
            return []
        first = pool[rng.integers(len(pool))]
    if rng.random() >= args.pairs or first == "no-signal":
        return [first]
    signal = F.CLASS[first] == "signal"
    if signal or rng.random() < .7:
        other = [k for k in pool if (F.CLASS[k] == "signal") != signal and k != "no-signal"]
    else:
        other = [k for k in pool if F.CLASS[k] != "signal" and k != first]
    second = other[rng.integers(len(other))]
    hides = {"blank-picture", "power-up-pattern"}
    if second in hides and not signal or first in hides and F.CLASS[second] != "signal":
        return [first]
    return [first, second]


def sync_path(f, p, rng, n, state):
    """(roll in lines, moved samples a row or None) of field n under weak sync."""
    if f["_mode"] == "roll":
        state["at"] = state.get("at", 0) + f["_strength"] * (1 + .1 * rng.normal())
        return int(state["at"]) % p.lines, None
    rows = np.arange(p.cap_lines)
    if f["_mode"] == "jitter":
        slow = np.cumsum(rng.normal(0, 1, p.cap_lines))
        return 0, f["_strength"] * (rng.normal(0, 1, p.cap_lines) + .12 * (slow - slow.mean()))
    # Tearing: below some lines the sweep loses its hold and comes back.
    move = np.zeros(p.cap_lines)
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(0, p.cap_lines)) if rng.random() < .6 else 0
        move += np.where(rows >= at, f["_strength"] * rng.choice([-1, 1]) * rng.uniform(.4, 1) *
                         np.exp(-np.maximum(rows - at, 0) / rng.uniform(6, 40)), 0)
    return 0, move


def no_signal(f, p, rng, n, full):
    """What a device puts up by itself, as codes of one field."""
    h = p.cap_lines
    if f["_shows"] == "snow":
        y = 110 + 60 * rng.standard_normal((h, 720), dtype=np.float32)
        y = (y + np.roll(y, 1, 1)) * .6
        return y, 128 + 6 * rng.standard_normal((h, 360)), 128 + 6 * rng.standard_normal((h, 360))
    c = {"blue": (35, 212, 114), "black": (16, 128, 128), "grey": (90, 128, 128)}[f["_shows"]]
    return tuple(np.full((h, w), float(v)) for v, w in zip(c, (720, 360, 360)))


def record(m, enc, dev, faults, fields, rng):
    """Frames of a capture: pairs of machine fields, decoded and woven."""
    p = m.p
    weak = [f for f in faults if f["kind"] == "sync-weak"]
    none = [f for f in faults if f["kind"] == "no-signal"]
    out, state, rasters = [], {}, []
    for n in range(fields):
        half = n & 1
        if none:
            codes = no_signal(none[0], p, rng, n, dev.full_range)
        else:
            raster = m.field(n)
            rasters.append(raster)
            roll, move = sync_path(weak[0], p, rng, n, state) if weak else (0, None)
            c = enc.field(raster, m.lut, n, rng, dev.noise)
            codes = dev.field(c, half, rng, roll, move)
        out.append([to8(q, dev.full_range) for q in codes])
    frames = [write.weave(out[i], out[i + 1], dev.bottom_first) for i in range(0, fields - 1, 2)]
    return frames, rasters


def seen_in(raster_luts, good):
    """Share of raster pixels that differ in what the palette makes of them, worst field."""
    worst = 0.0
    for (r, lut), (g, glut) in zip(raster_luts, good):
        a, b = np.zeros((19, 3)), np.zeros((19, 3))
        a[:16], b[:16] = lut, glut
        same = (a[:, None] == b[None]).all(2)
        worst = max(worst, float((~same[r, g]).mean()))
    return worst


def signal_seen(f, p, raster, lut):
    """Whether a signal fault has anything to act on in this picture."""
    used = [i for i in np.unique(raster) if i < 16]
    chroma = max(np.hypot(lut[i, 1], lut[i, 2]) for i in used)
    luma = max(lut[i, 0] for i in used)
    top = max(lut[i, 0] + np.hypot(lut[i, 1], lut[i, 2]) for i in used)
    k = f["kind"]
    if k in ("colour-lost", "hue-shift"):
        return chroma > .02
    if k == "clipping":
        return top > f["_strength"]
    if k in ("level-high", "level-low"):
        return luma > .02
    if k in ("ringing", "low-bandwidth", "ghost"):
        return len(used) > 1 or luma > .02
    return True


def public(f):
    d = {k: v for k, v in f.items() if not k.startswith("_")}
    made = {k[1:]: v for k, v in f.items() if k.startswith("_") and k != "_draw"}
    if made:
        d["made"] = made
    return d


def capture(k, args):
    rng = np.random.default_rng([20261130, k])
    while True:
        p = PROFILES[args.display or list(PROFILES)[rng.integers(4)]]
        kinds = choose(rng, p, args)
        if kinds is not None:
            break
    font_name, rom = fonts.font(int(rng.integers(4)))
    screen = screens.make(rng, p, rom, font_name, want_flash="flash-dead" in kinds)
    fl = [F.draw(kind, rng, p, screen) for kind in kinds]
    fields = 24 if not F.LONG & set(kinds) else 80 if rng.random() < .75 else 48
    phase = int(rng.integers(32))
    shown = screen
    if "power-up-pattern" in kinds:
        shown = copy.copy(screen)
        shown.mem, shown.cursor, shown.fill = screens.wake(rng), None, None
        shown.colour = screens.wake(rng, 1024) & 15
        shown.border = int(rng.integers(16 if p.text else 8))
        shown.background = int(rng.integers(16)) if p.text else 0
    enc = Encoder(p, rng, fl)
    dev = Grabber(enc, rng)
    m = Machine(p, shown, fl, seed=k, flash_phase=phase)
    frames, rasters = record(m, enc, dev, fl, fields, rng)
    if rng.random() < .04 and len(frames) > 4:
        i = int(rng.integers(1, len(frames)))         # a device that repeats a frame
        frames[i] = frames[i - 1]
    base = os.path.join(args.out, str(k))
    how = ("mjpeg422", "mjpeg420", "ffv1", "png")[rng.choice(4, p=(.68, .12, .12, .08))]
    quality = int(rng.integers(2, 8))
    rate = "25" if p.pal else "30000/1001"
    if how == "png" and fields > 24:
        how = "mjpeg422"
    source = f"{k}.mkv" if how == "ffv1" else f"{k}.avi" if how != "png" else str(k)
    if how == "png":
        write.stills(base, frames, dev.full_range)
    else:
        write.video(os.path.join(args.out, source), frames, rate, how, quality, dev.full_range)
    truth = describe(k, p, shown, fl, rasters, phase, fields, enc, dev)
    truth.update(source=source, coding=how, quality=quality if how.startswith("mjpeg") else None)
    truth["reference"] = reference(k, p, screen, args) if rng.random() < args.reference else None
    truth["font"] = None
    if p.text and rng.random() < .5:
        truth["font"] = f"{k}.font"
        half = rng.random() < .5
        (rom[:128] if half else rom).tofile(base + ".font")
    with open(base + ".json", "w") as fh:
        json.dump(truth, fh, indent=1, default=float)
        fh.write("\n")
    return truth


def describe(k, p, screen, fl, rasters, phase, fields, enc, dev):
    """The truth of one capture."""
    good = Machine(p, screen, [], seed=k, flash_phase=phase)
    goods = [(good.field(n), good.lut) for n in range(len(rasters))]
    listed, any_seen = [], False
    for f in fl:
        d = public(f)
        if f["class"] == "signal":
            d["visible"] = f["kind"] == "no-signal" or bool(signal_seen(f, p, rasters[0], good.lut))
        elif f["kind"] == "power-up-pattern":
            d["visible"], d["share"] = True, 1.0
        else:
            one = Machine(p, screen, [f], seed=k, flash_phase=phase)
            d["share"] = seen_in([(one.field(n), one.lut) for n in range(len(rasters))], goods) if rasters else 0.0
            d["visible"] = d["share"] > 0
            others = [g for g in fl if g is not f and g["class"] != "signal"]
            if others and d["visible"]:               # two in the machine: one may hide the other
                rest = Machine(p, screen, others, seed=k, flash_phase=phase)
                both = Machine(p, screen, fl, seed=k, flash_phase=phase)
                d["visible"] = seen_in([(r, both.lut) for r in rasters],
                                       [(rest.field(n), rest.lut) for n in range(len(rasters))]) > 0
        d["rivals"] = F.rivals(f, p)
        any_seen |= d["visible"]
        listed.append(d)
    return {
        "seed": k, "display": p.name, "standard": "625/50" if p.pal else "525/60", "screen": screen.name,
        "class": fl[0]["class"] if fl else "clean", "faults": listed, "visible": any_seen,
        "fill": screen.fill, "border": int(screen.border), "background": int(screen.background) if p.text else None,
        "cursor": screen.cursor, "glyphs": screen.font_name, "fields": fields,
        "pitch_x": dev.pitch_x(), "origin_x": dev.origin_x(), "origin_y": dev.origin_y(0),
        "origin_y_fields": [dev.origin_y(0), dev.origin_y(1)], "bottom_first": dev.bottom_first,
        "machine": {"fsc": enc.fsc, "setup": enc.setup, "driver_bw": enc.driver_bw, "chroma_bw": enc.chroma_bw},
        "device": dev.describe()}


def reference(k, p, screen, args):
    """A good machine with the same screen, on another device; returns its file's name."""
    rng = np.random.default_rng([20261130, k, 1])
    enc = Encoder(p, rng)
    dev = Grabber(enc, rng)
    m = Machine(p, screen, [], seed=k + 500000, flash_phase=int(rng.integers(32)))
    flashing = not p.text and (screen.mem[6144:6912] >> 7).any()
    one = rng.random() < .3 and not flashing
    frames, _ = record(m, enc, dev, [], 2 if one else 20 if flashing else 8, rng)
    name = f"{k}-ref." + ("png" if one else "avi")
    path = os.path.join(args.out, name)
    if one:
        write.still(path, frames[0], dev.full_range)
    else:
        write.video(path, frames, "25" if p.pal else "30000/1001", "mjpeg422", int(rng.integers(2, 6)), dev.full_range)
    return name


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("start", type=int)
    ap.add_argument("n", type=int)
    ap.add_argument("out")
    ap.add_argument("--kinds", help="only these, comma between; 'clean' is one")
    ap.add_argument("--pairs", type=float, default=.25, help="share of faulty captures with a second fault")
    ap.add_argument("--reference", type=float, default=.4, help="share of captures with a reference")
    ap.add_argument("--clean", type=float, default=.2, help="share of captures with no fault")
    ap.add_argument("--display", choices=list(PROFILES))
    args = ap.parse_args()
    known = set(F.CLASS) | {"clean"}
    for kind in (args.kinds or "").split(","):
        if kind and kind not in known:
            ap.error(f"no such kind: {kind}; known: {', '.join(sorted(known))}")
    os.makedirs(args.out, exist_ok=True)
    for k in range(args.start, args.start + args.n):
        t0 = time.time()
        t = capture(k, args)
        names = "+".join(f["kind"] for f in t["faults"]) or "clean"
        print(f"{k} {t['display']} {t['screen']} {names} visible={t['visible']} {time.time() - t0:.1f}s", flush=True)


if __name__ == "__main__":
    main()
