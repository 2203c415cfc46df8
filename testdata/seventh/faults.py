"""Draws a fault: its place, its severity, and when it is at work; and other faults that give the very same picture."""
import numpy as np

import machine

RAM = ("data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead", "refresh-loss", "supply-or-all-lanes")
LOGIC = ("colour-path", "border-latch", "cell-fetch", "line-counter", "cell-snow", "shift-register", "blank-picture", "flash-dead", "character-generator")
SIGNAL = ("no-signal", "sync-weak", "noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "colour-lost", "hue-shift", "level-high",
          "level-low", "clipping", "interference")
CPU = ("power-up-pattern",)
KINDS = RAM + LOGIC + SIGNAL + CPU
STILL = set(RAM + LOGIC) - {"data-bit-weak", "refresh-loss", "supply-or-all-lanes", "cell-snow", "flash-dead", "border-latch"}
COMES_AND_GOES = ("address-line-stuck", "row-dead", "column-dead", "colour-path", "line-counter", "shift-register", "character-generator", "cell-fetch")
ALL_OR_NOTHING = ("data-bit-stuck", "refresh-loss", "border-latch", "blank-picture", "flash-dead", "no-signal", "colour-lost", "power-up-pattern")


def class_of(kind):
    return "ram-bit" if kind in RAM else "video-logic" if kind in LOGIC else "cpu-side" if kind in CPU else "signal"


def pick(rng, *values):
    return values[int(rng.integers(len(values)))]


def draw(rng, d, kind, scene, fields):
    """A fault as the machine or the path takes it."""
    weak = bool(rng.random() < .3) and kind not in ALL_OR_NOTHING
    t = {"kind": kind, "severity": "weak" if weak else "plain", "duty": 1.0}
    if kind in SIGNAL:
        t.update(path_fault(rng, d, kind, weak))
        return t
    t.update(machine_fault(rng, d, kind, scene, weak, fields))
    if kind in COMES_AND_GOES and weak:
        t["severity"], t["duty"] = "intermittent", float(rng.uniform(.15, .7))
    return t


def machine_fault(rng, d, kind, scene, weak, fields):
    attr, seed, level, bit = d.kind == "attr", int(rng.integers(1 << 30)), int(rng.integers(2)), int(rng.integers(8))
    if kind in ("data-bit-stuck", "data-bit-weak"):
        t = {"bit": bit, "level": level}
        if not attr:
            t["memory"] = pick(rng, "screen", "screen", "screen", "colour")
            t["bit"] = int(rng.integers(4)) if t["memory"] == "colour" else bit
        if kind == "data-bit-weak":
            t.update(seed=seed, how=pick(rng, "places", "cells", "times"))
            lo, hi = {"places": (.02, .3), "cells": (.01, .25), "times": (.15, .7)}[t["how"]]
            t["rate"] = float(rng.uniform(lo, lo + (hi - lo) * (.25 if weak else 1)))
        return t
    if kind == "address-line-stuck":
        k = int(rng.integers(14 if attr else 10))
        lines = [k] if rng.random() < .6 or k > 6 else [k, k + 7]  # one chip's latch, or a pin, which carries two
        return {"lines": lines, "lanes": list(range(8)) if rng.random() < .5 else [bit], "level": level}
    if kind == "row-dead":
        return {"bit": bit, "row": int(rng.integers(128)), "level": level}
    if kind == "column-dead":
        return {"bit": bit, "column": int(rng.integers(54 if attr else 8)), "level": level}
    if kind == "refresh-loss":
        lanes = list(range(8)) if rng.random() < .3 else [int(b) for b in np.sort(rng.choice(8, int(rng.integers(1, 4)), False))]
        return {"lanes": lanes, "seed": seed, "slow": float(fields * rng.uniform(1, 5)), "age": float(fields * rng.uniform(.1, .8))}
    if kind == "supply-or-all-lanes":
        return {"lanes": [int(b) for b in np.sort(rng.choice(8, int(rng.integers(6, 9)), False))], "level": level, "seed": seed,
                "rate": float(rng.uniform(.03, .1) if weak else rng.uniform(.1, .5)), "uneven": [float(x) for x in rng.uniform(.4, 1, 8)],
                "beat": float(rng.uniform(.02, .5))}
    if kind == "colour-path":
        if attr:
            return {"component": pick(rng, "green", "red", "blue"), "level": int(rng.random() < .3)}
        c = pick(rng, "cb", "cr", "cb", "cr", "luma")
        return {"component": c, "level": 0, "held": float(rng.uniform(.2, .45)) if c == "luma" else 0.0}
    if kind == "border-latch":
        others = [c for c in range(8 if attr else 16) if c != scene.border]
        return {"expected": scene.border, "seen": int(rng.choice(others))}
    if kind == "cell-fetch":
        which = pick(rng, "odd", "even", "after", "colour-shift")
        if which == "colour-shift":
            return {"columns": which, "shift": pick(rng, 1, 1, -1)}
        t = {"columns": which if which != "after" else f"after {rng.integers(4, d.columns - 4)}", "seed": seed}
        t["gives"] = pick(rng, "late", "float", "bus", "noise")
        t["flicker"] = 1.0 if t["gives"] == "bus" and rng.random() < .5 else float(rng.uniform(.3, .9))
        t["by"] = pick(rng, "cell", "line")
        return t
    if kind == "line-counter":
        return {"counter_bit": bit, "level": level}
    if kind == "cell-snow":
        return {"seed": seed, "rate": float(rng.uniform(2, 5) if weak else rng.uniform(5, 40))}
    if kind == "shift-register":
        how = pick(rng, "load", "feed", "short", "clock")
        return {"how": how, "stage": int(rng.integers(*{"load": (0, 8), "feed": (2, 7), "short": (0, 7), "clock": (0, 7)}[how])), "level": level}
    if kind == "blank-picture":
        return {"shows": pick(rng, "black", "black", "border")}
    if kind == "character-generator":
        what = pick(rng, "bit", "line", "line", "codes")
        if what == "bit":
            return {"bit": bit, "level": level}
        if what == "line":
            return {"line": int(rng.integers(11)), "level": level}
        here = np.unique(scene.mem[:1000])
        return {"codes": sorted(int(c) for c in rng.choice(here, min(len(here), int(rng.integers(1, 5))), False)), "seed": seed, "gives": pick(rng, "noise", "zeros", "ones")}
    return {}


def path_fault(rng, d, kind, weak):
    u = rng.uniform
    if kind == "no-signal":
        return {"shows": pick(rng, "blue", "black", "snow", "grey")}
    if kind == "sync-weak":
        mode = pick(rng, "roll", "tear", "jitter", "jitter")
        if mode == "roll":
            return {"mode": mode, "lines_a_field": float(u(1, 4) if weak else u(4, 30)) * pick(rng, -1, 1), "start": float(u(0, 300))}
        if mode == "tear":
            return {"mode": mode, "samples": float(u(3, 7) if weak else u(8, 40)) * pick(rng, -1, 1), "lines": float(u(6, 40)), "often": float(u(.5, 1)),
                    "places": [int(u(0, 12))] + [int(x) for x in u(30, d.field_height, int(rng.integers(0, 3)))]}
        return {"mode": mode, "samples": float(u(.35, .7) if weak else u(.8, 2.5)), "memory": float(u(.2, .85))}
    if kind == "noise":
        return {"sigma": float(u(5, 8) if weak else u(9, 24)) / 219, "colour": float(u(.6, 1.2))}
    if kind == "hum":
        mains = 50 if d.pal else 60
        return {"hz": mains * pick(rng, 1, 2) * (1 + float(u(-.001, .001))), "part": float(u(.03, .05) if weak else u(.07, .25)), "phase": float(u(0, 6.28)),
                "second": float(u(0, .3))}
    if kind == "ringing":
        return {"hz": float(u(2.2e6, 4e6)), "q": float(u(1.5, 2) if weak else u(2.3, 4.5))}
    if kind == "low-bandwidth":
        return {"hz": float(u(1.5e6, 2.0e6) if weak else u(.6e6, 1.3e6)), "poles": pick(rng, 1, 1, 2)}
    if kind == "ghost":
        return {"part": float(u(.07, .12) if weak else u(.15, .4)) * pick(rng, 1, 1, -1), "late": float(u(.35e-6, 3e-6)), "shared": float(u(0, 1))}
    if kind == "fixed-bars":
        return {"period_px": pick(rng, 2, 4, 4, 8, 8, 16), "part": float(u(.018, .03) if weak else u(.04, .12)), "phase": float(u(0, 6.28)), "second": float(u(0, .4))}
    if kind == "colour-lost":
        return {"left": pick(rng, "dots", "rest", "bare")}
    if kind == "hue-shift":
        return {"degrees": float(u(12, 18) if weak else u(22, 75)) * pick(rng, -1, 1)}
    if kind == "level-high":
        return {"gain": float(u(1.12, 1.18) if weak else u(1.25, 1.7)), "colour": float(u(.9, 1.3))}
    if kind == "level-low":
        g = float(u(.7, .78) if weak else u(.35, .65))
        return {"gain": g, "colour": pick(rng, 1.0, g)}
    if kind == "clipping":
        how = pick(rng, "white", "over", "black")
        if how == "black":
            return {"gain": 1.0, "floor": float(u(.1, .15) if weak else u(.2, .4))}
        return {"gain": 1.0 if how == "white" else float(u(1.2, 1.5)), "ceiling": float(u(.78, .84) if weak else u(.5, .75)) if how == "white" else float(u(.95, 1.05))}
    hz = d.line_hz * (int(u(30, 280)) + float(u(.12, .88))) if rng.random() < .75 else float(u(25e3, 150e3))
    return {"frequency_hz": hz, "part": float(u(.02, .03) if weak else u(.045, .14)), "phase": float(u(0, 6.28))}


def at_work(rng, t, n):
    """Fields in which a fault that a bad joint makes is at work: it changes its mind now and then."""
    if t["duty"] >= 1:
        return np.ones(n, bool)
    out, on, hold = np.zeros(n, bool), rng.random() < t["duty"], 6.0
    for i in range(n):
        out[i] = on
        if rng.random() < 1 / hold:
            on = rng.random() < t["duty"]
    if not out.any():
        out[int(rng.integers(n - 4)):][:4] = True
    if out.all():
        out[int(rng.integers(n - 4)):][:4] = False
    return out


def candidates(d, scene, t):
    """Faults that stand still, one of each sort, with which a picture may be confused."""
    lanes = [list(range(8))] + ([t["lanes"]] if "lanes" in t else [[t["bit"]]] if t["kind"] in ("row-dead", "column-dead", "data-bit-stuck") else [])
    for b in range(8):
        for v in (0, 1):
            yield {"kind": "line-counter", "counter_bit": b, "level": v}
            yield {"kind": "data-bit-stuck", "bit": b, "level": v}
            yield {"kind": "shift-register", "how": "load", "stage": b, "level": v}
            if 2 <= b < 7:
                yield {"kind": "shift-register", "how": "feed", "stage": b, "level": v}
            if b < 7:
                yield {"kind": "shift-register", "how": "short", "stage": b, "level": v}
        if b < 7:
            yield {"kind": "shift-register", "how": "clock", "stage": b, "level": 0}
    for these in lanes:
        for v in (0, 1):
            for k in range(14):
                yield {"kind": "address-line-stuck", "lines": [k], "lanes": these, "level": v}
                if k < 7:
                    yield {"kind": "address-line-stuck", "lines": [k, k + 7], "lanes": these, "level": v}
    if d.kind == "text":
        for v in (0, 1):
            for b in range(8):
                yield {"kind": "character-generator", "bit": b, "level": v}
            for k in range(11):
                yield {"kind": "character-generator", "line": k, "level": v}
            for b in range(4):
                yield {"kind": "data-bit-stuck", "memory": "colour", "bit": b, "level": v}
    for w in ("odd", "even"):
        for gives in ("late", "float", "bus"):
            yield {"kind": "cell-fetch", "columns": w, "gives": gives, "flicker": 1, "seed": 0}
    for v in (-1, 1):
        yield {"kind": "cell-fetch", "columns": "colour-shift", "shift": v}
    for what in ("black", "border"):
        yield {"kind": "blank-picture", "shows": what}
    for c in (("red", "green", "blue") if d.kind == "attr" else ("cb", "cr")):
        for v in (0, 1) if d.kind == "attr" else (0,):
            yield {"kind": "colour-path", "component": c, "level": v, "held": 0.0}


KEYS = {"data-bit-stuck": ("bit", "level", "memory"), "address-line-stuck": ("lines", "lanes", "level"), "row-dead": ("bit", "row", "level"),
        "column-dead": ("bit", "column", "level"), "line-counter": ("counter_bit", "level"), "colour-path": ("component", "level"),
        "cell-fetch": ("columns",), "character-generator": ("codes", "bit", "line", "level"), "data-bit-weak": ("bit", "level", "memory"),
        "refresh-loss": ("lanes",), "supply-or-all-lanes": ("lanes",), "border-latch": ("expected", "seen"), "fixed-bars": ("period_px",),
        "hue-shift": ("degrees",), "interference": ("frequency_hz",)}


def rivals(scene, t):
    """Other faults with the very same picture, and keys of this one that the picture leaves open."""
    d = scene.d
    if t["kind"] not in STILL:
        return [], []
    true = [machine.shown(machine.raster(scene, [t], f)) for f in (0, 16)]
    own = {k: t[k] for k in KEYS.get(t["kind"], ()) if k in t}
    if d.kind == "text" and own.get("memory") is None and t["kind"] == "data-bit-stuck":
        own["memory"] = "screen"
    out, open_keys = [], set()
    for c in candidates(d, scene, t):
        got = machine.raster(scene, [c], 0)
        if not np.array_equal(machine.shown(got), true[0]) or not np.array_equal(machine.shown(machine.raster(scene, [c], 16)), true[1]):
            continue
        said = {k: c[k] for k in KEYS.get(c["kind"], ()) if k in c}
        if c["kind"] == "data-bit-stuck" and d.kind == "text":
            said.setdefault("memory", "screen")
        if c["kind"] == t["kind"]:
            open_keys |= {k for k in own if own[k] != said.get(k)}
            continue
        r = {"class": class_of(c["kind"]), "kind": c["kind"], **said}
        if r not in out:
            out.append(r)
    return out, sorted(open_keys)
