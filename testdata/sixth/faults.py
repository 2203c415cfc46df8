"""Draws a fault of a kind: its place, its strength, plain or weak. Which others give the very same picture is found by drawing them."""
import numpy as np

import machine

CLASS = {}
for _class, _kinds in (
        ("ram-bit", "data-bit-stuck data-bit-weak address-line-stuck row-dead column-dead refresh-loss supply-or-all-lanes"),
        ("video-logic", "colour-path border-latch cell-fetch line-counter cell-snow shift-register blank-picture flash-dead character-generator"),
        ("signal", "no-signal sync-weak noise hum ringing low-bandwidth ghost fixed-bars colour-lost hue-shift level-high level-low "
                   "clipping interference"),
        ("cpu-side", "power-up-pattern")):
    CLASS.update({k: _class for k in _kinds.split()})
KINDS = list(CLASS)
STILL = ("data-bit-stuck address-line-stuck row-dead column-dead colour-path border-latch line-counter shift-register blank-picture "
         "character-generator low-bandwidth ringing ghost fixed-bars colour-lost hue-shift level-high level-low clipping power-up-pattern").split()
JOINT = ("data-bit-stuck address-line-stuck colour-path shift-register line-counter blank-picture")  # what a bad joint can make


def fits(kind, d):
    """Whether a kind makes sense on a display."""
    return kind != "flash-dead" if not d.attr else kind != "character-generator"


def draw(kind, d, r, weak, m):
    """A fault of a kind on machine m, as a dict."""
    x = {"class": CLASS[kind], "kind": kind, "made": {"weak": bool(weak)}}
    logic(x, kind, d, r, weak, m) if CLASS[kind] != "signal" else path(x, kind, d, r, weak)
    if weak and kind in JOINT and r.random() < 0.5:
        x["made"].update(duty=float(r.uniform(0.3, 0.7)), hold=int(r.choice([1, 2, 4])))
    return x


def logic(x, kind, d, r, weak, m):
    made, level = x["made"], int(r.integers(0, 2))
    if kind in ("data-bit-stuck", "data-bit-weak", "row-dead", "column-dead", "address-line-stuck"):
        made["level"] = level
        lanes = 8
        if not d.attr and kind in ("data-bit-stuck", "data-bit-weak", "row-dead") and r.random() < 0.3:
            x["memory"], lanes = "colour", 4
        elif not d.attr:
            x["memory"] = "screen"
        if kind != "address-line-stuck":
            x["bit"] = int(r.integers(0, lanes))
    if kind == "data-bit-stuck":
        x["level"] = level
    elif kind == "data-bit-weak":
        cells, rate = [(r.uniform(0.3, 0.8), 1.0), (1.0, r.uniform(0.3, 0.7)), (r.uniform(0.4, 0.9), r.uniform(0.4, 0.9))][int(r.integers(0, 3))]
        cut = r.uniform(0.15, 0.4) if weak else 1.0
        made.update(cells=float(cells * cut if cells < 1 else cells), rate=float(rate * cut if rate < 1 else rate))
    elif kind == "row-dead":
        x["row"] = int(r.integers(0, 128))
    elif kind == "column-dead":
        x["column"] = int(r.integers(0, 54 if d.attr else 8))
    elif kind == "address-line-stuck":
        x["level"] = level
        k = int(r.integers(0, 13 if d.attr else 10))
        made["fold"] = [k]
        if r.random() < 0.4:  # a pin behind the multiplexer folds two
            made["fold"] = [k % 7, k % 7 + 7]
        x["lines"], x["line"] = made["fold"], made["fold"][0]
        x["lanes"] = list(range(8)) if r.random() < 0.5 else [int(r.integers(0, 8))]
    elif kind == "refresh-loss":
        n = 8 if r.random() < 0.4 else int(r.integers(1, 3))
        x["lanes"] = sorted(int(b) for b in r.choice(8, n, replace=False))
        made.update(half=float(r.uniform(15, 35) * (2.0 if weak else 1)), spread=float(r.uniform(0.5, 0.9)), since=int(r.integers(0, 6)))
    elif kind == "supply-or-all-lanes":
        n = int(r.integers(6, 9))
        x["lanes"] = sorted(int(b) for b in r.choice(8, n, replace=False))
        made.update(rate=float(r.uniform(0.04, 0.1) if weak else r.uniform(0.12, 0.5)), lean=float(r.uniform(0.2, 0.8)))
    elif kind == "colour-path":
        if d.attr:
            x["component"], x["level"] = str(r.choice(["green", "red", "blue"])), int(r.random() < 0.35)
        else:
            x["component"], x["level"] = str(r.choice(["luma", "cb", "cr"], p=[.2, .4, .4])), 0
            made["value"] = 0.0
            if x["component"] == "luma" and r.random() < 0.5:
                x["level"], made["value"] = 1, 0.6
    elif kind == "border-latch":
        x["expected"] = int(m.border)
        x["seen"] = int(r.choice([k for k in range(8 if d.attr else 16) if k != m.border]))
    elif kind == "cell-fetch":
        n = int(r.integers(3, d.cols - 6))
        x["columns"] = str(r.choice(["odd", "even", f"after {n}", "colour-shift"]))
        made.update(how=str(r.choice(["held", "idle"])), idle=int(r.choice([255, 255, 0])), rate=1.0 if r.random() < 0.5 else float(r.uniform(0.5, 0.95)),
                    by=int(r.choice([-1, 1])))
        if weak:
            made["rate"] = float(r.uniform(0.1, 0.4))
    elif kind == "line-counter":
        x["counter_bit"], made["level"] = int(r.integers(0, 8)), level
    elif kind == "cell-snow":
        made["rate"] = float(r.uniform(0.003, 0.01) if weak else r.uniform(0.015, 0.08))
    elif kind == "shift-register":
        made.update(how=str(r.choice(["stage", "late", "half-clock", "reversed"], p=[.5, .2, .2, .1])), stage=int(r.integers(1, 7)), level=level)
    elif kind == "blank-picture":
        made["colour"] = int(m.border if r.random() < 0.2 else 0)
    elif kind == "character-generator":
        made["how"] = str(r.choice(["codes", "bit", "line"], p=[.3, .4, .3]))
        made["level"] = level
        if made["how"] == "codes":
            used = np.unique(m.mem[:1000])
            x["codes"] = sorted(int(k) for k in r.choice(used, min(len(used), 2 if weak else int(r.integers(3, 10))), replace=False))
            made["flips"] = [int(v) for v in r.integers(1, 256, 8)]
        elif made["how"] == "bit":
            x["bit"], x["level"] = int(r.integers(0, 8)), level
        else:
            x["line"], x["level"] = int(r.integers(3, 11)), level


def path(x, kind, d, r, weak):
    """Faults of the output, in the terms of wave.py and device.py."""
    made = x["made"]

    def between(a, b, c, e):
        return float(r.uniform(a, b) if weak else r.uniform(c, e))

    if kind == "no-signal":
        made["shows"] = str(r.choice(["blue", "black", "snow"]))
    elif kind == "sync-weak":
        how = str(r.choice(["jitter", "tear", "roll"]))
        made["height"] = between(0.4, 0.6, 0.2, 0.4)
        made["jitter"] = between(0.6, 1.2, 1.5, 4) if how == "jitter" else 0.05
        if how == "tear":
            made["tear"] = between(8, 20, 25, 80)
        if how == "roll":
            made["roll"] = float(r.choice([-1, 1]) * between(0.5, 2, 3, 25))
    elif kind == "noise":
        made.update(mv=between(14, 24, 28, 75), soft=bool(r.random() < 0.4))
    elif kind == "hum":
        mains = 50.0 if d.pal else 60.0
        hz = mains * (2 if r.random() < 0.35 else 1)
        part = between(0.025, 0.05, 0.06, 0.15)  # peak, of white
        gain = float(r.uniform(0, 0.6) * part)
        made.update(hz=hz, mv=(part - gain) * 700, gain=gain, shape=str(r.choice(["sine", "rectified"])), phase=float(r.uniform(0, 6.28)), clamp=0.004)
    elif kind == "ringing":
        made.update(hz=between(2.2e6, 3.2e6, 1.6e6, 2.8e6), damping=between(0.25, 0.33, 0.09, 0.22))
    elif kind == "low-bandwidth":
        where = str(r.choice(["all", "luma"]))  # behind or ahead of where colour is added; behind, burst must get through
        least = 0.6e6 if where == "luma" else 1.4e6 if d.pal else 1.15e6
        made.update(hz=between(1.8e6, 2.4e6, least, 1.7e6), where=where, poles=int(r.integers(1, 3)) if where == "luma" else 1)
    elif kind == "ghost":
        made.update(us=float(r.uniform(0.4, 3.5)), part=float(between(0.07, 0.12, 0.15, 0.35) * r.choice([1, 1, -1])))
    elif kind == "fixed-bars":
        x["period_px"] = float(r.choice([4, 8, 8, 16, 3, 6, 12]))
        made.update(period=x["period_px"], phase=float(r.uniform(0, 1)), square=bool(r.random() < 0.3), mv=between(10, 18, 22, 60))
    elif kind == "colour-lost":
        made.update(how=str(r.choice(["burst", "chroma"])), burst=float(r.uniform(0, 0.12)))
    elif kind == "hue-shift":
        x["degrees"] = float(r.choice([-1, 1]) * between(14, 22, 25, 80))
        made["degrees"] = x["degrees"]
    elif kind == "level-high":
        made["gain"] = between(1.18, 1.28, 1.35, 1.8)
    elif kind == "level-low":
        made["gain"] = between(0.66, 0.76, 0.3, 0.6)
    elif kind == "clipping":
        made.update(mv=between(520, 600, 300, 480), slope=float(r.uniform(0, 0.12)))
    elif kind == "interference":
        x["frequency_hz"] = float(r.uniform(0.3e6, 3.2e6) if r.random() < 0.85 else r.uniform(20e3, 250e3))
        made.update(hz=x["frequency_hz"], mv=between(12, 20, 25, 70), phase=float(r.uniform(0, 6.28)))


def others(x, m, d):
    """Faults that might give the same picture as x, of its own kind first."""
    def fault(kind, made, **keys):
        return {"class": CLASS[kind], "kind": kind, "made": made, **keys}

    out, lanes = [fault("flash-dead", {})] if d.attr else [], range(8)
    for level in (0, 1):
        out += [fault("data-bit-stuck", {"level": level}, bit=b, level=level, memory="screen") for b in lanes]
        if not d.attr:
            out += [fault("data-bit-stuck", {"level": level}, bit=b, level=level, memory="colour") for b in range(4)]
            out += [fault("character-generator", {"level": level, "how": "bit"}, bit=b, level=level) for b in lanes]
            out += [fault("character-generator", {"level": level, "how": "line"}, line=b, level=level) for b in range(3, 11)]
        else:
            out += [fault("colour-path", {}, component=c, level=level) for c in ("green", "red", "blue")]
        out += [fault("line-counter", {"level": level}, counter_bit=b) for b in range(8)]
        some = [list(lanes)] + ([x["lanes"]] if x["kind"] == "address-line-stuck" and len(x["lanes"]) == 1 else [])
        for ll in some:
            for k in range(14 if d.attr else 10):
                for fold in [[k]] + ([[k, k + 7]] if k < 7 else []):
                    out.append(fault("address-line-stuck", {"level": level, "fold": fold}, lines=fold, line=k, level=level, lanes=ll))
        out += [fault("cell-fetch", {"how": "held", "rate": 1.0}, columns=c) for c in ("odd", "even") if level == 0]
        out += [fault("shift-register", {"how": "stage", "stage": s, "level": level}) for s in range(1, 8)]
        if x["kind"] in ("row-dead", "column-dead"):
            key, n = ("row", 128) if x["kind"] == "row-dead" else ("column", 54)
            out += [fault(x["kind"], {"level": level}, bit=x["bit"], memory=x.get("memory", "screen"), **{key: k}) for k in range(n)]
    return out


def settle(x, m, fields):
    """Writes rivals into x, and null for keys that the picture does not fix. Only for faults that stand still."""
    still = x["kind"] in (*STILL, "flash-dead") and x["kind"] != "border-latch" or x["kind"] == "cell-fetch" and x["made"]["rate"] >= 1
    if x["class"] in ("signal", "cpu-side") or x["made"].get("duty", 1) < 1 or not still:
        return
    seen = [(f, machine.looks(m, [x], f)) for f in {fields[0], fields[len(fields) // 2], fields[-1]}]
    twins = [o for o in others(x, m, m.d) if all(np.array_equal(machine.looks(m, [o], f), s) for f, s in seen)]
    rivals, keys = [], ("bit", "level", "lines", "line", "row", "column", "component", "counter_bit", "columns")
    for o in twins:
        if o["kind"] == x["kind"]:
            for k in keys:
                if k in x and x[k] is not None and o.get(k) != x[k]:
                    x["made"]["true_" + k], x[k] = x[k], None
        elif o["kind"] not in [q["kind"] for q in rivals]:
            rivals.append({k: v for k, v in o.items() if k != "made"})
    x["rivals"] = rivals
