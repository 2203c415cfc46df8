"""Draws faults of the catalogue (design.md section 4) with place and severity.

A fault is a dict: class, kind and the keys that section 7 names; keys that begin with '_'
are how it was made here (rates, seeds) and go into the truth file under "made"."""
import numpy as np

RAM = ("data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead",
       "refresh-loss", "supply-or-all-lanes")
VIDEO = ("colour-path", "border-latch", "cell-fetch", "line-counter", "cell-snow", "shift-register",
         "blank-picture", "flash-dead", "character-generator")
SIGNAL = ("no-signal", "sync-weak", "noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars",
          "colour-lost", "hue-shift", "level-high", "level-low", "clipping", "interference")
CLASS = {k: c for c, ks in (("ram-bit", RAM), ("video-logic", VIDEO), ("signal", SIGNAL),
                            ("cpu-side", ("power-up-pattern",))) for k in ks}
LONG = {"flash-dead", "refresh-loss", "cell-snow", "supply-or-all-lanes", "hum", "data-bit-weak"}


def kinds_for(p):
    skip = "flash-dead" if p.text else "character-generator"
    return [k for k in CLASS if k != skip]


def used_columns(p):
    """Chip columns (A7..A13) that hold some of the screen."""
    return 8 if p.text else 54


def draw(kind, rng, p, screen):
    f = {"class": CLASS[kind], "kind": kind}
    f.update(globals()["_" + CLASS[kind].split("-")[0]](kind, rng, p, screen))
    return f


def _memory(rng, p, f, share=.25):
    """On a text display some of the memory faults are in the colour memory."""
    if p.text:
        f["memory"] = "colour" if rng.random() < share else "screen"
    return f


def _bit(rng, f):
    return int(rng.integers(4 if f.get("memory") == "colour" else 8))


def _ram(kind, rng, p, screen):
    f = {}
    if kind in ("data-bit-stuck", "data-bit-weak"):
        _memory(rng, p, f)
        f["bit"], f["level"] = _bit(rng, f), int(rng.integers(2))
        if kind == "data-bit-weak":
            f["_mode"] = ("addresses", "reads", "fields")[rng.integers(3)]
            f["_rate"] = float(rng.uniform(.15, .7) if f["_mode"] == "fields" else np.exp(rng.uniform(-4.0, -.9)))
            f["_draw"] = [float(v) for v in rng.random(97).round(4)]
            f["_seed"] = int(rng.integers(1 << 30))
    elif kind == "address-line-stuck":
        _memory(rng, p, f, .15)
        f["level"] = int(rng.integers(2))
        if f.get("memory") == "colour":
            f["lines"], f["lanes"] = [int(rng.integers(10))], [0, 1, 2, 3]
        else:
            both = rng.random() < .45
            if both:                                # a pin behind the multiplexer: row and column
                k = int(rng.integers(3 if p.text and f["level"] else 7))
                f["lines"] = [k, k + 7]
            else:
                f["lines"] = [int(rng.integers(10 if p.text else 13))]
            f["lanes"] = [int(rng.integers(8))] if rng.random() < .55 else list(range(8))
        f["line"] = f["lines"][0]
    elif kind in ("row-dead", "column-dead"):
        f["bit"], f["level"] = int(rng.integers(8)), int(rng.integers(2))
        if p.text:
            f["memory"] = "screen"
        if kind == "row-dead":
            f["row"] = int(rng.integers(128))
        else:
            f["column"] = int(rng.integers(used_columns(p)))
    elif kind == "refresh-loss":
        if p.text:
            f["memory"] = "screen"
        n = int(rng.choice([1, 1, 2, 3, 8]))
        f["lanes"] = sorted(int(b) for b in rng.permutation(8)[:n])
        f.update(_seed=int(rng.integers(1 << 30)), _start=float(rng.uniform(2, 20)), _step=float(rng.uniform(.15, .9)),
                 _shuffle=bool(rng.random() < .4), _spread=float(rng.uniform(.03, .35)), _late=float(rng.uniform(0, 6)),
                 _age=float(rng.uniform(0, 25)), _cells=int(rng.choice([6, 12, 13])), _pol=int(rng.integers(2)))
    else:
        if p.text:
            f["memory"] = "screen"
        n = int(rng.integers(5, 9))
        f["lanes"] = sorted(int(b) for b in rng.permutation(8)[:n])
        f.update(_rate=float(np.exp(rng.uniform(-3.2, -.5))), _to=[int(v) for v in (
            rng.integers(0, 2, 8) if rng.random() < .5 else np.full(8, rng.integers(2)))])
    return f


def _flicker(rng, steady):
    """(share of fields that show it, draws): a steady fault shows in all."""
    share = 1.0 if rng.random() < steady else float(rng.uniform(.25, .9))
    return share, [float(v) for v in rng.random(89).round(4)]


def _video(kind, rng, p, screen):
    f = {}
    if kind == "colour-path":
        if p.text:
            f["component"] = ("luma", "cb", "cr")[rng.integers(3)]
            f["level"] = 0 if f["component"] == "luma" or rng.random() < .7 else 1
        else:
            f["component"], f["level"] = ("green", "red", "blue")[rng.integers(3)], int(rng.integers(2))
    elif kind == "border-latch":
        f["expected"] = int(screen.border)
        n = 16 if p.text else 8
        f["seen"] = int(rng.choice([c for c in range(n) if c != screen.border])) if rng.random() < .5 \
            else int(screen.border ^ 1 << rng.integers(4 if p.text else 3))
        f["_share"], f["_draw"] = _flicker(rng, .75)
    elif kind == "cell-fetch":
        f["columns"] = ("odd", "even", "after", "colour-shift")[rng.integers(4)]
        if f["columns"] == "after":
            f["columns"] = f"after {rng.integers(3, p.cols - 4)}"
        f["_shift"] = int(rng.choice([-1, 1]))
        f["_share"], f["_draw"] = _flicker(rng, .45)
        f["_rate"] = 1.0 if rng.random() < .6 else float(rng.uniform(.2, .9))
        f["_fetches"] = ("previous", "bus", "held")[rng.choice(3, p=(.5, .35, .15))]
        f["_bus"] = int(rng.choice([0xff, 0, 0xff, int(rng.integers(256))]))
    elif kind == "line-counter":
        f["counter_bit"], f["level"] = int(rng.integers(8)), int(rng.integers(2))
    elif kind == "cell-snow":
        f["_rate"] = float(np.exp(rng.uniform(-7, -3.5)) * (1.5 if p.text else 1))
        f["_whole"] = bool(rng.random() < .3)
    elif kind == "shift-register":
        f["_mode"] = ("tap", "tap", "reversed", "late", "paired", "halted")[rng.integers(6)]
        f["_tap"], f["_by"] = int(rng.integers(1, 8) if f["_mode"] == "tap" else rng.integers(2, 6)), int(rng.choice([-1, 1, 2]))
        if f["_mode"] == "tap":
            f["_tap"], f["level"] = int(rng.integers(8)), int(rng.integers(2))
    elif kind == "blank-picture":
        f["_shows"] = "border" if rng.random() < .6 else "black"
    elif kind == "character-generator":
        k = rng.integers(3)
        if k == 0:
            seen = np.unique(screen.mem[:1000])
            n = min(len(seen), int(rng.integers(1, 5)))
            f["codes"] = sorted(int(c) for c in rng.permutation(seen)[:n])
            f["_seed"] = int(rng.integers(1 << 30))
        elif k == 1:
            f["bit"], f["level"] = int(rng.integers(8)), int(rng.integers(2))
        else:
            f["line"], f["level"] = int(rng.integers(3, 11)), int(rng.integers(2))
    return f


def _signal(kind, rng, p, screen):
    f = {}
    u = rng.uniform
    if kind == "no-signal":
        f["_shows"] = ("blue", "black", "grey", "snow", "snow")[rng.integers(5)]
    elif kind == "sync-weak":
        f["_mode"] = ("roll", "tear", "jitter")[rng.integers(3)]
        f["_strength"] = float({"roll": u(.5, 12), "tear": u(6, 60), "jitter": u(.6, 4)}[f["_mode"]])
        f["_unit"] = {"roll": "lines a field", "tear": "samples", "jitter": "samples rms"}[f["_mode"]]
    elif kind == "noise":
        f["_strength"], f["_unit"] = float(np.exp(u(np.log(.035), np.log(.16)))), "rms of white"
        f["_colour"] = float(rng.choice([0, 0, 1.0]))           # 1: rises with frequency
    elif kind == "hum":
        f["_strength"], f["_unit"] = float(u(.03, .16)), "p-p of white"
        f["_hz"] = (50 if p.pal else 60) * int(rng.integers(1, 3))
        f["_gain_share"] = float(u(.3, .7))
    elif kind == "ringing":
        f["_strength"], f["_unit"] = float(u(.7, 3.0)), "resonance, gain over 1"
        f["_hz"], f["_q"] = float(u(1.8e6, 3.9e6 if p.pal else 3.1e6)), float(u(2.5, 6))
    elif kind == "low-bandwidth":
        f["_hz"], f["_poles"] = float(u(.6e6, 1.8e6)), int(rng.integers(1, 3))
        f["_strength"], f["_unit"] = f["_hz"], "Hz at -3 dB, each pole"
    elif kind == "ghost":
        f["_strength"], f["_unit"] = float(u(.12, .4) * rng.choice([1, 1, -1])), "of the signal"
        f["_delay"] = float(u(.35e-6, 3e-6))
    elif kind == "fixed-bars":
        f["period_px"] = int(rng.choice([2, 4, 8, 16]))
        f["_strength"], f["_unit"], f["_shape"] = float(u(.025, .12)), "p-p of white", ("sine", "square")[rng.integers(2)]
        f["_phase"] = float(u(0, 1))
    elif kind == "colour-lost":
        f["_mode"] = ("no burst", "no chroma", "subcarrier off")[rng.integers(3)]
        f["_strength"], f["_unit"] = 1.0, "all of the colour"
    elif kind == "hue-shift":
        f["degrees"] = float(round(u(18, 50) * rng.choice([-1, 1]), 1))
        f["_strength"], f["_unit"] = abs(f["degrees"]), "degrees"
    elif kind == "level-high":
        f["_strength"], f["_unit"] = float(u(1.25, 1.9)), "picture to sync, over the standard's"
    elif kind == "level-low":
        f["_strength"], f["_unit"] = float(u(.35, .75)), "picture to sync, over the standard's"
    elif kind == "clipping":
        f["_strength"], f["_unit"] = float(u(.45, .8)), "of white, where it limits"
    elif kind == "interference":
        hz = u(.15e6, 5e6) if rng.random() < .5 else float(rng.choice([5.5e6 if p.pal else 4.5e6, 4.5e6, 50e3, 1.57e6]))
        f["frequency_hz"] = float(hz * (1 + u(-2e-3, 2e-3)))
        f["_strength"], f["_unit"] = float(u(.04, .2)), "p-p of white"
    return f


def _cpu(kind, rng, p, screen):
    return {}


def rivals(f, p):
    """Other faults that give the very same picture, whatever the screen."""
    out = []
    if f["kind"] == "character-generator" and f.get("line") is not None:
        out.append({"kind": "data-bit-stuck", "bit": f["line"] - 3, "level": f["level"], "memory": "screen"})
    if p.text and f["kind"] == "data-bit-stuck" and f.get("memory") == "screen":
        out.append({"kind": "character-generator", "line": f["bit"] + 3, "level": f["level"]})
    if not p.text and f["kind"] == "line-counter" and f["counter_bit"] in (2, 3, 4, 5):
        k = {2: 10, 3: 5, 4: 6, 5: 7}[f["counter_bit"]]
        out.append({"kind": "address-line-stuck", "lines": [k], "level": f["level"], "lanes": list(range(8))})
    if not p.text and f["kind"] == "address-line-stuck" and len(f["lanes"]) == 8 and f["lines"][0] in (5, 6, 7, 10) \
            and len(f["lines"]) == 1:
        out.append({"kind": "line-counter", "counter_bit": {10: 2, 5: 3, 6: 4, 7: 5}[f["lines"][0]], "level": f["level"]})
    return out
