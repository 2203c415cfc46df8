"""Makes captures of invented machines.

    gen.py FIRST COUNT OUT [--kinds a,b] [--reference SHARE] [--display NAME]

The number of a capture is its seed. Each 120 seeds hold 18 good machines, 12 pairs and the kinds in turn.
"""
import argparse
import json
import os

import numpy as np

import device
import displays
import faults
import machine
import screens
import wave
import write

BLOCK, GOOD, PAIRS = 120, 18, 12
TWICE = ["data-bit-stuck", "address-line-stuck", "noise"]  # those met most
SIGNALS = [k for k in faults.KINDS if faults.CLASS[k] == "signal" and k not in ("no-signal", "colour-lost", "hue-shift")]


def plan(seed):
    """Kinds and display of a seed."""
    block, place = divmod(seed - 1, BLOCK)
    r = np.random.default_rng((block, 606))
    single = []
    while len(single) < BLOCK - GOOD - PAIRS:
        turn = faults.KINDS + TWICE
        single += [turn[i] for i in r.permutation(len(turn))]
    logic = [k for k in faults.KINDS if faults.CLASS[k] in ("ram-bit", "video-logic") and k not in ("border-latch", "flash-dead")]
    pairs = [(logic[i], str(r.choice(["noise", "hum"] + SIGNALS))) for i in r.permutation(len(logic))[:PAIRS]]
    jobs = [()] * GOOD + pairs + [(k,) for k in single[:BLOCK - GOOD - PAIRS]]
    job = jobs[r.permutation(BLOCK)[place]]
    name = displays.NAMES[(seed + block) % 4]
    for k in job:
        if not faults.fits(k, displays.load(name)):
            name = {"text-40x25-50": "attr-256x192-50", "text-40x25-60": "attr-256x192-60", "attr-256x192-50": "text-40x25-50",
                    "attr-256x192-60": "text-40x25-60"}[name]
    return job, name


def effect(x, m, rest, fields):
    """Share of the raster's pixels that x changes, in the worst recorded field, by itself and beside the rest."""
    worst = 0.0
    for beside in ([], rest):
        best = 0.0
        for f in fields:
            a, b = machine.looks(m, beside, f), machine.looks(m, beside + [x], f)
            best = max(best, float(np.mean(np.any(np.abs(a - b) > 0.02, axis=2))))
        worst = best if not beside else min(worst, best)
    return worst


def acts(x, m, rest, f):
    """Share of the raster that a fault of the signal has something to act on."""
    light = machine.looks(m, rest, f)
    y, c = light[:, :, 0], np.hypot(light[:, :, 1], light[:, :, 2])
    kind, made = x["kind"], x["made"]
    if kind in ("hue-shift", "colour-lost"):
        return float(np.mean(c > 0.08)) / 10
    if kind in ("ringing", "low-bandwidth", "ghost"):
        return float(np.mean(np.abs(np.diff(y, axis=1)) > 0.2)) * 4
    if kind == "clipping":
        return float(np.mean((y + 0.8 * c) * 700 > made["mv"] + 60))
    if kind in ("level-high", "level-low"):
        return float(np.mean(y > 0.5))
    return 1.0


def situation(seed, kinds, d, r):
    """A machine with a screen on which its faults show, as far as can be."""
    weak = r.random() < 0.3 and bool(kinds)
    names = list(screens.SHARES)
    for attempt in range(30):
        kind = "fill" if r.random() < 1 / 12 and "flash-dead" not in kinds else str(r.choice(names, p=list(screens.SHARES.values())))
        if "power-up-pattern" in kinds:
            m, fill, kind = screens.wake(d, r, seed), None, "unwritten"
        else:
            m, fill = screens.make(d, r, kind, seed, "flash-dead" in kinds)
        found = [faults.draw(k, d, r, weak, m) for k in kinds]
        count = 12
        if "flash-dead" in kinds:
            count = 40
        elif "refresh-loss" in kinds:
            count = 24
        fields = list(range(2 * count))
        logic = [x for x in found if x["class"] in ("ram-bit", "video-logic")]
        for x in found:
            some = fields[::5] + fields[-1:] if x["made"].get("duty", 1) >= 1 and x["kind"] not in ("data-bit-weak",) else fields
            if x["kind"] == "border-latch":
                share = effect(x, m, [], fields[:1])
            elif x in logic:
                share = effect(x, m, [y for y in logic if y is not x], some)
            elif x["kind"] == "no-signal" or x["class"] == "cpu-side":
                share = 1.0
            else:
                share = acts(x, m, logic, 0)
            least = 0.0003 if x["kind"] in ("row-dead", "column-dead") else 0.002 if x in logic else 0.004
            x["share"], x["visible"] = round(share, 5), bool(share > least)
        if all(x["visible"] for x in found) or attempt == 29:
            break
    for x in found:
        if not x["visible"] and x["share"] > 0 and x["class"] != "signal":
            x["visible"] = True  # little, but there
        faults.settle(x, m, fields)
    return m, fill, kind, found, count, weak


def no_signal(shows, t, d, r, count):
    """What a device puts up by itself."""
    h, w = (576 if d.pal else 480), t["size"]
    frames = []
    for _ in range(count):
        y, u, v = (np.full((h, k), c, np.uint8) for k, c in zip((w, w // 2, w // 2), (41, 240, 110) if shows == "blue" else (16, 128, 128)))
        if shows == "snow":
            s = r.standard_normal((h, w + 2))
            y = np.clip(90 + 55 * (s[:, :-2] + s[:, 1:-1] + s[:, 2:]) / 1.7, 16, 235).astype(np.uint8)
        frames.append([y, u, v])
    return frames


def record(m, found, d, t, tol, r, count, start=0):
    """Frames of a machine on a device, and where its pixels lie."""
    made = {x["kind"]: x["made"] for x in found if x["class"] == "signal"}
    fields, held, last, dev = [], {}, None, None
    for f in range(-2, 2 * count):  # two to settle on
        out, table = machine.raster(m, found, max(f, 0) + start)
        key = out.tobytes(), table.tobytes()
        if key != last:
            if key not in held:
                if len(held) > 3:
                    held.clear()
                held[key] = wave.Signal(d, out, table, tol, found)
            last = key
        sig = held[key]
        if dev is None:
            dev = device.Device(d, sig.std, t, sig.colour, sig.step)
        y, z = dev.field(sig, f + 2, tol, found, r, made)
        if f >= 0:
            fields.append(dev.codes(y, z, r))
    per, step = sig.std.per_us / 1.5, (720 / 640 if t["size"] == 640 else 1.0) * t["scale"]
    x = (sig.left_us + d.left / d.clock * 1e6) * per - (132 if d.pal else 122) - t["x0"]
    place = {"pitch_x": (864 if d.pal else 858) / d.period / step, "origin_x": x / step - (8 if t["size"] == 704 else 0),
             "origin_y": d.top - t["y0"]}
    return write.weave(fields, t["order"]), place


def plainly(v):
    """Numbers of numpy as those of JSON."""
    return v.item() if isinstance(v, np.generic) else v.tolist() if isinstance(v, np.ndarray) else v


def capture(seed, folder, args):
    job, name = plan(seed)
    job = tuple(args.kinds[seed % len(args.kinds)].split("+")) if args.kinds else job
    job = tuple(k for k in job if k != "clean")
    name = args.display or name
    d = displays.load(name)
    job = tuple(k for k in job if faults.fits(k, d))
    r = np.random.default_rng((seed, 6))
    m, fill, screen, found, count, weak = situation(seed, job, d, r)
    key = str(seed)
    os.makedirs(folder, exist_ok=True)
    write.clear(folder, key)

    def habits():
        t = device.tastes(r, d)
        if d.pal and t["size"] == 640:
            t["size"] = 704
        return t

    t, tol = habits(), wave.tolerances(r)
    flat = any(x["kind"] == "blank-picture" and x["made"]["colour"] == m.border for x in found)
    grey = any(x["kind"] == "colour-lost" and x["made"]["how"] == "chroma" for x in found)  # might be a screen without colour
    must = flat or grey or any(k in ("border-latch", "flash-dead") for k in job)
    never = any(k in ("power-up-pattern", "no-signal") for k in job)
    reference = not never and (must or r.random() < args.reference)
    moves = [x for x in found if x["kind"] not in faults.STILL or x["made"].get("duty", 1) < 1]
    one = not moves and "noise" not in job and m.cursor is None and r.random() < 0.2
    if "no-signal" in job:
        frames, place = no_signal(found[job.index("no-signal")]["made"]["shows"], t, d, r, count), {}
    else:
        frames, place = record(m, found, d, t, tol, r, 1 if one else count)
    codec = str(r.choice(["mjpeg", "ffv1", "huffyuv"], p=[.75, .15, .1]))
    quality = int(r.integers(2, 8))
    if one:
        os.makedirs(f"{folder}/{key}", exist_ok=True)
        write.still(f"{folder}/{key}/0001.png", frames[0], t["full_range"])
        codec = "png"
    else:
        write.video(f"{folder}/{key}" + (".avi" if codec == "mjpeg" else ".mkv"), frames, d.pal, codec, quality)
    truth = {"seed": seed, "display": name, "class": found[0]["class"] if found else "clean", "screen": screen, "fill": fill, "weak": bool(weak),
             "faults": found, "reference": None, "font": None, "codec": codec, "quality": quality, "frames": len(frames), **place,
             "device": t, "machine": tol}
    if reference:
        t2, tol2 = habits(), wave.tolerances(r)
        film = "flash-dead" in job or r.random() < 0.5
        frames, _ = record(m, [], d, t2, tol2, r, (count if "flash-dead" in job else 6) if film else 1, int(r.integers(0, 40)))
        truth["reference"] = f"{key}-ref." + ("avi" if film else "png")
        if film:
            write.video(f"{folder}/{truth['reference']}", frames, d.pal, "mjpeg", int(r.integers(2, 6)))
        else:
            write.still(f"{folder}/{truth['reference']}", frames[0], t2["full_range"])
    if r.random() < (0.15 if d.attr else 0.6):
        truth["font"] = f"{key}.font"
        inverse = np.array_equal(m.glyphs[:128] ^ 255, m.glyphs[128:])
        m.glyphs[:128 if inverse and r.random() < 0.5 else 256].tofile(f"{folder}/{key}.font")
    with open(f"{folder}/{key}.json", "w") as f:
        json.dump(truth, f, indent=1, default=plainly)
    return truth


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("first", type=int)
    p.add_argument("count", type=int)
    p.add_argument("out")
    p.add_argument("--kinds", type=lambda s: s.split(","), help="instead of the plan's; 'clean' for none, 'a+b' for a pair")
    p.add_argument("--reference", type=float, default=0.37, help="share that has one, beside those that must")
    p.add_argument("--display", choices=displays.NAMES)
    args = p.parse_args()
    for seed in range(args.first, args.first + args.count):
        truth = capture(seed, args.out, args)
        print(seed, truth["display"], truth["screen"], "+".join(x["kind"] for x in truth["faults"]) or "clean", flush=True)


if __name__ == "__main__":
    main()
